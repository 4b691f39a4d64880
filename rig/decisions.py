"""A unit that the bench was undecided about, decided by two persons: an entry beside the verdict, never instead."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rig.events import DecidedByHand, OrderStarted, Verdict
from rig.noting import note
from rig.records import Listed, open_records
from rig.sequencer.findings import Reason
from wiring.plainwords import printable

# The work was not finished: nobody knows what the unit is set to now.
_UNFINISHED = (Reason.INTERRUPTED, Reason.BENCH_TRIPPED, Reason.NO_ANSWER)


class NotDecided(ValueError):
    """This cannot be decided by hand; its text says why."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person has decided, who has released it, and why."""

    verdict: Verdict
    person: str
    released_by: str
    why: str


def decide(path: Path, serial: str, decision: Decision) -> Listed:
    """Enter a decision about the last attempt at a unit, and return that; nothing else in the record changes.

    Raises:
        NotDecided: for two persons who are one, or a unit that is not to be decided by hand.
        JournalError: when the record cannot be read or kept.

    """
    if decision.person.casefold() == decision.released_by.casefold():
        raise NotDecided(f"{printable(decision.person)} cannot release what they have decided themselves")
    with open_records(path) as records:
        attempts = records.attempts(serial)
        started = records.attempt(attempts[-1]).started if attempts else None
        uuid = records.uuid_of(attempts[-1].bench) if attempts else ""
    if not attempts:
        raise NotDecided(f"no unit {printable(serial, 60)} in the record")
    attempt = attempts[-1]
    _must_be_open(attempt, started, decision.verdict)
    event = DecidedByHand(
        uuid, attempt.first, decision.verdict, decision.person, decision.released_by, decision.why
    )
    note(path, "by-hand", [(attempt.order, attempt.serial, event)])
    return attempt


def by_hand_words(event: DecidedByHand) -> str:
    """A decision as papers and labels say it."""
    who = f"by {printable(event.person)}, released by {printable(event.released_by)}"
    return f"Decided by hand: {event.verdict}, {who}: {printable(event.why)}"


def _must_be_open(attempt: Listed, started: OrderStarted | None, verdict: Verdict) -> None:
    """Raises NotDecided unless the bench leaves this attempt to persons."""
    unit = f"unit {printable(attempt.serial, 60)}"
    if attempt.verdict is not Verdict.UNDECIDED:
        stands = attempt.verdict or "in work"
        raise NotDecided(f"{unit} is {stands}: only one that the bench is undecided about is decided by hand")
    if started is not None and started.purpose.judges_no_setting:
        raise NotDecided(f"{unit}: {started.purpose.why_no_paper}")
    if verdict is Verdict.GOOD and attempt.reason in _UNFINISHED:
        reason = attempt.reason.replace("-", " ")
        raise NotDecided(f"{unit} cannot be good: work on it was not finished ({reason}); set it again")
