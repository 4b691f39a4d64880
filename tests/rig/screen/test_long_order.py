"""An order may be as long as it likes: a unit leaves nothing behind in memory that the record holds anyway."""

from __future__ import annotations

import gc
import time
from collections import Counter
from pathlib import Path

from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from tests.rig.screen.shop import PATIENCE_S, bench_at, order_text

_FIRST, _MORE = 3, 8
_OURS = ("hal", "rig", "sequences", "wiring")
# The made-up bench keeps the last 2000 of what really happened, for tests to look at; a real one has no such thing.
_KEPT_IN_RINGS = "hal.simulated.record"
_NOT_GOOD = '[[unit]]\ncount = 2\n[[unit]]\nfaults = [{ kind = "refuses-teach" }]'


def test_nothing_is_kept_of_each_unit(tmp_path: Path) -> None:
    """Counts our objects, which are the same on every machine: of no kind are there more for more units."""
    work = _order(tmp_path, "[[unit]]")
    for _ in range(_FIRST):
        _one_unit(work)
    before = _objects()
    for _ in range(_MORE):
        _one_unit(work)
    grown = {kind: more for kind, more in (_objects() - before).items() if more >= _MORE}
    work.leave("counted")
    assert grown == {}


def test_why_a_unit_is_not_good_is_still_known(tmp_path: Path) -> None:
    work = _order(tmp_path, _NOT_GOOD)
    for _ in range(3):
        _one_unit(work)
    work.leave("looked at")
    words = [unit.words for unit in work.board.standing.units.values()][:4]
    assert words[:2] == ["", ""]
    assert words[2].startswith("unit refused the step")
    assert words[3] == ""


def _order(home: Path, holds: str) -> OrderWork:
    (home / "orders").mkdir()
    path = home / "orders" / "QOC-0190.toml"
    path.write_text(order_text(500), encoding="utf-8")
    return OrderWork(bench_at(home, holds).order(str(path)), Words("en"))


def _one_unit(work: OrderWork) -> None:
    _until(work, Phase.READY, Phase.SCAN)
    work.enter(work.board.standing.open_serials[0])
    _until(work, Phase.FIT)
    work.enter("")
    _until(work, Phase.TAKE_OUT)
    if work.board.in_nest_not_good:
        work.enter(work.board.serial)
    else:
        work.enter("")


def _until(work: OrderWork, *phases: Phase) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while work.board.phase not in phases:
        assert time.monotonic() < end_s, work.board.phase
        work.pump()
        work.ask_state()
        work.instruction()
        time.sleep(0.002)


def _objects() -> Counter[str]:
    gc.collect()
    named = ((str(kind.__module__), kind.__name__) for kind in map(type, gc.get_objects()))
    return Counter(
        f"{room}.{name}" for room, name in named if room.partition(".")[0] in _OURS and room != _KEPT_IN_RINGS
    )
