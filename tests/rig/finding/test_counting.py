"""Yields, reasons, times and the state of orders, worked out by hand for a few units."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.events import Purpose, Verdict
from rig.finding.columns import ORDERS, REASONS, TALLY
from rig.finding.counted import Grouping, counted
from rig.finding.opening import open_store
from rig.finding.orders import OrderState, orders
from rig.finding.tally import Tally, Tried, tallies
from rig.finding.wanted import Wanted
from tests.rig.finding.written import Batch, Done, write

GOOD, BAD, UNDECIDED = Verdict


def tried(unit: str, verdict: str, *, by_hand: str = "", reason: str = "r", seconds: float = 10.0) -> Tried:
    return Tried("", (unit,), verdict, by_hand, reason, seconds)


def test_the_last_attempt_counts_and_the_first_one_makes_the_first_pass() -> None:
    whole, _ = tallies(
        [
            tried("1", GOOD, seconds=10),
            tried("2", UNDECIDED, seconds=20),
            tried("2", GOOD, seconds=30),
            tried("3", BAD, reason="b", seconds=40),
            tried("4", UNDECIDED, by_hand="good", reason="n", seconds=50),
            tried("5", "", seconds=9999),
        ]
    )
    row = whole.as_row()
    assert [row[name] for name in ("units", "good", "bad", "undecided", "by_hand")] == [4, 3, 1, 0, 1]
    assert row["yield_percent"] == 75.0
    assert row["first_pass_percent"] == 25.0
    assert (row["median_s"], row["slow_s"], row["attempts"]) == (30.0, 50.0, 5)
    told = [(one["reason"], one["units"], one["running_percent"]) for one in whole.reasons()]
    assert told == [("b", 1, 50.0), ("n", 1, 100.0)]


def test_nothing_counted_is_no_figure_instead_of_a_wrong_one() -> None:
    row = Tally().as_row()
    assert (row["units"], row["yield_percent"], row["median_s"], row["slow_s"]) == (0, None, None, None)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(list(Verdict)), st.sampled_from("xyz"))))
def test_whatever_is_counted_adds_up(made: list[tuple[str, Verdict, str]]) -> None:
    whole, groups = tallies(
        Tried(group, (group, "1"), verdict, "", reason, 1.0) for group, verdict, reason in made
    )
    row = whole.as_row()
    assert (
        row["good"] + row["bad"] + row["undecided"]
        == row["units"]
        == sum(one.units for one in groups.values())
    )
    reasons = list(whole.reasons())
    assert sum(one["units"] for one in reasons) == row["units"] - row["good"]
    assert not reasons or reasons[-1]["running_percent"] == 100.0
    assert reasons == sorted(reasons, key=lambda one: -one["units"])


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(
        tmp_path_factory.mktemp("shop") / "journal.sqlite3",
        Batch(
            "A-1", [Done("1", "2025-01-01T07:00:00.000Z"), Done("2", "2025-01-01T08:00:00.000Z", BAD, "b")]
        ),
        Batch("A-2", [Done("3", "2025-02-01T07:00:00.000Z", UNDECIDED, "n")], "Ottermoor", left=2),
        Batch("A-2", [Done("3", "2025-03-01T07:00:00.000Z")], "Ottermoor", left=0),
        Batch("A-3", [Done("4", "2025-04-01T07:00:00.000Z", seconds=99.0)], left=5),
        Batch("A-1", [Done("1", "2025-05-01T07:00:00.000Z")], purpose=Purpose.VERIFY),
        Batch("A-4", [Done("5", "2025-06-01T07:00:00.000Z", None)], left=None),
    )


def test_an_order_is_told_as_all_its_runs_together(path: Path) -> None:
    with open_store(path) as store:
        rows = orders(store.connection, Wanted(), 100).rows
    assert [column.name for column in ORDERS if column.name not in rows[0]] == []
    told = [
        (row["order"], row["purpose"], row["state"], row["left"], row["good"], row["bad"]) for row in rows
    ]
    assert told == [
        ("A-4", "set", "in work", 1, 0, 0),
        ("A-1", "verify", "done", 0, 1, 0),
        ("A-3", "set", "open", 5, 1, 0),
        ("A-2", "set", "done", 0, 1, 0),
        ("A-1", "set", "done", 0, 1, 1),
    ]
    second = next(row for row in rows if row["order"] == "A-2")
    assert (second["yield_percent"], second["first_pass_percent"]) == (100.0, 0.0)
    assert (second["began_utc"][:10], second["last_utc"][:10]) == ("2025-02-01", "2025-03-01")


@pytest.mark.parametrize(
    ("state", "expected"),
    [(OrderState.DONE, ["A-1", "A-2", "A-1"]), (OrderState.OPEN, ["A-3"]), (OrderState.IN_WORK, ["A-4"])],
)
def test_orders_in_a_state_come_page_by_page(path: Path, state: OrderState, expected: list[str]) -> None:
    found: list[Any] = []
    with open_store(path) as store:
        page = orders(store.connection, Wanted(), 1, state=state)
        found += page.rows
        while page.more is not None:
            page = orders(store.connection, Wanted(), 1, page.more, state)
            found += page.rows
    assert [row["order"] for row in found] == expected


@pytest.mark.parametrize(
    ("grouping", "expected"),
    [
        (Grouping.ORDER, {"A-1": 2, "A-2": 1, "A-3": 1}),
        (Grouping.CUSTOMER, {"Ottermoor": 1, "Quillmere Orchard Co-op": 3}),
        (Grouping.YEAR, {"2025": 4}),
        (Grouping.MONTH, {"2025-01": 2, "2025-02": 1, "2025-03": 1, "2025-04": 1}),
        (Grouping.TYPE, {"barrel-18-rail": 4}),
    ],
)
def test_units_are_counted_by_what_is_asked(path: Path, grouping: Grouping, expected: dict[str, int]) -> None:
    with open_store(path) as store:
        _, groups = counted(store.connection, Wanted(exactly={"purpose": ("set",)}), grouping)
    assert {name: one.units for name, one in groups.items()} == expected
    assert all(set(one.as_row()) | {"group"} == {column.name for column in TALLY} for one in groups.values())
    assert all(
        set(row) == {column.name for column in REASONS} for one in groups.values() for row in one.reasons()
    )
