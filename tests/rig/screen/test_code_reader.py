"""What the code reader of the bench reads goes where a scanned or typed serial goes."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rig.library import Library
from rig.screen.setup import practice
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME
from tests.rig.screen.shop import PATIENCE_S
from wiring.profile import CodeReaderProfile


@pytest.fixture
def work(tmp_path: Path) -> OrderWork:
    setup = practice(Library(tmp_path), 1.0, tmp_path / JOURNAL_NAME)
    rig = setup.profile.model_copy(update={"code_reader": CodeReaderProfile(port="sim:codes")})
    setup = dataclasses.replace(setup, profile=rig, real_time=False, quickest_s=0.0)
    return OrderWork(setup, Words("en"))


def until(work: OrderWork, there: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not there():
        assert time.monotonic() < end_s, work.board.phase
        work.pump()
        time.sleep(0.002)


def read(work: OrderWork, code: str) -> str:
    """Hold a code before the reader; returns what came to the screen."""
    assert work.hands is not None
    simulated = work.hands._simulated
    assert simulated is not None
    work._at_bench(lambda: simulated.world.code_reader.scan(code))
    codes: list[str] = []

    def came() -> bool:
        codes.extend(work.take_codes())
        return bool(codes)

    until(work, came)
    (code,) = codes
    return code


def test_a_read_serial_takes_the_unit_as_a_scanned_one_does(work: OrderWork) -> None:
    serial = work.board.standing.open_serials[0]
    work.begin()
    until(work, lambda: work.board.phase is Phase.SCAN)
    unknown = work.enter(read(work, "NOBODY-1"))
    assert unknown is not None
    assert unknown.serial is None
    taken = work.enter(read(work, serial.lower()))
    assert taken is not None
    assert taken.serial == serial
    until(work, lambda: work.board.phase is Phase.FIT)
    assert work.board.serial == serial
    assert work.take_codes() == ()
    work.leave("done")
