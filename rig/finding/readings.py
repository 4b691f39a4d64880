"""Every figure and state that was read of units, one a row, for those who analyse elsewhere."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, Select, select

from rig.events import (
    AirMeasured,
    CheckDone,
    ContactEnded,
    EdgeMeasured,
    EdgePassed,
    EdgeRead,
    EdgeSlid,
    FigureMeasured,
    OutputRead,
    PauseEnded,
    PoweredUp,
    RequirementJudged,
    SupplyMeasured,
    ToleranceScanned,
    event_from,
)
from rig.finding.columns import READINGS
from rig.finding.conditions import conditions, entry_of_attempt
from rig.finding.wanted import Wanted
from rig.store.schema import attempt, bench, entry

_AT_ONCE = 5000
_EMPTY = dict.fromkeys(column.name for column in READINGS)

Said = Iterator[dict[str, Any]]


def readings(connection: Connection, wanted: Wanted) -> Iterator[dict[str, Any]]:
    """Yield what was read of the wanted units, keyed by the columns `READINGS`, in the order of each account.

    Raises:
        ValueError: for an entry of another version.

    """
    for row in connection.execute(_question(wanted)).mappings():
        event = event_from(row["kind"], json.loads(row["body"]))
        common = {name: row[name] for name in _FROM_ATTEMPT} | {
            "simulated": bool(row["simulated"]),
            "since_s": (row["at_ns"] - row["began_ns"]) / 1e9,
            "what": row["kind"],
        }
        for said in _SAID[event.kind](event):
            yield _EMPTY | common | said


_FROM_ATTEMPT = (
    "serial", "order", "customer", "sensor_type", "purpose", "bench", "account", "attempt", "attempt_verdict",
    "entry", "utc",
)  # fmt: skip


def _question(wanted: Wanted) -> Select[Any]:
    return (
        select(
            attempt.c.serial,
            attempt.c.order_number.label("order"),
            attempt.c.customer,
            attempt.c.sensor_type,
            attempt.c.purpose,
            attempt.c.simulated,
            attempt.c.first.label("attempt"),
            attempt.c.verdict.label("attempt_verdict"),
            attempt.c.began_ns,
            attempt.c.bench.label("account"),
            bench.c.name.label("bench"),
            entry.c.number.label("entry"),
            entry.c.utc,
            entry.c.at_ns,
            entry.c.kind,
            entry.c.body,
        )
        .select_from(attempt.join(bench, bench.c.id == attempt.c.bench).join(entry, entry_of_attempt()))
        .where(*conditions(wanted), entry.c.kind.in_(sorted(_SAID)))
        .order_by(attempt.c.bench, attempt.c.first, entry.c.number)
        .execution_options(yield_per=_AT_ONCE)
    )


def _supply(event: SupplyMeasured) -> Said:
    yield {"name": "supply current", "value": event.current_a, "unit": "A"}
    yield {"name": "supply voltage", "value": event.voltage_v, "unit": "V"}


def _air(event: AirMeasured) -> Said:
    yield {"name": "air temperature", "value": event.temperature_c, "unit": "°C"}
    yield {"name": "air humidity", "value": event.humidity_percent, "unit": "%"}


def _contact(event: ContactEnded) -> Said:
    said = {"name": str(event.rail), "value": event.length_s, "unit": "s"}
    yield {**said, "read_on": event.confirmed, "words": event.answer}


def _pause(event: PauseEnded) -> Said:
    yield {"name": "pause", "value": event.length_s, "unit": "s"}


def _output(event: OutputRead) -> Said:
    said = {"name": f"load to {event.load}", "position_mm": event.position_mm, "steady": event.steady}
    yield {**said, "words": event.level}


def _check(event: CheckDone) -> Said:
    said = {"name": event.requirement, "position_mm": event.position_mm, "read_on": event.read_on}
    yield {**said, "expected_on": event.expected_on, "steady": event.read_on is not None}


def _scan(event: ToleranceScanned) -> Said:
    said = {"name": "changes of the output", "value": float(event.changes), "position_mm": event.last_mm}
    yield {**said, "words": event.outputs}


def _edge_read(event: EdgeRead) -> Said:
    said = {"name": "unit detects", "position_mm": event.position_mm, "read_on": event.detected}
    yield {**said, "steady": event.steady}


def _passed(event: EdgePassed) -> Said:
    said = {
        "name": "pass: time to the change",
        "value": event.switched_s,
        "unit": "s",
        "position_mm": event.start_mm,
    }
    yield {**said, "words": f"to {event.end_mm:g} mm at {event.speed_mm_s:g} mm/s"}


def _slid(event: EdgeSlid) -> Said:
    said = {
        "name": "slide: time to the change",
        "value": event.switched_s,
        "unit": "s",
        "position_mm": event.start_mm,
    }
    yield {**said, "words": event.fault}
    if event.told_mm is not None:
        yield {"name": "slide: read from the scale", "value": event.told_mm, "unit": "mm"}


def _edge(event: EdgeMeasured) -> Said:
    for name, value, expanded, unit in (
        ("operate point", event.operate_mm, event.operate_u_mm, "mm"),
        ("release point", event.release_mm, event.release_u_mm, "mm"),
        ("differential travel", event.travel_mm, event.travel_u_mm, "mm"),
        ("repeat accuracy", event.repeat_mm, None, "mm"),
        ("response time on", event.response_on_s, event.response_on_u_s, "s"),
        ("response time off", event.response_off_s, event.response_off_u_s, "s"),
    ):
        if value is not None:
            yield {"name": f"{event.edge} {name}", "value": value, "expanded": expanded, "unit": unit}


def _powered(event: PoweredUp) -> Said:
    said = {"name": "supply to output on", "value": event.on_after_s, "expanded": event.doubt_s, "unit": "s"}
    yield {**said, "position_mm": event.position_mm}


def _figure(event: FigureMeasured) -> Said:
    yield {"name": event.name, "value": event.value, "expanded": event.expanded, "unit": event.unit}


def _requirement(event: RequirementJudged) -> Said:
    said = {"name": event.requirement, "value": event.value, "expanded": event.expanded, "unit": event.unit}
    yield {**said, "low": event.low, "high": event.high, "words": str(event.verdict)}


_SAID: Mapping[str, Callable[[Any], Said]] = {
    SupplyMeasured.kind: _supply,
    AirMeasured.kind: _air,
    ContactEnded.kind: _contact,
    PauseEnded.kind: _pause,
    OutputRead.kind: _output,
    CheckDone.kind: _check,
    ToleranceScanned.kind: _scan,
    EdgeRead.kind: _edge_read,
    EdgePassed.kind: _passed,
    EdgeSlid.kind: _slid,
    EdgeMeasured.kind: _edge,
    PoweredUp.kind: _powered,
    FigureMeasured.kind: _figure,
    RequirementJudged.kind: _requirement,
}
