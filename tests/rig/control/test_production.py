"""Deviations out of the record, the same from the bench's own store and from the shop's."""

from __future__ import annotations

from pathlib import Path

from rig.control.chart import Watching
from rig.control.check_unit import CheckUnit
from rig.control.history import account_before, enter
from rig.control.production import Each, Point, deviations, studied
from rig.events import Event, FigureMeasured, Verdict
from rig.finding.opening import open_shop_store, open_store
from rig.finding.wanted import Wanted
from rig.store.forwarding import send_by_hand
from tests.postgres import server
from tests.rig.finding.written import Batch, Done, write


def measured(**edges_mm: float) -> list[Event]:
    return [
        FigureMeasured(f"deviation at the machine, {edge}", at, 0.5, "mm") for edge, at in edges_mm.items()
    ]


def record(path: Path) -> Path:
    bad = Done("Q-2", "2026-03-05T07:01:00.000Z", Verdict.BAD, more=measured(inner=-4.0, outer=9.0))
    first = [
        Done("Q-1", "2026-03-05T07:00:00.000Z", more=measured(inner=0.2, outer=0.4)),
        bad,
        Done("Q-3", "2026-03-05T07:02:00.000Z", more=measured(inner=7.0)),
        Done("Q-3", "2026-03-05T07:03:00.000Z", more=measured(inner=0.3, outer=-0.1)),
        Done("Q-4", "2026-03-05T07:04:00.000Z"),
    ]
    second = [Done("Q-9", "2026-03-04T07:00:00.000Z", more=measured(outer=1.0))]
    write(path, Batch("A", first, person="Maren", tolerance_mm=6.0), Batch("B", second, tolerance_mm=2.0))
    enter(path, "rig-2", "CHECK-Q-1", "Q-1", CheckUnit("rig-2", "Q-1", {}, {}, Watching()).kept())
    return path


def told(points: list[Point]) -> list[tuple[str, str, float, float | None]]:
    return [(one.serial, one.edge, one.value_mm, one.tolerance_mm) for one in points]


EXPECTED = [
    ("Q-1", "inner", 0.2, 6.0),
    ("Q-1", "outer", 0.4, 6.0),
    ("Q-2", "inner", -4.0, 6.0),
    ("Q-2", "outer", 9.0, 6.0),
    ("Q-3", "inner", 0.3, 6.0),
    ("Q-3", "outer", -0.1, 6.0),
    ("Q-9", "outer", 1.0, 2.0),
]


def test_each_unit_stands_by_its_last_attempt_in_order_of_work(tmp_path: Path) -> None:
    path = record(tmp_path / "journal.sqlite3")
    with open_store(path) as store:
        points = deviations(store.connection, Wanted())
        assert told(points) == EXPECTED
        only = deviations(store.connection, Wanted(exactly={"order_number": ("A",), "verdict": ("bad",)}))
        assert {one.serial for one in only} == {"Q-2"}
    charts = studied(points, Each.PERSON, Watching())
    assert [(one.group, one.edge, len(one.values)) for one in charts] == [
        ("Maren", "inner", 3),
        ("Maren", "outer", 3),
        ("nobody signed in", "outer", 1),
    ]
    assert [one.group for one in studied(points, Each.NEST, Watching())] == ["nest A"] * 2


def test_the_shop_tells_the_same(tmp_path: Path) -> None:
    path = record(tmp_path / "journal.sqlite3")
    with server() as postgres, postgres.database("control") as url:
        send_by_hand(path, url)
        with open_shop_store(url) as store:
            assert told(deviations(store.connection, Wanted())) == EXPECTED
            account = account_before(store.records.database, "rig-2")
    assert account is not None
    assert account.unit.serial == "Q-1"
