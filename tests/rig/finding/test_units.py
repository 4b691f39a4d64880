"""Units are found by whatever a person knows of them, through an index, newest first, page by page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Connection, text

from rig.events import AirMeasured, Purpose, Verdict
from rig.finding.columns import UNITS
from rig.finding.opening import open_shop_store, open_store
from rig.finding.periods import period
from rig.finding.units import Place, question, units
from rig.finding.wanted import Asked, NotFound, Wanted, resolved
from rig.store.forwarding import send_by_hand
from tests.postgres import server
from tests.rig.finding.written import Batch, Done, write

# Measured twice, as it is before a unit is powered and before its verdict.
AIR = [AirMeasured(celsius, 61.0, 101.3, "probe") for celsius in (18.0, 19.5)]


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(
        tmp_path_factory.mktemp("shop") / "journal.sqlite3",
        Batch(
            "QOC-0101",
            [
                Done("QOC18-001", "2024-03-05T07:00:00.000Z", more=AIR),
                Done("QOC18-002", "2024-03-05T07:01:00.000Z", Verdict.BAD, "set-point-off"),
                Done("QOC18-010", "2024-03-05T07:02:00.000Z", Verdict.UNDECIDED, "near-tolerance"),
                Done("QOC18-010", "2024-03-05T07:03:00.000Z"),
            ],
            person="Maren",
        ),
        Batch("QOC-0102", [Done("QOC12-7", "2025-01-02T10:00:00.000Z")], "Ottermoor", "barrel-12-count"),
        Batch("QOC-0101", [Done("QOC18-001", "2026-06-01T06:00:00.000Z")], purpose=Purpose.VERIFY),
        Batch("100%_done", [Done("50%_x", "2026-07-01T06:00:00.000Z", None)], "=1+1", left=None),
    )


@pytest.fixture(scope="module")
def bench(path: Path) -> Iterator[Connection]:
    """The store of the bench itself, in SQLite."""
    with open_store(path) as opened:
        yield opened.connection


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, path: Path) -> Iterator[Connection]:
    """The same record on the bench and in the shop."""
    if request.param == "sqlite":
        with open_store(path) as opened:
            yield opened.connection
        return
    with server() as postgres, postgres.database("finding") as url:
        send_by_hand(path, url)
        with open_shop_store(url) as opened:
            yield opened.connection


def found(store: Connection, **asked: object) -> list[str]:
    return [row["serial"] for row in units(store, resolved(store, Asked(**asked)), 100).rows]  # type: ignore[arg-type]


ALL = ["50%_x", "QOC18-001", "QOC12-7", "QOC18-010", "QOC18-002", "QOC18-001"]


def test_all_stand_newest_first_and_each_once_for_its_order_and_purpose(store: Connection) -> None:
    assert found(store) == ALL
    assert found(store, every_attempt=True) == [*ALL[:4], "QOC18-010", *ALL[4:]]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({"serial": "QOC18-001"}, ["QOC18-001", "QOC18-001"]),
        ({"serial": "qoc18-0"}, ["QOC18-001", "QOC18-010", "QOC18-002", "QOC18-001"]),
        ({"serial": "12-"}, ["QOC12-7"]),
        ({"serial": "%"}, ["50%_x"]),
        ({"serial": "%_"}, ["50%_x"]),
        ({"serial": "' OR 1=1 --"}, []),
        ({"order": "qoc-0102"}, ["QOC12-7"]),
        ({"order": "QOC-01"}, ["QOC18-001", "QOC12-7", "QOC18-010", "QOC18-002", "QOC18-001"]),
        ({"customer": "otter"}, ["QOC12-7"]),
        ({"customer": "=1+1"}, ["50%_x"]),
        ({"sensor_type": "12-count"}, ["QOC12-7"]),
        ({"verdict": Verdict.BAD}, ["QOC18-002"]),
        ({"verdict": Verdict.UNDECIDED}, []),
        ({"verdict": Verdict.UNDECIDED, "every_attempt": True}, ["QOC18-010"]),
        ({"reason": "set-point-off"}, ["QOC18-002"]),
        ({"person": "maren"}, ["QOC18-010", "QOC18-002", "QOC18-001"]),
        ({"purpose": Purpose.VERIFY}, ["QOC18-001"]),
        ({"since": "2025", "until": "2026-06"}, ["QOC18-001", "QOC12-7"]),
        ({"until": "2024-03-05"}, ["QOC18-010", "QOC18-002", "QOC18-001"]),
        ({"serial": "QOC18", "verdict": Verdict.GOOD, "until": "2024"}, ["QOC18-010", "QOC18-001"]),
        ({"customer": "o", "reason": "proven", "sensor_type": "barrel-12"}, ["QOC12-7"]),
    ],
    ids=str,
)
def test_each_filter_and_several_together(
    store: Connection, asked: dict[str, object], expected: list[str]
) -> None:
    assert found(store, **asked) == expected


def test_a_name_that_is_not_in_the_record_is_answered_with_those_that_are(store: Connection) -> None:
    with pytest.raises(
        NotFound, match=r"no customer 'Nobody' in the record; allowed: =1[+]1, Ottermoor, Quill"
    ):
        found(store, customer="Nobody")
    with pytest.raises(NotFound, match="no bench"):
        found(store, bench="")


def test_the_bench_is_known_by_its_name_and_by_the_begin_of_its_uuid(store: Connection) -> None:
    name, uuid = store.execute(text("SELECT name, uuid FROM bench")).one()
    assert found(store, bench=name) == found(store, bench=uuid[:6]) == ALL


def test_every_column_is_documented_and_filled(store: Connection) -> None:
    row = units(store, Wanted(), 1).rows[0]
    assert list(row) == [column.name for column in UNITS]


def test_a_unit_tells_the_air_of_its_verdict_where_a_probe_measured_it(store: Connection) -> None:
    rows = units(store, Wanted(exactly={"serial": ("QOC18-001",)}), 9).rows
    assert [(row["air_c"], row["air_humidity_percent"]) for row in rows] == [(None, None), (19.5, 61.0)]


@given(size=st.integers(1, 8), every_attempt=st.booleans())
def test_pages_follow_on_without_a_gap_or_a_unit_twice(
    store: Connection, size: int, every_attempt: bool
) -> None:
    wanted = Wanted(every_attempt=every_attempt)
    whole = units(store, wanted, 100)
    pages, after = [], None
    for _ in range(len(whole.rows)):
        page = units(store, wanted, size, after)
        pages += page.rows
        if page.more is None:
            break
        after = Place.read(str(page.more))
    assert pages == whole.rows


@pytest.mark.parametrize("newest", [0, 1, 3, 100])
def test_part_of_a_serial_is_found_among_the_newest_or_among_all_alike(
    store: Connection, newest: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rig.finding.units._NEWEST", newest)
    for size in range(1, 6):
        found, after = [], None
        for _ in range(4):
            page = units(store, Wanted(part="qoc18"), size, after)
            found += [row["serial"] for row in page.rows]
            if page.more is None:
                break
            after = page.more
        assert found == ["QOC18-001", "QOC18-010", "QOC18-002", "QOC18-001"]


_PLANS = (
    ({"serial": "QOC18-001"}, "USING INDEX attempt_by_serial (serial=?)"),
    ({"order": "QOC-0101"}, "USING INDEX attempt_by_order (order_number=?)"),
    ({"customer": "Ottermoor"}, "USING INDEX attempt_by_customer (customer=?)"),
    ({"sensor_type": "12-count"}, "USING INDEX attempt_by_type (sensor_type=?)"),
    ({"verdict": Verdict.GOOD}, "USING INDEX attempt_by_verdict (verdict=?)"),
    ({"reason": "proven"}, "USING INDEX attempt_by_reason (reason=?)"),
    ({"reason": "proven", "since": "2025"}, "USING INDEX attempt_by_reason (reason=? AND began_utc>?)"),
    (
        {"reason": "proven", "verdict": Verdict.GOOD, "sensor_type": "12-count"},
        "attempt_by_reason (reason=?)",
    ),
    ({"person": "maren"}, "USING INDEX attempt_by_person (person=?)"),
    ({"purpose": Purpose.VERIFY, "verdict": Verdict.GOOD}, "USING INDEX attempt_by_purpose (purpose=?)"),
    ({"purpose": Purpose.SET, "verdict": Verdict.GOOD}, "USING INDEX attempt_by_verdict (verdict=?)"),
    ({"purpose": Purpose.SET}, "SCAN attempt USING INDEX attempt_by_time"),
    ({"since": "2025", "until": "2025"}, "USING INDEX attempt_by_time (began_utc>? AND began_utc<?)"),
    ({"serial": "QOC18-"}, "SCAN attempt USING COVERING INDEX attempt_by_serial"),
    ({}, "SCAN attempt USING INDEX attempt_by_time"),
)


@pytest.mark.parametrize(("asked", "plan"), _PLANS, ids=str)
def test_an_index_leads_to_a_page_and_has_it_in_order(
    bench: Connection, asked: dict[str, object], plan: str
) -> None:
    wanted = resolved(bench, Asked(**asked))  # type: ignore[arg-type]
    sql = question(wanted, 20).compile(bench.engine, compile_kwargs={"literal_binds": True})
    told = "\n".join(row[3] for row in bench.exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}"))
    assert plan in told
    part_of_a_serial = "SCAN attempt USING COVERING" in told
    assert ("TEMP B-TREE FOR ORDER BY" in told) == part_of_a_serial
    assert "SCAN decision" not in told


def test_an_index_leads_to_what_one_bench_of_many_has_recorded(bench: Connection) -> None:
    name = bench.execute(text("SELECT name FROM bench")).scalar_one()
    wanted = resolved(bench, Asked(bench=name))
    sql = question(wanted, 20).compile(bench.engine, compile_kwargs={"literal_binds": True})
    told = "\n".join(row[3] for row in bench.exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}"))
    assert "USING INDEX attempt_by_bench (bench=?)" in told


@pytest.mark.parametrize(
    ("given", "first", "after"),
    [
        ("2024", "2024-01-01", "2025-01-01"),
        ("2024-02", "2024-02-01", "2024-03-01"),
        ("2024-12", "2024-12-01", "2025-01-01"),
        ("2024-02-29", "2024-02-29", "2024-03-01"),
    ],
)
def test_a_period_goes_from_its_begin_to_the_next(given: str, first: str, after: str) -> None:
    assert period(given) == (first, after)


@pytest.mark.parametrize(
    "given",
    [
        "",
        "24",
        "2025-02-29",
        "2024-1",
        "9999",
        "9999-12-31",
        "0000",
        "2024-01-01T00",
        "\u0662\u0660\u0662\u0664",
    ],
)
def test_what_is_no_period_is_refused(given: str) -> None:
    with pytest.raises(ValueError, match="allowed: a year, month or day"):
        period(given)


@pytest.mark.parametrize("text", ["", "x", "2024/1", "2024/a/b", "2024/\u0661/2", "/1/2"])
def test_what_is_no_place_in_a_list_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="no place"):
        Place.read(text)


@pytest.mark.parametrize(
    "place", [Place("2026-03-05T07:00:00.000Z", 1, 17), Place("2026-03-05", -1, 3)], ids=str
)
def test_a_place_is_read_as_it_is_told(place: Place) -> None:
    assert Place.read(str(place)) == place


@pytest.mark.parametrize(
    "text", ["", "2026", "2026/1", "/1/2", "2026/x/2", "2026/1/-2", "2026/\u0661/2", "2026/--1/2"]
)
def test_what_is_no_place_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="no place in the list"):
        Place.read(text)
