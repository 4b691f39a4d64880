"""What is known of a check unit, out of the record: of its own rig only, and as it stood at a given entry."""

from __future__ import annotations

from pathlib import Path

from rig.control.chart import Watching
from rig.control.check_unit import CheckUnit, State
from rig.control.history import account_before, account_in, enter
from rig.events import CheckUnitGivenUp, CheckUnitLookedAt, CheckUnitMeasured
from rig.journal import reading
from rig.store.database import SqliteDatabase

RIG, UNIT, ORDER = "rig-2", "Q-1", "CHECK-Q-1"


def measured(value_mm: float) -> CheckUnitMeasured:
    return CheckUnitMeasured(
        RIG, UNIT, f"run {value_mm}", {"outer": [value_mm, 0.5]}, "good: well", "", "Maren"
    )


def kept(path: Path, rig: str = RIG) -> None:
    enter(path, rig, ORDER, UNIT, CheckUnit(rig, UNIT, {}, {}, Watching(), person="Maren").kept())


def test_the_account_is_that_of_its_rig_and_its_moment(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    assert account_in(path, RIG) is None
    kept(path)
    kept(path, "other-rig")
    ends = []
    looked = CheckUnitLookedAt(RIG, UNIT, "outer", "belt", "rig", "Tobias")
    for event in (
        measured(0.0),
        measured(3.0),
        looked,
        measured(0.1),
        CheckUnitGivenUp(RIG, UNIT, "Tobias", "torn"),
    ):
        enter(path, RIG, ORDER, UNIT, event)
        with reading(path) as database:
            ends.append(int(database.execute("SELECT max(number) FROM entry").fetchone()[0]))
    with reading(path) as database:
        accounts = [account_before(SqliteDatabase(database), RIG, end + 1) for end in ends]
        assert account_before(SqliteDatabase(database), RIG, ends[0] + 1, of_bench=99) is None
    states = [None if one is None else one.state for one in accounts]
    assert states == [State.LEARNING, State.SIGNAL, State.NOT_AGAIN, State.LEARNING, None]
    assert account_in(path, RIG) is None
    other = account_in(path, "other-rig")
    assert other is not None
    assert other.state is State.NOT_MEASURED


def test_a_unit_that_is_kept_anew_begins_anew(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    kept(path)
    enter(path, RIG, ORDER, UNIT, measured(0.0))
    kept(path)
    account = account_in(path, RIG)
    assert account is not None
    assert account.state is State.NOT_MEASURED
    assert account.unit.watching == Watching()
