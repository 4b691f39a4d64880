"""Whatever happened is on the disk before the next supply, contact or verdict; without a disk nothing is touched."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from hal.bench import Bench
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Job as Relay
from hal.simulated.bench import SimulatedBench
from hal.simulated.faults import BenchFault, UnitFault
from rig.events import ContactEnded, OrderEnded, Stamped, UnitJudged, UnitRemoved, Verdict
from rig.journal import Journal, JournalError, read_journal
from tests.rig.planned import STAGE, Job
from tests.rig.recorded import refuse_serial
from tests.rig.sequencer.floor import SETTINGS, Shift, on, rig_like, work_through

TOUCHING = (Relay.SUPPLY, Relay.TEACH_CONTACT, Relay.PLUS_CONTACT, Relay.MINUS_CONTACT)


class Ledger(Journal):
    """A real journal that knows what is on the disk, and what was done while something was not."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "test")
        self.noted: list[Stamped] = []
        self.on_disk = 0
        self.touched: list[tuple[Relay, int]] = []
        self.too_early: list[str] = []
        self.left_over = -1

    def record(self, stamped: Stamped) -> None:
        if isinstance(stamped.event, UnitJudged):
            self._must_be_on_disk("verdict")
        if isinstance(stamped.event, UnitRemoved | OrderEnded) and self._judged_after(self.on_disk):
            self.too_early.append("something followed a verdict that was not on the disk")
        super().record(stamped)
        self.noted.append(stamped)

    def barrier(self) -> Future[None]:
        count = len(self.noted)
        done = super().barrier()
        done.add_done_callback(lambda _: setattr(self, "on_disk", max(self.on_disk, count)))
        return done

    def close(self) -> None:
        self.left_over = len(self.noted) - self.on_disk
        super().close()

    def watch(self, _: SimulatedBench, bench: Bench) -> None:
        command = bench.interlock.command

        def watched(output: OutputId, on: bool, **more: Any) -> None:
            if on and output.job in TOUCHING:
                self._must_be_on_disk(str(output))
                self.touched.append((output.job, len(self.noted)))
            command(output, on, **more)

        bench.interlock.command = watched  # type: ignore[method-assign]

    def _must_be_on_disk(self, before: str) -> None:
        if self.on_disk < len(self.noted):
            missing = [one.event.kind for one in self.noted[self.on_disk :]]
            self.too_early.append(f"{before} came before {missing} was on the disk")

    def _judged_after(self, count: int) -> bool:
        return any(isinstance(one.event, UnitJudged) for one in self.noted[count:])


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


TWO_RELAY = rig_like(
    STAGE,
    topology="two-relay",
    rail_selector=None,
    teach_contact=None,
    plus_contact={"line": "GPIO6"},
    minus_contact={"line": "GPIO13"},
)
WORK: dict[str, tuple[Job, dict[str, Any]]] = {
    "sound, by rail": (SETTINGS["18 point"], {}),
    "sound, by length": (SETTINGS["30 window"], {}),
    "sound, by count": (SETTINGS["12 window"], {}),
    "sound, one relay per rail": (on(SETTINGS["18 window"], TWO_RELAY), {}),
    "bad": (SETTINGS["18 point"], {"faults": (UnitFault(kind="stores-wrongly", inverse=True),)}),
    "refusing": (SETTINGS["18 point"], {"faults": (UnitFault(kind="refuses-teach"),)}),
    "dead": (SETTINGS["18 point"], {"faults": (UnitFault(kind="dead"),)}),
    "tripped": (SETTINGS["18 point"], {"bench": (BenchFault(kind="stop-pressed", after_contacts=2),)}),
}


@pytest.mark.parametrize("name", WORK)
def test_everything_is_on_the_disk_before_a_supply_a_contact_or_a_verdict(name: str, path: Path) -> None:
    made, more = WORK[name]
    ledger = Ledger(path)
    shift = work_through(made, units=2, journal=lambda: ledger, opened=ledger.watch, **more)
    assert ledger.too_early == []
    assert ledger.touched
    assert ledger.left_over == 0
    assert len(shift.noted(UnitJudged)) == len(shift.order.verdicts)
    # Nothing less, nothing more, nothing else than what the watchers saw.
    assert list(read_journal(path)) == shift.events == ledger.noted


class SlowDisk(Journal):
    """A disk that takes its time, while the bench's time goes on."""

    def __init__(self, path: Path, slow_s: float) -> None:
        super().__init__(path, "test")
        self._slow_s = slow_s
        self._dirty = False

    def record(self, stamped: Stamped) -> None:
        super().record(stamped)
        self._dirty = True

    def barrier(self) -> Future[None]:
        done: Future[None] = Future()
        asyncio.get_running_loop().call_later(self._slow_s if self._dirty else 0.0, done.set_result, None)
        self._dirty = False
        return done

    def room(self) -> Future[None]:
        return self.barrier()


