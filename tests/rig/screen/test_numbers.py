"""A number that the person is asked for, such as what the scale shows."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from hal.operator import RequestKind
from rig.events import Asked, Stamped
from rig.screen.view.board import Phase
from rig.screen.view.instruction import instruction
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from tests.rig.screen.shop import bench_at, order_text


class Engine:
    """What was said to it."""

    done = False

    def __init__(self) -> None:
        self.said: list[object] = []

    def say_number(self, number: float) -> None:
        self.said.append(number)

    def say_done(self) -> None:
        self.said.append("done")


@pytest.fixture
def asked(tmp_path: Path) -> tuple[OrderWork, Engine]:
    """A bench without a gauge, where the scale has to be read; nobody but the person is there."""
    path = tmp_path / "order.toml"
    path.write_text(order_text(1), encoding="utf-8")
    work, engine = OrderWork(bench_at(tmp_path).order(str(path)), Words("en")), Engine()
    work.hands, work._engine = None, cast("Any", engine)
    read = Asked(RequestKind.READ_SCALE, "Stop. Read the scale and type the number in mm.", None)
    work.board.take(Stamped(1, 0, "2026-01-05T07:00:00.000Z", "QOC-0190", "QOC18-0041", read))
    return work, engine


@pytest.mark.parametrize(("typed", "number"), [("401,5", 401.5), ("401.5", 401.5), (" 7 ", 7.0)])
def test_it_is_said_with_comma_or_point(typed: str, number: float, asked: tuple[OrderWork, Engine]) -> None:
    work, engine = asked
    assert work.board.phase is Phase.ASKED
    assert instruction(work.board).large == "READ SCALE"
    assert work.enter(typed) is None
    assert engine.said == [number]


@pytest.mark.parametrize(
    ("typed", "remark"), [("", "scan.number"), ("QOC18-0042", "scan.no-number"), ("1.2.3", "scan.no-number")]
)
def test_neither_enter_nor_a_scan_is_taken_for_it(
    typed: str, remark: str, asked: tuple[OrderWork, Engine]
) -> None:
    work, engine = asked
    scan = work.enter(typed)
    assert scan is not None
    assert scan.key == remark
    assert engine.said == []
