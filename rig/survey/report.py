"""What a survey found, read from its events alone: for the screen, for programs and for an order that copies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from rig.events import (
    ContactDue,
    ContactEnded,
    EdgeMeasured,
    Stamped,
    SupplyMeasured,
    UnitJudged,
    UnitRecognised,
    UnitStarted,
    Verdict,
)
from rig.survey.bounds import Bounds
from sequences.sensor_type import SensorType
from sequences.words import SetPoint
from wiring.terms import DetectionMode, OutputFunction, OutputType

_POINTS: dict[DetectionMode, dict[SetPoint, str]] = {
    DetectionMode.FULL_RANGE: {},
    DetectionMode.SINGLE_POINT: {SetPoint.ONLY: "outer"},
    DetectionMode.WINDOW: {SetPoint.NEAR: "inner", SetPoint.FAR: "outer"},
}


@dataclass(frozen=True, slots=True)
class Found:
    """A setting that was recognised beyond doubt, with the measured edge of each set point, nearest first."""

    mode: DetectionMode
    output_function: OutputFunction
    output_type: OutputType
    points: dict[SetPoint, EdgeMeasured]


@dataclass(slots=True)
class SurveyReport:
    """One surveyed unit.

    Attributes:
        verdict: None while it is in work.
        contacts: what its teach wire had to bear: none, or something is very wrong.
        recognised: None if it never came so far.

    """

    serial: str = ""
    verdict: Verdict | None = None
    reason: str = ""
    words: str = ""
    utc: str = ""
    seconds_on_bench: float = 0.0
    current_a: float | None = None
    contacts: int = 0
    recognised: UnitRecognised | None = None
    edges: dict[str, EdgeMeasured] = field(default_factory=dict)
    _started_s: float = 0.0

    @classmethod
    def of(cls, events: Iterable[Stamped]) -> Self:
        """Fold the events of one survey."""
        report = cls()
        for stamped in events:
            report.add(stamped)
        return report

    def add(self, stamped: Stamped) -> None:
        """Take one event in."""
        match stamped.event:
            case UnitStarted():
                self.serial, self._started_s = stamped.serial, stamped.at_s
            case ContactDue() | ContactEnded():
                self.contacts += 1
            case SupplyMeasured(current_a=current_a):
                self.current_a = current_a
            case EdgeMeasured() as measured:
                self.edges[measured.edge] = measured
            case UnitRecognised() as recognised:
                self.recognised = recognised
            case UnitJudged() as judged:
                self.verdict, self.reason, self.words = judged.verdict, judged.reason, judged.words
                self.utc, self.seconds_on_bench = stamped.utc, round(stamped.at_s - self._started_s, 3)

    @property
    def found(self) -> Found | None:
        """The setting; None if it is in any doubt."""
        one = self.recognised
        if one is None or self.verdict is not Verdict.GOOD:
            return None
        mode = DetectionMode(one.mode)
        points = {point: self.edges[edge] for point, edge in _POINTS[mode].items()}
        return Found(mode, OutputFunction(one.output_function), OutputType(one.output_type), points)

    def cautions(self, sensor_type: SensorType, bounds: Bounds) -> Iterator[str]:
        """What a person should know of the unit, though it leaves no doubt of its setting."""
        sensing = sensor_type.sensing
        if self.found is not None and self.found.mode is DetectionMode.FULL_RANGE:
            yield (
                f"a single point set beyond {bounds.range_near_mm:.1f} mm, at the very end of the range, looks the "
                "same and works the same"
            )
        for edge, measured in self.edges.items():
            largest_mm = sensing.hysteresis_largest_mm(measured.operate_mm)
            if measured.travel_mm - measured.travel_u_mm > largest_mm:
                yield (
                    f"differential travel at the {edge} edge is {measured.travel_mm:.1f} mm, that of its type at "
                    f"most {largest_mm:.1f} mm: no model for others"
                )
        if self.current_a is None:
            yield "supply current not measured: this bench cannot"

    def as_dict(self) -> dict[str, Any]:
        """The report for JSON."""
        hidden = ("_started_s", "recognised", "edges")
        plain = {key: value for key, value in asdict(self).items() if key not in hidden}
        recognised = None if self.recognised is None else asdict(self.recognised)
        return {**plain, "setting": recognised, "edges": [asdict(edge) for edge in self.edges.values()]}
