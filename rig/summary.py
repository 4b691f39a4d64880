"""What became of each unit, read from the events alone: for the table, for programs, for later papers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any

from rig.events import (
    CheckDone,
    ContactEnded,
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    FigureMeasured,
    OrderStarted,
    RequirementJudged,
    Stamped,
    StepStarted,
    SupplyMeasured,
    UnitJudged,
    UnitStarted,
    Verdict,
)


@dataclass(frozen=True, slots=True)
class ContactSummary:
    """One contact of the teach wire."""

    rail: str
    length_s: float
    answer: str


@dataclass(frozen=True, slots=True)
class CheckSummary:
    """One reading; `read_on` None: the output did not keep still."""

    requirement: str
    position_mm: float | None
    expected_on: bool
    read_on: bool | None


@dataclass(slots=True)
class EdgeSummary:
    """One edge, with the uncertainty asked for and how long it took; `found` None while it is measured, or if not.

    `methods` are those by which it was begun, one after the other.
    """

    edge: str
    wanted_mm: float
    methods: list[str] = field(default_factory=list)
    seconds: float = 0.0
    found: EdgeMeasured | None = None
    trouble: str = ""
    _begun_s: float = 0.0

    def as_dict(self) -> dict[str, Any]:
        """The summary for JSON."""
        told = {key: value for key, value in asdict(self).items() if key not in ("found", "_begun_s")}
        return told | ({} if self.found is None else asdict(self.found))


@dataclass(slots=True)
class UnitSummary:
    """One unit; `verdict` None while it is in work.

    Edges, figures and requirements are there where units are measured.
    """

    order: str
    serial: str
    sensor_type: str
    verdict: Verdict | None = None
    reason: str = ""
    words: str = ""
    current_a: float | None = None
    seconds_on_bench: float = 0.0
    contacts: list[ContactSummary] = field(default_factory=list)
    checks: list[CheckSummary] = field(default_factory=list)
    edges: dict[str, EdgeSummary] = field(default_factory=dict)
    figures: list[FigureMeasured] = field(default_factory=list)
    requirements: list[RequirementJudged] = field(default_factory=list)
    step: str = ""
    _started_s: float = 0.0

    def requirement(self, name: str) -> RequirementJudged | None:
        """What was judged of a requirement by its name; None: nothing."""
        return next((one for one in self.requirements if one.requirement == name), None)

    def as_dict(self) -> dict[str, Any]:
        """The summary for JSON."""
        told = {key: value for key, value in asdict(self).items() if key not in ("step", "_started_s")}
        return told | {"edges": [edge.as_dict() for edge in self.edges.values()]}


class Summary:
    """Folds events into units; feed it every event of a run in order."""

    def __init__(self) -> None:
        self.units: dict[tuple[str, str], UnitSummary] = {}
        self.simulated = False
        self._sensor_type = ""

    @classmethod
    def of(cls, account: Iterable[Stamped]) -> Summary:
        """All of an account."""
        summary = cls()
        for one in account:
            summary.add(one)
        return summary

    def add(self, stamped: Stamped) -> UnitSummary | None:
        """Take one event in; returns the unit in the nest that it belongs to, if any."""
        if isinstance(stamped.event, OrderStarted):
            self.simulated = stamped.event.simulated
            self._sensor_type = stamped.event.sensor_type
        key = (stamped.order, stamped.serial)
        # A unit that is set again starts with a clean sheet: its old verdict says nothing any more.
        if isinstance(stamped.event, UnitStarted):
            self.units[key] = UnitSummary(*key, self._sensor_type, _started_s=stamped.at_s)
        if key not in self.units:
            return None
        _take_in(self.units[key], stamped)
        return self.units[key]


def _take_in(unit: UnitSummary, stamped: Stamped) -> None:
    match stamped.event:
        case UnitStarted():
            unit.step = "inspection"
        case SupplyMeasured(current_a=current_a):
            unit.current_a = current_a
        case StepStarted(text=text):
            unit.step = text
        case ContactEnded(rail=rail, length_s=length_s, answer=answer):
            unit.contacts.append(ContactSummary(str(rail), length_s, answer))
        case CheckDone() as done:
            unit.step = done.requirement
            unit.checks.append(
                CheckSummary(done.requirement, done.position_mm, done.expected_on, done.read_on)
            )
        case UnitJudged() as judged:
            unit.verdict, unit.reason, unit.words = judged.verdict, judged.reason, judged.words
            unit.seconds_on_bench = round(stamped.at_s - unit._started_s, 3)
        case _:
            _take_in_measured(unit, stamped)


def _take_in_measured(unit: UnitSummary, stamped: Stamped) -> None:
    match stamped.event:
        case EdgeBegun(edge=edge, method=method, wanted_mm=wanted_mm):
            unit.step = f"measuring the {edge} edge"
            known = unit.edges.setdefault(edge, EdgeSummary(edge, wanted_mm))
            known.wanted_mm, known._begun_s = wanted_mm, stamped.at_s
            known.methods.append(method)
        case EdgeMeasured(edge=edge) as found:
            _end_edge(unit, edge, stamped.at_s).found = found
        case EdgeNotMeasured(edge=edge, words=words):
            _end_edge(unit, edge, stamped.at_s).trouble = words
        case FigureMeasured() as figure:
            unit.figures.append(figure)
        case RequirementJudged() as one:
            unit.requirements.append(one)


def _end_edge(unit: UnitSummary, name: str, at_s: float) -> EdgeSummary:
    edge = unit.edges[name]
    edge.seconds = round(edge.seconds + at_s - edge._begun_s, 3)
    return edge
