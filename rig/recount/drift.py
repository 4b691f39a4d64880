"""How far a unit has moved since its own earlier record: by measured edges, or readings at the same positions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.events import CheckDone, EdgeMeasured
from rig.planning.plan import Requirement
from rig.recount.attempt import Attempt, NotRebuilt

# Positions nearer to each other than this are one place for the target (half a step of most drives).
_SAME_PLACE_MM = 0.05
# What nearly every unit that works does, wherever it was set to switch.
_OF_NO_EDGE = (Requirement.CLEAR_BEAM, Requirement.DETECTS_INSIDE, Requirement.BLIND_END)


@dataclass(frozen=True, slots=True)
class EdgeDrift:
    """A switching point then and now, at the machine.

    Attributes:
        then_mm, now_mm: where it was and where it is.
        expanded_mm: expanded uncertainty of the difference (95 %). Both were measured on benches whose own share is
            counted twice, though on one bench it would partly drop out: a significant movement is a real one.

    """

    point: str
    then_mm: float
    now_mm: float
    expanded_mm: float

    @property
    def moved_mm(self) -> float:
        """Now less then; outwards is positive."""
        return self.now_mm - self.then_mm

    @property
    def changed(self) -> bool:
        """Whether it has moved further than the measurements could have it."""
        return abs(self.moved_mm) > self.expanded_mm


@dataclass(frozen=True, slots=True)
class ReadingDrift:
    """What the output said at one check position then and now; None: it did not keep still."""

    requirement: str
    position_mm: float | None
    then_on: bool | None
    now_on: bool | None

    @property
    def changed(self) -> bool:
        """Whether it says something else now."""
        return self.then_on is not self.now_on


Drift = EdgeDrift | ReadingDrift


def drifts(before: Attempt, now: Attempt) -> tuple[Drift, ...]:
    """All that can be compared of two attempts at one unit; empty where nothing can."""
    try:
        scales = before.planned.zone.scale, now.planned.zone.scale
    except NotRebuilt:
        return ()
    return tuple(_edges(before, now, *scales)) or tuple(_readings(before, now))


def drift_words(found: Sequence[Drift]) -> str:
    """In a few words, for a table: how far it has moved, or how many readings have changed; empty for none."""
    edges = [one for one in found if isinstance(one, EdgeDrift)]
    if edges:
        # The point that has moved the furthest, as far as can be told.
        far = max(edges, key=lambda one: abs(one.moved_mm) / one.expanded_mm)
        return f"{far.moved_mm:+.2f} \u00b1 {far.expanded_mm:.2f} mm{', MOVED' if far.changed else ''}"
    changed = sum(one.changed for one in found)
    return f"{changed} of {len(found)} readings, MOVED" if changed else "same readings" if found else ""


def _edges(before: Attempt, now: Attempt, then_scale: float, now_scale: float) -> Iterator[EdgeDrift]:
    then_found, now_found = _measured(before), _measured(now)
    for edge, then in then_found.items():
        found = now_found.get(edge)
        if found is None:
            continue
        for name, then_mm, then_u_mm, now_mm, now_u_mm in (
            ("operate point", then.operate_mm, then.operate_u_mm, found.operate_mm, found.operate_u_mm),
            ("release point", then.release_mm, then.release_u_mm, found.release_mm, found.release_u_mm),
        ):
            expanded_mm = math.hypot(then_u_mm / then_scale, now_u_mm / now_scale)
            yield EdgeDrift(f"{name}, {edge}", then_mm / then_scale, now_mm / now_scale, expanded_mm)


def _measured(attempt: Attempt) -> dict[str, EdgeMeasured]:
    """What was found last of each edge: it may have been measured on."""
    return {one.event.edge: one.event for one in attempt.account if isinstance(one.event, EdgeMeasured)}


def _readings(before: Attempt, now: Attempt) -> Iterator[ReadingDrift]:
    """Readings at positions that both attempts have in common, if any of these tells where an edge is."""
    then_read, now_read = _checks(before), _checks(now)
    same = [
        (then_read[requirement], done)
        for requirement, done in now_read.items()
        if requirement in then_read and _same_place(then_read[requirement].position_mm, done.position_mm)
    ]
    if any(done.requirement not in _OF_NO_EDGE for _, done in same):
        for then, done in same:
            yield ReadingDrift(done.requirement, done.position_mm, then.read_on, done.read_on)


def _checks(attempt: Attempt) -> dict[str, CheckDone]:
    """The first reading for each requirement; a second one only proves the first."""
    done = [one.event for one in attempt.account if isinstance(one.event, CheckDone)]
    return {one.requirement: one for one in reversed(done)}


def _same_place(then_mm: float | None, now_mm: float | None) -> bool:
    if then_mm is None or now_mm is None:
        return then_mm is now_mm
    return abs(then_mm - now_mm) <= _SAME_PLACE_MM
