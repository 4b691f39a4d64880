"""Stores for the tests of finding, written event by event as a bench writes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rig.events import (
    Event,
    OrderEnded,
    OrderInputs,
    OrderStarted,
    PersonSignedIn,
    Purpose,
    Stamped,
    UnitJudged,
    UnitStarted,
    Verdict,
)
from rig.journal import Journal


@dataclass
class Done:
    """What became of one unit; `verdict` None: it was still in work when the record ended."""

    serial: str
    utc: str
    verdict: Verdict | None = Verdict.GOOD
    reason: str = "proven"
    seconds: float = 20.0
    more: Sequence[Event] = ()


@dataclass
class Batch:
    """An order as one run of the program worked on it."""

    number: str
    done: Sequence[Done]
    customer: str = "Quillmere Orchard Co-op"
    sensor_type: str = "barrel-18-rail"
    purpose: Purpose = Purpose.SET
    person: str = ""
    left: int | None = 0
    tolerance_mm: float | None = None
    _events: list[Stamped] = field(default_factory=list)

    def _note(self, utc: str, at_s: float, serial: str, event: Event) -> None:
        number = len(self._events) + 1
        self._events.append(Stamped(number, round(at_s * 1e9), utc, self.number, serial, event))

    def events(self) -> list[Stamped]:
        utc = self.done[0].utc if self.done else "2026-01-05T07:00:00.000Z"
        self._note(
            utc,
            0.0,
            "",
            OrderStarted(
                self.number,
                self.customer,
                self.purpose,
                self.sensor_type,
                len(self.done),
                "simulated",
                False,
                "1.0",
            ),
        )
        setting = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0}
        if self.tolerance_mm is not None:
            setting["tolerance_mm"] = self.tolerance_mm
        self._note(utc, 0.0, "", OrderInputs({"setting": setting}, {}, {}))
        if self.person:
            self._note(utc, 0.0, "", PersonSignedIn(self.person, "command line"))
        for index, one in enumerate(self.done):
            at_s = 100.0 * (index + 1)
            self._note(one.utc, at_s, one.serial, UnitStarted("A", index))
            for event in one.more:
                self._note(one.utc, at_s + 1, one.serial, event)
            if one.verdict is not None:
                judged = UnitJudged(one.verdict, one.reason, "as the test has it")
                self._note(one.utc, at_s + one.seconds, one.serial, judged)
        if self.left is not None:
            self._note(utc, 10_000.0, "", OrderEnded(self.number, 0, 0, 0, self.left))
        return self._events


def write(path: Path, *batches: Batch) -> Path:
    """Write each batch as a run of its own, after what the file holds already."""
    for batch in batches:
        journal = Journal(path, f"{batch.number}-{id(batch)}")
        for stamped in batch.events():
            journal.record(stamped)
        journal.close()
    return path
