"""The bench screen in a real terminal, and without one."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from rig.events import BenchTripped, ContactEnded, OrderEnded, SupplySwitched, UnitJudged
from rig.journal import read_journal
from rig.papers.label_code import UnitCode, code_text
from rig.session import JOURNAL_NAME
from tests.patient import write_patient_rig
from tests.rig.screen.shop import order_text
from tests.rig.screen.terminal import Terminal

F8, F12 = b"\x1b[19~", b"\x1b[24~"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "orders").mkdir()
    write_patient_rig(tmp_path / "rigs" / "simulated.toml")
    (tmp_path / "orders" / "QOC-0190.toml").write_text(order_text(2), encoding="utf-8")
    return tmp_path


def begun(home: Path, *arguments: str) -> Terminal:
    (home / "passing").mkdir(exist_ok=True)
    own = {"TEACHRIG_HOME": str(home), "TEACHRIG_DATA": str(home), "TMPDIR": str(home / "passing")}
    return Terminal(*arguments, "--by", "Maren Holt", environment=own)


def at_work(home: Path) -> Terminal:
    """Until the first contact of the first unit is closed."""
    terminal = begun(home, "QOC-0190")
    terminal.shows("SIMULATED")
    terminal.send(b"41\r")
    terminal.shows("Put unit QOC18-0041")
    terminal.read(0.6)  # nobody is quicker
    terminal.send(b"\r")
    terminal.shows("\u25a0 at L")
    return terminal


def test_a_terminal_that_is_lost_during_a_contact_and_the_order_taken_up_again(home: Path) -> None:
    terminal = at_work(home)
    terminal.tear_away()
    assert terminal.ended() == 129
    assert list((home / "passing").glob("teachrig-*")) == []  # nothing of a practice is left behind
    events = [one.event for one in read_journal(home / JOURNAL_NAME)]
    (tripped,) = (one for one in events if isinstance(one, BenchTripped))
    assert "SIGHUP" in tripped.words
    assert [one.reason for one in events if isinstance(one, UnitJudged)] == ["interrupted"]
    assert isinstance(events[-1], OrderEnded)
    after = events[events.index(tripped) :]
    assert not any(isinstance(one, SupplySwitched | ContactEnded) for one in after)

    again = begun(home)
    again.shows("go on: 0 of 2 done")
    again.send(b"\r")
    again.shows("Scan or type the serial")
    again.send(code_text(UnitCode("QOC18-0041", "QOC-0190")).encode() + b"\r")  # as scanners send a label
    again.shows("Put unit QOC18-0041")
    again.send(F12)
    assert again.ended() == 0


def test_stop_and_leave_by_keys_as_a_terminal_sends_them(home: Path) -> None:
    terminal = at_work(home)
    terminal.send(F8)
    terminal.shows("stop key was pressed")
    assert terminal.read(1.0) < 6000  # less than two whole screens
    assert terminal.read(1.5) == 0  # nothing moves any more, and nothing is sent
    terminal.send(F12)
    assert terminal.ended() == 0


def test_a_signal_to_end_ends_the_work_first(home: Path) -> None:
    terminal = at_work(home)
    os.kill(terminal.pid, signal.SIGTERM)
    assert terminal.ended() == 143
    events = [one.event for one in read_journal(home / JOURNAL_NAME)]
    assert [one.reason for one in events if isinstance(one, UnitJudged)] == ["interrupted"]
    assert isinstance(events[-1], OrderEnded)
