"""Charts over production: how far set points lie from where they were ordered, by order, type, nest or person."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, and_, or_, select

from rig.control.capability import Capability, capability_of
from rig.control.chart import ControlChart, Watching, chart_of
from rig.events import FigureMeasured, UnitStarted, event_from
from rig.events.unit import DEVIATION
from rig.finding.conditions import conditions, entry_of_attempt
from rig.finding.dialects import contains
from rig.finding.wanted import Wanted
from rig.store.schema import attempt, content, entry, shop_order

_AT_ONCE = 5000


class Each(StrEnum):
    """What gets a chart of its own."""

    ORDER = "order"
    TYPE = "type"
    NEST = "nest"
    PERSON = "person"


@dataclass(frozen=True, slots=True)
class Point:
    """The deviation of one set point of one unit at the machine, in mm; `tolerance_mm` None: not in the record."""

    serial: str
    order: str
    sensor_type: str
    nest: str
    person: str
    utc: str
    edge: str
    value_mm: float
    expanded_mm: float | None
    tolerance_mm: float | None
    verdict: str
    simulated: bool

    def group(self, each: Each | None) -> str:
        """The chart that it belongs to."""
        if each is None:
            return ""
        named = {
            Each.ORDER: self.order,
            Each.TYPE: self.sensor_type,
            Each.NEST: f"nest {self.nest}" if self.nest else "nest not known",
            Each.PERSON: self.person or "nobody signed in",
        }
        return named[each]


@dataclass(frozen=True, slots=True)
class Studied:
    """One chart over production.

    Attributes:
        values: what is charted, in `unit`: mm, or shares of the tolerance where points have several.
        capability: None where there is too little to tell, or no tolerance.

    """

    group: str
    edge: str
    points: tuple[Point, ...]
    unit: str
    chart: ControlChart
    capability: Capability | None

    @property
    def title(self) -> str:
        """Whose chart it is."""
        return f"{self.group}, {self.edge} edge" if self.group else f"{self.edge} edge"

    @property
    def values(self) -> tuple[float, ...]:
        """What is charted."""
        return self.chart.values


def deviations(connection: Connection, wanted: Wanted) -> list[Point]:
    """The deviations of the wanted units, in the order in which they were worked on.

    Raises:
        ValueError: for an entry of another version.

    """
    tolerance_of = cache(lambda sha256: _tolerance(connection, sha256))
    points: list[Point] = []
    nest, benches = "", set()
    for row in connection.execute(_question(wanted)).mappings().all():
        benches.add(row["bench"])
        event = event_from(row["kind"], json.loads(row["body"]))
        if isinstance(event, UnitStarted):
            nest = event.nest
        elif isinstance(event, FigureMeasured) and event.value is not None:
            points.append(_point(row, event, event.value, nest, tolerance_of(row["order_sha256"])))
    # Numbers of an account rise with time; those of several benches only meet in the time of day.
    return points if len(benches) < 2 else sorted(points, key=lambda one: one.utc)


def _question(wanted: Wanted) -> Select[Any]:
    told = and_(entry.c.kind == FigureMeasured.kind, contains(entry.c.body, f'"{DEVIATION}, '))
    return (
        select(
            attempt.c.bench,
            attempt.c.serial,
            attempt.c.order_number,
            attempt.c.sensor_type,
            attempt.c.person,
            attempt.c.began_utc,
            attempt.c.verdict,
            attempt.c.simulated,
            shop_order.c.order_sha256,
            entry.c.kind,
            entry.c.body,
        )
        .select_from(
            attempt.join(entry, entry_of_attempt()).outerjoin(shop_order, shop_order.c.run == attempt.c.run)
        )
        .where(*conditions(wanted), or_(entry.c.kind == UnitStarted.kind, told))
        .order_by(attempt.c.bench, attempt.c.first, entry.c.number)
        .execution_options(yield_per=_AT_ONCE)
    )


def _tolerance(connection: Connection, sha256: str | None) -> float | None:
    """The tolerance of an order by its content."""
    if not sha256:
        return None
    body = connection.execute(select(content.c.body).where(content.c.sha256 == sha256)).scalar()
    tolerance = None if body is None else json.loads(body).get("setting", {}).get("tolerance_mm")
    return None if tolerance is None else float(tolerance)


def _point(
    row: RowMapping, event: FigureMeasured, value_mm: float, nest: str, tolerance_mm: float | None
) -> Point:
    return Point(
        serial=row["serial"],
        order=row["order_number"],
        sensor_type=row["sensor_type"],
        nest=nest,
        person=row["person"],
        utc=row["began_utc"],
        edge=event.name.partition(", ")[2],
        value_mm=value_mm,
        expanded_mm=event.expanded,
        tolerance_mm=tolerance_mm,
        verdict=row["verdict"],
        simulated=bool(row["simulated"]),
    )


def studied(points: Iterable[Point], each: Each | None, watching: Watching) -> tuple[Studied, ...]:
    """A chart for each group and edge, by name."""
    groups: dict[tuple[str, str], list[Point]] = {}
    for one in points:
        groups.setdefault((one.group(each), one.edge), []).append(one)
    return tuple(_studied(group, edge, own, watching) for (group, edge), own in sorted(groups.items()))


def _studied(group: str, edge: str, points: Sequence[Point], watching: Watching) -> Studied:
    tolerances = {one.tolerance_mm for one in points}
    if len(tolerances) == 1:
        unit, reach = "mm", next(iter(tolerances))
        values = [one.value_mm for one in points]
    else:
        unit, reach = "% of the tolerance", 100.0
        points = [one for one in points if one.tolerance_mm]
        values = [100 * one.value_mm / one.tolerance_mm for one in points if one.tolerance_mm]
    chart = chart_of(values, watching)
    capability = None if reach is None else capability_of(values, -reach, reach, in_control=chart.in_control)
    return Studied(group, edge, tuple(points), unit, chart, capability)


def rows_of(one: Studied) -> Iterator[dict[str, Any]]:
    """Each value of a chart with all that was worked out of it, for CSV."""
    chart = one.chart
    for index, point in enumerate(one.points):
        limits, mean = chart.limits[index] or (None, None), chart.smoothed[index] or (None, None, None)
        yield {
            "group": one.group,
            "edge": one.edge,
            "number": index + 1,
            "serial": point.serial,
            "order": point.order,
            "sensor_type": point.sensor_type,
            "nest": point.nest,
            "person": point.person,
            "began_utc": point.utc,
            "verdict": point.verdict,
            "simulated": point.simulated,
            "deviation_mm": point.value_mm,
            "expanded_mm": point.expanded_mm,
            "tolerance_mm": point.tolerance_mm,
            "charted": chart.values[index],
            "unit": one.unit,
            "low_limit": limits[0],
            "high_limit": limits[1],
            "moving_range": chart.ranges[index],
            "ewma": mean[0],
            "ewma_low": mean[1],
            "ewma_high": mean[2],
            "signals": ", ".join(signal.rule for signal in chart.signals_at(index)),
        }
