"""A session: the same seed writes the same record, real time tells the same, and nobody who watches disturbs it."""

from __future__ import annotations

import queue
import sqlite3
import threading
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hal.board import BoardMissing
from hal.errors import BenchInUse
from hal.simulated.benchfile import BenchFile, load_bench_file, shipped_bench_files
from rig.events import (
    BenchTripped,
    ContactEnded,
    OrderStarted,
    Stamped,
    SupplySwitched,
    UnitJudged,
    UnitStarted,
    Verdict,
)
from rig.jobs import job_of
from rig.journal import JournalError, read_journal
from rig.planning.plan import MakeContact
from rig.sequencer.order_run import OrderResult
from rig.session import Session
from sequences.checks import CheckPlan
from sequences.order import Order
from tests.patient import patient
from tests.rig.planned import BY_HAND, STAGE, job
from wiring.profile import RigProfile
from wiring.tomlfile import DataFileError

POINT = job("barrel-18-rail", "single-point", "NO", at_mm=400, tolerance_mm=8)


def session_of(bench: BenchFile | None, journal: Path | None, *, units: int = 1, **change: Any) -> Session:
    made = change.pop("job", POINT)
    serials = tuple(f"QOC-{number}" for number in range(1, units + 1))
    order: Order = made.order.model_copy(update={"quantity": units, "serials": serials})
    furnished = None if bench is None else bench.as_ordered(order.sensor_type, order.setting.output_type)
    rig: RigProfile = change.pop("rig", made.rig)
    return Session(
        job_of(order, made.sensor_type, rig, made.plan),
        rig,
        furnished,
        change.pop("real_time", False),
        journal,
        **change,
    )


def bench_of(*rows: dict[str, Any], **more: Any) -> BenchFile:
    return BenchFile.model_validate({"title": "test", "unit": list(rows), **more})


def run(one: Session) -> tuple[OrderResult, list[Stamped]]:
    seen: list[Stamped] = []
    return one.start(seen.append).result(60), seen


def dump(path: Path) -> str:
    """Everything that the record says, but for the name of the run."""
    with closing(sqlite3.connect(path)) as database:
        rows = database.execute(
            "SELECT in_run, at_ns, utc, order_number, serial, kind, body FROM entry ORDER BY number"
        )
        return "\n".join(repr(row) for row in rows)


@pytest.mark.parametrize("name", ["demo", "flicker", "stop", "welded"])
def test_the_same_bench_writes_the_same_record_to_the_last_byte(name: str, tmp_path: Path) -> None:
    bench = load_bench_file(shipped_bench_files()[name])
    dumps = []
    for number in range(2):
        path = tmp_path / f"{number}.sqlite3"
        _, seen = run(session_of(bench, path, units=4))
        assert list(read_journal(path)) == seen
        dumps.append(dump(path))
    assert dumps[0] == dumps[1]
    assert dumps[0].count("unit-judged") >= 2


def test_another_seed_writes_another_record(tmp_path: Path) -> None:
    dumps = []
    for seed in (1, 2):
        path = tmp_path / f"{seed}.sqlite3"
        run(session_of(bench_of({"count": 2}, seed=seed), path, units=2))
        dumps.append(dump(path))
    assert dumps[0] != dumps[1]


QUICK = {
    "person": {"reaction_s": 0.1, "fit_s": 0.4},  # no quicker: a foot has to leave the switch first
    "unit": [{"faults": [{"kind": "over-current"}]}, {}],
}


def test_real_time_tells_the_same_while_whoever_watches_is_held_up(tmp_path: Path) -> None:
    target = STAGE.target.model_copy(update={"speed_mm_s": 2000.0, "farthest_mm": 800.0, "swing_s": 0.1})
    rig = patient(STAGE.model_copy(update={"target": target}))
    bench = BenchFile.model_validate({"title": "test", **QUICK, "unit": [{}]})
    quick_checks = CheckPlan(readings=1, settle_factor=1.5, scan_readings=0)
    made = job("barrel-18-rail", "full-range", rig=rig, checks=quick_checks)
    quick, seen_quickly = run(session_of(bench, None, units=1, job=made))
    assert [*quick.verdicts.values()] == [Verdict.GOOD]
    verdicts = [one.event for one in seen_quickly if isinstance(one.event, UnitJudged)]

    seen: queue.SimpleQueue[Stamped] = queue.SimpleQueue()
    engine = session_of(bench, tmp_path / "journal.sqlite3", units=1, job=made, real_time=True).start(
        seen.put
    )
    stop_computing = threading.Event()
    screen = threading.Thread(target=_compute, args=(stop_computing,))
    screen.start()
    try:
        while not engine.done:
            time.sleep(1.0)  # blocked: takes no event, repaints nothing
        slow = engine.result(60)
    finally:
        stop_computing.set()
        screen.join()
    assert slow.trip is None
    assert slow.verdicts == quick.verdicts
    events = [seen.get_nowait() for _ in range(seen.qsize())]
    assert [one.event for one in events if isinstance(one.event, UnitJudged)] == verdicts
    assert list(read_journal(tmp_path / "journal.sqlite3")) == events
    planned = [step for step in made.plan.steps if isinstance(step, MakeContact)]
    ended = [one.event for one in events if isinstance(one.event, ContactEnded)]
    for step, one in zip(planned, ended, strict=True):
        assert step.shortest_s <= one.length_s <= step.longest_s


