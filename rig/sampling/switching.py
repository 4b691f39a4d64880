"""How strictly the next lot of a supplier is inspected: the switching rules and the stop rule of ISO 2859-1.

Normal inspection becomes tightened when two of five or fewer consecutive lots were rejected on original inspection.
Tightened becomes normal when five consecutive lots were accepted. When five lots in all have been rejected while it was
tightened, inspection stops, until the supplier has mended the cause; then it goes on tightened. (ISO 2859-1:1999 clause
9.3 and 9.4; read second-hand. Only lots since the last switch count; from memory.)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias

from rig.sampling.plan import Decision
from rig.sampling.standard import Severity

WATCHED_LOTS = 5
REJECTED_TIGHTENS = 2
ACCEPTED_RELAXES = 5
REJECTED_STOPS = 5


@dataclass(frozen=True, slots=True)
class LotDecided:
    """A lot was decided. One that was sorted and comes again is not `original` and counts for nothing here."""

    decision: Decision
    original: bool = True


@dataclass(frozen=True, slots=True)
class CauseMended:
    """Someone has confirmed that the supplier mended the cause: inspection that was stopped goes on, tightened."""


Past: TypeAlias = LotDecided | CauseMended


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a supplier stands with a type, before the next lot.

    Attributes:
        severity: how the next lot is inspected.
        stopped: no lot is accepted on inspection until the cause is mended.
        since: decisions since the last switch, oldest first.

    """

    severity: Severity = Severity.NORMAL
    stopped: bool = False
    since: tuple[Decision, ...] = ()

    @property
    def rejected(self) -> int:
        """Lots rejected since the last switch."""
        return self.since.count(Decision.REJECTED)

    @property
    def accepted_in_a_row(self) -> int:
        """Lots accepted one after another up to now, since the last switch."""
        return next(
            (n for n, one in enumerate(reversed(self.since)) if one is Decision.REJECTED), len(self.since)
        )


def standing_after(history: Iterable[Past]) -> Standing:
    """Where the history of one supplier and type leads, oldest first; it begins with normal inspection."""
    standing = Standing()
    for past in history:
        standing = then(standing, past)
    return standing


def then(standing: Standing, past: Past) -> Standing:
    """Where one more lot leads from a standing."""
    if isinstance(past, CauseMended):
        return Standing(Severity.TIGHTENED) if standing.stopped else standing
    if standing.stopped or not past.original:
        return standing
    counted = replace(standing, since=(*standing.since, past.decision))
    return _normal(counted) if standing.severity is Severity.NORMAL else _tightened(counted)


def _normal(now: Standing) -> Standing:
    if now.since[-WATCHED_LOTS:].count(Decision.REJECTED) >= REJECTED_TIGHTENS:
        return Standing(Severity.TIGHTENED)
    return now


def _tightened(now: Standing) -> Standing:
    if now.accepted_in_a_row >= ACCEPTED_RELAXES:
        return Standing(Severity.NORMAL)
    return replace(now, stopped=now.rejected >= REJECTED_STOPS)


def standing_words(standing: Standing) -> str:
    """What the next lot meets, and what would change it."""
    if standing.stopped:
        return (
            f"stopped: {REJECTED_STOPS} lots were rejected on tightened inspection. No lot is accepted on a sample "
            "until the supplier has mended the cause; then it goes on tightened"
        )
    if standing.severity is Severity.NORMAL:
        return f"normal inspection; {_what_tightens(standing)}"
    left = ACCEPTED_RELAXES - standing.accepted_in_a_row
    stops = REJECTED_STOPS - standing.rejected
    return (
        f"tightened inspection; back to normal after {_lots(left)} accepted in a row, "
        f"stopped after {_lots(stops)} rejected"
    )


def _what_tightens(standing: Standing) -> str:
    watched = standing.since[-(WATCHED_LOTS - 1) :]
    if Decision.REJECTED not in watched:
        return f"tightened after {REJECTED_TIGHTENS} rejected within {WATCHED_LOTS} lots"
    left = WATCHED_LOTS - 1 - list(reversed(watched)).index(Decision.REJECTED)
    return f"tightened if {'the next lot' if left == 1 else f'one of the next {left} lots'} is rejected"


def _lots(count: int) -> str:
    return f"{count} more lot" if count == 1 else f"{count} more lots"
