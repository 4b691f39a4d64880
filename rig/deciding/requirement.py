"""What is required of one unit: a figure of it, and the limits between which it has to lie."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from rig.edges.edge import Edge
from rig.statistics.conformity import Interval
from sequences.datasheet import Sensing
from sequences.order import Setting
from sequences.sensor_type import SensorType
from sequences.words import SetPoint

RANGE_END_SHARE = 0.95
"""Share of the range at which a full-range unit must still detect the standard target."""


class Figure(StrEnum):
    """What is measured or read of a unit, in the terms of IEC 60947-5-2 where it has one."""

    OPERATE = "operate point"
    RELEASE = "release point"
    TRAVEL = "differential travel"
    REPEAT = "repeat accuracy"
    RESPONSE_ON = "response time on"
    RESPONSE_OFF = "response time off"
    OUTPUT = "output function"
    ENDS = "output near the ends of the range"
    CURRENT = "supply current"
    AVAILABILITY = "time delay before availability"
    VOLTAGE_DROP = "voltage drop of the output"


@dataclass(frozen=True, slots=True)
class Requirement:
    """A figure and its limits in `unit`; None: no limit on that side.

    `edge` names the end of the zone that the figure belongs to; None for a figure of the whole unit. A requirement
    without limits is met by reading the output right. Raises ValueError for limits that fall.
    """

    figure: Figure
    edge: Edge | None = None
    low: float | None = None
    high: float | None = None
    unit: str = "mm"

    def __post_init__(self) -> None:
        _ = self.limits

    @property
    def name(self) -> str:
        """What a record calls it, such as `operate point, outer`."""
        return str(self.figure) if self.edge is None else f"{self.figure}, {self.edge}"

    @property
    def limits(self) -> Interval:
        """The limits as an interval."""
        return Interval.of(self.low, self.high)


def requirements_of(
    setting: Setting, sensor_type: SensorType, bench: Sensing, *, scale: float = 1.0
) -> tuple[Requirement, ...]:
    """Everything that an order and the data sheet require of a unit that can be measured on a bench.

    A bench need not be able to tell all of it: a plan says which it judges.

    Args:
        setting: a whole setting; its distances hold at the machine.
        sensor_type: the data sheet.
        bench: the sensing part of the data sheet as the air of the bench leaves it.
        scale: bench distance over machine distance.

    """
    points_mm = {point: at_mm * scale for point, at_mm in setting.set_points_mm.items()}
    tolerance_mm = (setting.tolerance_mm or 0.0) * scale
    return (
        Requirement(Figure.OUTPUT, unit=""),
        *_outer(points_mm, tolerance_mm, bench),
        *_inner(points_mm, tolerance_mm, bench),
        *_of_the_unit(sensor_type),
    )


def _outer(points_mm: dict[SetPoint, float], tolerance_mm: float, bench: Sensing) -> Iterator[Requirement]:
    at_mm = points_mm.get(SetPoint.ONLY, points_mm.get(SetPoint.FAR))
    if at_mm is None:
        # What is beyond the range of the data sheet is given for nothing.
        yield Requirement(Figure.OPERATE, Edge.OUTER, low=RANGE_END_SHARE * bench.range_mm)
        yield from _of_edge(Edge.OUTER, bench.range_mm, bench)
        return
    yield Requirement(Figure.OPERATE, Edge.OUTER, at_mm - tolerance_mm, at_mm + tolerance_mm)
    last_mm = at_mm + tolerance_mm
    yield Requirement(Figure.RELEASE, Edge.OUTER, high=last_mm + bench.hysteresis_largest_mm(last_mm))
    yield from _of_edge(Edge.OUTER, at_mm, bench)


def _inner(points_mm: dict[SetPoint, float], tolerance_mm: float, bench: Sensing) -> Iterator[Requirement]:
    at_mm = points_mm.get(SetPoint.NEAR)
    if at_mm is None:
        yield Requirement(Figure.OPERATE, Edge.BLIND, high=blind_end_mm(bench))
        return
    yield Requirement(Figure.OPERATE, Edge.INNER, at_mm - tolerance_mm, at_mm + tolerance_mm)
    first_mm = at_mm - tolerance_mm
    yield Requirement(Figure.RELEASE, Edge.INNER, low=first_mm - bench.hysteresis_largest_mm(first_mm))
    yield from _of_edge(Edge.INNER, at_mm, bench)


def blind_end_mm(bench: Sensing) -> float:
    """Where a unit must detect at the latest, seen from its face: the blind zone's end is not sharp.

    By one usual differential travel beyond the end that the data sheet states (our choice).
    """
    return bench.blind_zone_mm + bench.hysteresis_mm(bench.blind_zone_mm)


def _of_edge(edge: Edge, at_mm: float, bench: Sensing) -> Iterator[Requirement]:
    yield Requirement(Figure.TRAVEL, edge, high=bench.hysteresis_largest_mm(at_mm))
    # Half a usual differential travel is no fault in any unit, however small the share of a short distance.
    largest_mm = max(bench.repeat_accuracy_percent / 100 * at_mm, bench.hysteresis_mm(at_mm) / 2)
    yield Requirement(Figure.REPEAT, edge, high=largest_mm)


def _of_the_unit(sensor_type: SensorType) -> Iterator[Requirement]:
    timing, supply = sensor_type.timing, sensor_type.supply
    yield Requirement(Figure.RESPONSE_ON, Edge.OUTER, high=timing.response_on_s, unit="s")
    yield Requirement(Figure.RESPONSE_OFF, Edge.OUTER, high=timing.response_off_s, unit="s")
    yield Requirement(
        Figure.CURRENT, low=supply.no_load_current_min_a, high=supply.no_load_current_max_a, unit="A"
    )
    yield Requirement(Figure.AVAILABILITY, high=timing.availability_delay_s, unit="s")
