"""One attempt at one unit, as a report on many needs it: few events of each, and few words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rig.events import CheckDone, Event, FigureMeasured, Purpose, Stamped, UnitJudged, Verdict
from rig.events.unit import DEVIATION
from rig.recount.attempt import Attempt

NEEDED: tuple[type[Event], ...] = (CheckDone, FigureMeasured, UnitJudged)
"""The events that a report is made from, beside the begin of each attempt."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """How far the operate point of an edge lies from its set point at the machine, in mm, with U."""

    edge: str
    value_mm: float
    expanded_mm: float | None


@dataclass(frozen=True, slots=True)
class Read:
    """What was read first for a requirement; `right` None: the output did not keep still."""

    requirement: str
    position_mm: float | None
    right: bool | None


@dataclass(frozen=True, slots=True)
class Try:
    """One attempt at one unit; `seconds` on the bench until its verdict, None where it got none."""

    serial: str
    run: str
    purpose: Purpose
    began_utc: str
    verdict: Verdict | None
    reason: str
    words: str
    seconds: float | None
    deviations: tuple[Deviation, ...]
    read: tuple[Read, ...]


def try_of(attempt: Attempt) -> Try:
    """What a report needs of an attempt."""
    events = [one.event for one in attempt.events]
    judged = next((one for one in attempt.events if isinstance(one.event, UnitJudged)), None)
    verdict = judged.event if judged is not None and isinstance(judged.event, UnitJudged) else None
    return Try(
        serial=attempt.begin.serial,
        run=attempt.run,
        purpose=Purpose.SET if attempt.started is None else attempt.started.purpose,
        began_utc=attempt.begin.utc,
        verdict=None if verdict is None else verdict.verdict,
        reason="" if verdict is None else verdict.reason,
        words="" if verdict is None else verdict.words,
        seconds=_seconds(attempt.begin, judged),
        deviations=tuple(_deviations(events)),
        read=tuple(_read(events)),
    )


def _seconds(begin: Stamped, judged: Stamped | None) -> float | None:
    return None if judged is None else round(judged.at_s - begin.at_s, 3)


def _deviations(events: Iterable[Event]) -> Iterator[Deviation]:
    for one in events:
        if (
            isinstance(one, FigureMeasured)
            and one.name.startswith(f"{DEVIATION}, ")
            and one.value is not None
        ):
            yield Deviation(one.name.partition(", ")[2], one.value, one.expanded)


def _read(events: Iterable[Event]) -> Iterator[Read]:
    """The first reading for each requirement; a second one only proves the first."""
    seen: set[str] = set()
    for one in events:
        if isinstance(one, CheckDone) and one.requirement not in seen:
            seen.add(one.requirement)
            right = None if one.read_on is None else one.read_on is one.expected_on
            yield Read(one.requirement, one.position_mm, right)