def _compute(stop: threading.Event) -> None:
    """A screen that keeps the interpreter busy."""
    while not stop.is_set():
        sum(range(20_000))


def test_a_simulated_bench_in_a_hurry_bears_a_computer_that_is_held_up_as_one_in_real_time_does() -> None:
    """A tenth of a second here is two seconds there, and the coils of the profile hold for 0.2 s."""
    seen: list[Stamped] = []
    held_up: list[str] = []

    def watch(one: Stamped) -> None:
        seen.append(one)
        if isinstance(one.event, SupplySwitched) and one.event.on and not held_up:
            held_up.append(one.serial)
            time.sleep(0.1)

    session_of(bench_of({}), None, real_time=True, speed=20.0).start(watch).result(60)
    assert held_up == ["QOC-1"]
    assert not [one for one in seen if isinstance(one.event, BenchTripped)]


def test_a_session_without_a_journal_runs_all_the_same() -> None:
    result, seen = run(session_of(bench_of({"count": 1}), None))
    assert [*result.verdicts.values()] == [Verdict.GOOD]
    assert isinstance(seen[0].event, OrderStarted)
    assert seen[0].event.simulated
    assert seen[0].utc.startswith("2026-01-05T07:00:00")


def journal_threads() -> list[str]:
    return [one.name for one in threading.enumerate() if one.name == "journal"]


def test_a_bench_that_does_not_fit_its_rig_is_refused_and_the_record_closed(tmp_path: Path) -> None:
    misfit = bench_of({"count": 1}, fault=[{"kind": "output-open", "nest": "Z"}])
    engine = session_of(misfit, tmp_path / "journal.sqlite3").start(lambda _: None)
    with pytest.raises(DataFileError, match="the rig has no such nest"):
        engine.result(60)
    assert journal_threads() == []


def test_a_board_profile_never_simulates(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    engine = session_of(None, path, rig=BY_HAND).start(lambda _: pytest.fail("nothing happens"))
    with pytest.raises((BoardMissing, BenchInUse)) as failure:
        engine.result(60)
    assert failure.value.check
    assert list(read_journal(path)) == []
    assert journal_threads() == []


def test_without_a_record_the_bench_is_not_even_opened(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    engine = session_of(bench_of({"count": 1}), tmp_path / "file" / "journal.sqlite3").start(lambda _: None)
    with pytest.raises(JournalError, match="cannot keep the record here"):
        engine.result(60)


def test_requests_are_shown_to_whoever_asked_for_them() -> None:
    asked: list[str] = []
    engine = session_of(bench_of({"count": 1}), None).start(
        lambda _: None, on_request=lambda request: asked.append(request.text)
    )
    engine.result(60)
    assert asked == ["Put unit QOC-1 into nest A.", "Take unit QOC-1 out of nest A."]


def test_an_order_of_which_no_unit_is_left_puts_none_in(tmp_path: Path) -> None:
    """As when the program was killed between the last verdict and the end of the order."""
    nothing_left = replace(session_of(bench_of({"count": 2}), tmp_path / "journal", units=2), serials=())
    result, seen = run(nothing_left)
    assert (result.verdicts, result.left) == ({}, 0)
    assert not [one for one in seen if isinstance(one.event, UnitStarted)]


def test_a_stop_ends_the_order_and_keeps_its_record(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    events: queue.SimpleQueue[Stamped] = queue.SimpleQueue()
    endless = bench_of({"count": 100}, endless=True)
    engine = session_of(endless, path, units=1000).start(events.put)
    while not isinstance(events.get(timeout=60).event, UnitJudged):
        pass
    engine.stop("stopped by a test")
    result = engine.result(60)
    assert result.trip is not None
    assert result.ended_by == "stopped by a test"
    recorded = list(read_journal(path))
    assert [one.event.kind for one in recorded[-1:]] == ["order-ended"]
    assert sum(isinstance(one.event, UnitJudged) for one in recorded) == len(result.verdicts)
    assert result.left == 1000 - len(result.verdicts)
