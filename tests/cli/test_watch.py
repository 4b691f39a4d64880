"""Watching an order: a signal that comes early is kept, and a watcher that fails does not leave the bench alone."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

import pytest

from rig.cli.exits import Exit
from rig.cli.main import main
from rig.cli.progress import Watch
from rig.engine import Engine
from rig.events import ContactEnded, Stamped, UnitJudged, Verdict
from rig.journal import read_journal
from rig.sequencer.order_run import OrderResult
from rig.session import Session
from rig.summary import Summary, UnitSummary
from tests.rig.test_session import bench_of, session_of


def started(monkeypatch: pytest.MonkeyPatch, *, before: Any = None) -> list[Engine[OrderResult]]:
    """The engines that sessions start from now on; `before` is done just before each."""
    engines: list[Engine[OrderResult]] = []
    start = Session.start

    def watched(session: Session, *arguments: Any) -> Engine[OrderResult]:
        if before is not None:
            before()
        engines.append(start(session, *arguments))
        return engines[-1]

    monkeypatch.setattr(Session, "start", watched)
    return engines


@pytest.mark.parametrize(
    ("number", "code"),
    [(signal.SIGINT, Exit.INTERRUPTED), (signal.SIGTERM, Exit.TERMINATED), (signal.SIGHUP, Exit.HANGUP)],
)
def test_a_signal_that_comes_before_the_engine_runs_is_not_lost(
    number: signal.Signals, code: Exit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started(monkeypatch, before=lambda: os.kill(os.getpid(), number))
    path = tmp_path / "journal.sqlite3"
    watch = Watch(session_of(bench_of({"count": 9}), path, units=9), Summary(), live=False)
    result = watch.run()
    assert watch.stopped_by is code
    assert result.ended_by == f"stopped by {number.name}"
    events = [one.event for one in read_journal(path)]
    assert not any(isinstance(event, ContactEnded) for event in events)


def test_a_signal_ends_the_whole_demo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    engines = started(monkeypatch, before=lambda: os.kill(os.getpid(), signal.SIGINT))
    assert main(["demo", "--data", str(tmp_path)]) == Exit.INTERRUPTED
    assert len(engines) == 1
    assert "0 units, 0 judged as they deserve" in capsys.readouterr().out


def test_the_handlers_of_signals_are_given_back(tmp_path: Path) -> None:
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGTTIN)
    before = [signal.getsignal(number) for number in numbers]
    Watch(session_of(bench_of({}), tmp_path / "journal.sqlite3"), Summary(), live=False).run()
    assert [signal.getsignal(number) for number in numbers] == before


class BrokenSummary(Summary):
    """A screen with a fault, which shows in the middle of the first unit."""

    def add(self, stamped: Stamped) -> UnitSummary | None:
        if isinstance(stamped.event, ContactEnded):
            raise ZeroDivisionError("a fault of the screen")
        return super().add(stamped)


def test_a_watcher_that_fails_stops_the_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engines = started(monkeypatch)
    path = tmp_path / "journal.sqlite3"
    endless = session_of(bench_of({"count": 99}, endless=True), path, units=9999)
    with pytest.raises(ZeroDivisionError):
        Watch(endless, BrokenSummary(), live=False).run()
    (engine,) = engines
    assert engine.done
    assert engine.result().ended_by == "nobody is watching any more"
    judged = [one.event for one in read_journal(path) if isinstance(one.event, UnitJudged)]
    assert all(one.verdict is Verdict.GOOD for one in judged[:-1])
    assert len(judged) < 9999