@pytest.mark.parametrize(
    ("slow_s", "verdict", "words"),
    [
        (0.35, Verdict.GOOD, "all right"),  # that fits into the pause of 0.4 s
        (1.1, Verdict.UNDECIDED, "pause between two contacts took 1.1"),
    ],
)
def test_a_slow_disk_is_waited_for_within_the_pause_of_a_unit_that_counts(
    slow_s: float, verdict: Verdict, words: str, path: Path
) -> None:
    shift = work_through(SETTINGS["12 point"], journal=lambda: SlowDisk(path, slow_s), time_passes=True)
    assert shift.finding.verdict is verdict
    assert words in shift.finding.words
    pauses_s = [
        (after.start_ns - before.end_ns) / 1e9
        for before, after in pairwise(shift.record.contacts)
        if after.start_ns - before.end_ns < 1.3e9
    ]
    assert (max(pauses_s) < 0.45) is (verdict is Verdict.GOOD)
    shift.assert_safe()


class Broken(Journal):
    """A journal whose disk fails at a moment of the test's choice."""

    def __init__(self, path: Path, fails: Callable[[list[Stamped]], bool]) -> None:
        super().__init__(path, "test")
        self._seen: list[Stamped] = []
        self._fails = fails
        self._path = path
        self.failed = False

    def record(self, stamped: Stamped) -> None:
        self._seen.append(stamped)
        if not self.failed and self._fails(self._seen):
            self.failed = True
            refuse_serial(self._path, stamped.serial)
        super().record(stamped)


def contacts_so_far(seen: list[Stamped]) -> int:
    return sum(isinstance(one.event, ContactEnded) for one in seen)


FAILURES: dict[str, Callable[[list[Stamped]], bool]] = {
    "before the supply": lambda seen: seen[-1].event.kind == "unit-started",
    "before the first contact": lambda seen: seen[-1].event.kind == "step-started",
    "after the first contact": lambda seen: contacts_so_far(seen) == 1,
    "after the last contact": lambda seen: contacts_so_far(seen) == 2,
    "while it is checked": lambda seen: seen[-1].event.kind == "check-done",
}


@pytest.mark.parametrize("name", FAILURES)
def test_without_a_disk_no_further_contact_is_made_and_no_unit_is_judged(name: str, path: Path) -> None:
    broken, contacts, left = Broken(path, FAILURES[name]), [], []

    def watch(simulated: SimulatedBench, bench: Bench) -> None:
        command = bench.interlock.command

        def watched(output: OutputId, on: bool, **more: Any) -> None:
            if on and output.job in TOUCHING and broken.failed:
                contacts.append(output)
            command(output, on, **more)

        bench.interlock.command = watched  # type: ignore[method-assign]
        left.append(simulated)

    judged: list[Stamped] = []

    def look(stamped: Stamped, _: SimulatedBench, __: Bench) -> None:
        if isinstance(stamped.event, UnitJudged):
            judged.append(stamped)

    shift = Shift(SETTINGS["18 point"], SETTINGS["18 point"].plan)
    with pytest.raises(
        JournalError, match=r"the record could not be written \(disk is gone\); free or mend the disk"
    ):
        work_through(
            SETTINGS["18 point"], units=2, journal=lambda: broken, opened=watch, look=look, shift=shift
        )
    assert broken.failed
    assert contacts == []
    assert [one.event for one in judged if one.event.verdict is Verdict.GOOD] == []  # type: ignore[attr-defined]
    assert [one for one in read_journal(path) if isinstance(one.event, UnitJudged)] == []
    shift.assert_safe()


def test_a_closed_disk_ends_the_work_at_once(path: Path) -> None:
    journal = Journal(path, "test")
    shift = Shift(SETTINGS["18 point"], SETTINGS["18 point"].plan)

    def shut(_: SimulatedBench, __: Bench) -> None:
        journal.close()

    with pytest.raises(JournalError, match="the record is closed"):
        work_through(SETTINGS["18 point"], journal=lambda: journal, opened=shut, shift=shift)
    assert shift.events == []
    shift.assert_safe()


def test_an_error_of_the_program_switches_everything_off() -> None:
    def fail(stamped: Stamped, _: SimulatedBench, __: Bench) -> None:
        if isinstance(stamped.event, ContactEnded):
            raise ZeroDivisionError("a fault of the program")

    shift = Shift(SETTINGS["18 point"], SETTINGS["18 point"].plan)
    with pytest.raises(ZeroDivisionError):
        work_through(SETTINGS["18 point"], look=fail, shift=shift)
    assert shift.noted(UnitJudged) == []
    shift.assert_safe()


def test_a_run_that_is_cancelled_switches_everything_off() -> None:
    def cancel(stamped: Stamped, _: SimulatedBench, __: Bench) -> None:
        if stamped.event.kind == "supply-switched":
            task = asyncio.current_task()
            assert task is not None
            task.cancel()

    shift = Shift(SETTINGS["18 point"], SETTINGS["18 point"].plan)
    with pytest.raises(asyncio.CancelledError):
        work_through(SETTINGS["18 point"], look=cancel, shift=shift)
    shift.assert_safe()
