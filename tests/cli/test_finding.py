"""Units, orders and counts from the record, as a person and as a program ask for them; no text in it does harm."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.cli.json_text import json_text
from rig.csvtext import csv_lines
from rig.events import THE_RIG, AirMeasured, Purpose, UnitNamed, Verdict
from rig.finding.columns import ORDERS, TALLY, UNITS
from rig.session import JOURNAL_NAME
from tests.cli.shop import Shop, opened
from tests.rig.finding.written import Batch, Done, write

HOSTILE = (
    "=HYPERLINK(\"http://x\",\"y\")",
    "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\uff1d1",
    "[bold red]x[/] <script>alert(1)</script> {x} %s",
    "\x1b[2J\x1b]0;title\x07\x9b31m\x7f\u0085",
    "\u202egnp.exe\u2066\u200f",
    "../../etc/passwd\x00",
    "x" * 10_000,
    "a,b;c\"d'e\nf",
    "' OR '1'='1",
)  # fmt: skip
_ACTS_ON_A_TERMINAL = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "120")
    write(
        tmp_path / JOURNAL_NAME,
        Batch(
            "QOC-0101",
            [
                Done(
                    "QOC18-001",
                    "2025-03-05T07:00:00.000Z",
                    more=[AirMeasured(19.46, 61.2, 101.3, "probe")],
                ),
                Done("QOC18-002", "2025-03-05T07:01:00.000Z", Verdict.BAD, "set-point-off"),
            ],
            person="Maren",
        ),
        Batch("QOC-0102", [Done(f"QOC12-{n:02d}", f"2025-04-01T07:{n:02d}:00.000Z") for n in range(30)]),
        Batch("QOC-0101", [Done("QOC18-001", "2026-03-05T07:00:00.000Z")], purpose=Purpose.VERIFY),
    )
    return opened(tmp_path / "home", monkeypatch, capsys)


def test_a_page_is_a_table_and_says_how_to_go_on(shop: Shop) -> None:
    code, out, err = shop.run("units")
    assert code == 0
    assert out.splitlines()[0].split()[:3] == ["serial", "verdict", "found"]
    assert out.splitlines()[1].startswith("QOC18-001  + good")
    assert len(out.splitlines()) == 21
    place = err.split("--next ")[1].strip()
    code, out, err = shop.run("units", "--next", place)
    assert (code, len(out.splitlines()), err) == (0, 14, "")


def test_a_program_gets_everything_with_the_documented_columns(shop: Shop) -> None:
    for name, columns in (("units", UNITS), ("orders", ORDERS)):
        _, told = shop.run_json(name)
        assert set(told[name][0]) == {column.name for column in columns} | set(told[name][0])
        code, out, _ = shop.run(name, "--csv")
        rows = list(csv.reader(io.StringIO(out)))
        assert (code, rows[0], len(rows) - 1) == (0, [column.name for column in columns], len(told[name]))
        _, out, _ = shop.run(name, "--columns")
        assert all(re.search(rf"^  {column.name} ", out, re.MULTILINE) for column in columns)
    assert len(shop.run_json("units")[1]["units"]) == 33
    _, told = shop.run_json("tally", "--each", "month")
    assert [(row["group"], row["units"]) for row in told["groups"]] == [("2025-03", 2), ("2025-04", 30)]
    assert set(told["groups"][0]) == {column.name for column in TALLY}


def test_a_csv_file_is_written_whole_and_never_over_another(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "units.csv"
    code, out, err = shop.run("units", "--order", "QOC-0101", "--csv", str(file))
    assert (code, out, err) == (0, "", f"3 rows: {file}\n")
    assert file.read_bytes().count(b"\r\n") == 4
    code, _, err = shop.run("units", "--csv", str(file))
    assert (code, "is there already" in err) == (2, True)
    assert shop.run("units", "--csv", str(file), "--force")[0] == 0


def test_a_count_says_how_many_came_out_good_and_why_the_others_did_not(shop: Shop) -> None:
    code, out, _ = shop.run("tally")
    assert code == 0
    assert re.search(r"^QOC-0101 +2 +1 +1 +0 +50\.0", out, re.MULTILINE)
    assert re.search(r"^all +32 +31 +1 +0 +96\.9", out, re.MULTILINE)
    assert re.search(r"^set point off +x bad +1 +100\.0", out, re.MULTILINE)


def test_surveys_and_studies_of_the_rig_are_no_orders(shop: Shop, tmp_path: Path) -> None:
    for number, purpose in (("GAUGE-1", Purpose.STUDY), ("SURVEY-1", Purpose.SURVEY)):
        write(
            tmp_path / JOURNAL_NAME, Batch(number, [Done("K-1", "2026-04-01T07:00:00.000Z")], purpose=purpose)
        )
    kept = Batch(
        "CHECK-K-1", [Done("K-1", "2026-04-02T07:00:00.000Z")], customer=THE_RIG, purpose=Purpose.VERIFY
    )
    write(tmp_path / JOURNAL_NAME, kept)
    told = shop.run_json("orders")[1]["orders"]
    assert [(one["order"], one["purpose"]) for one in told] == [
        ("QOC-0101", "verify"),
        ("QOC-0102", "set"),
        ("QOC-0101", "set"),
    ]
    for asked in (("--work", "study"), ("--order", "gauge")):
        assert [one["order"] for one in shop.run_json("orders", *asked)[1]["orders"]] == ["GAUGE-1"]
    assert [one["order"] for one in shop.run_json("orders", "--customer", "rig")[1]["orders"]] == [
        "CHECK-K-1"
    ]


def test_rows_that_differ_in_the_work_alone_are_told_apart_on_a_narrow_terminal(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = shop.run("units", "QOC18-001")
    assert [line.split()[-1] for line in out.splitlines()] == ["work", "verify", "set"]
    _, out, _ = shop.run("units", "--order", "QOC-0102", "--limit", "3")
    assert "work" not in out
    _, out, _ = shop.run("orders")
    assert "  work" in out.splitlines()[0]


def test_a_unit_of_a_lot_is_found_by_the_serial_that_it_bears_itself(shop: Shop, tmp_path: Path) -> None:
    done = [
        Done("LOT-7-0067", "2026-05-01T07:00:00.000Z", more=[UnitNamed("SN 5=x")]),
        Done("LOT-7-0068", "2026-05-01T07:01:00.000Z", more=[UnitNamed("SN 6")]),
    ]
    write(tmp_path / JOURNAL_NAME, Batch("LOT-7", done, purpose=Purpose.RECEIVE))
    assert [one["serial"] for one in shop.run_json("units", "SN 5=x")[1]["units"]] == ["LOT-7-0067"]
    code, _, err = shop.run("unit", "SN 6")
    assert (code, "own serial of LOT-7-0068" in err) == (2, True)
    assert shop.run_json("units", "SN")[1]["units"] == []


def test_a_unit_tells_its_years(shop: Shop) -> None:
    code, out, _ = shop.run("unit", "QOC18-001")
    assert code == 0
    assert "1. 2025-03-05 07:00 UTC  set in order QOC-0101" in out
    assert "2. 2026-03-05 07:00 UTC  verified, not taught, in order QOC-0101" in out
    assert re.search(r"by +Maren", out)
    assert re.findall(r"air +(.*)", out) == ["19.5 °C, 61 % humidity, by the probe"]
    code, _, err = shop.run("unit", "QOC18-00l")
    assert (code, "did you mean QOC18-00" in err) == (2, True)


@pytest.mark.parametrize(
    "words",
    [
        ("--order", "zzz"),
        ("--reason", "fine"),
        ("--since", "today"),
        ("--next", "x"),
        ("--limit", "0"),
        ("--type", ""),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(shop: Shop, words: tuple[str, ...]) -> None:
    try:
        code, out, err = shop.run("units", *words)
    except SystemExit as refused:
        code, (out, err) = int(str(refused.code)), shop.captured.readouterr()
    assert (code, out) == (2, "")
    assert "allowed:" in err or "did you mean" in err


@pytest.mark.parametrize("text", HOSTILE, ids=lambda text: ascii(text)[:20])
def test_hostile_text_in_every_field_is_text_and_nothing_else(shop: Shop, tmp_path: Path, text: str) -> None:
    hostile = Batch(
        text, [Done(text, "2026-05-01T07:00:00.000Z", Verdict.BAD, text)], text, text, person=text
    )
    write(tmp_path / JOURNAL_NAME, hostile)
    # This one letter no name in the store can hold, since the shop's database could not.
    named = text.replace("\x00", "\ufffd")
    for words in (("units",), ("orders",), ("tally", "--each", "customer"), ("unit", "--", text)):
        code, out, err = shop.run(*words)
        assert code == 0
        assert not _ACTS_ON_A_TERMINAL.search(out + err)
        # Nothing fills the screen.
        assert max(map(len, out.splitlines())) <= 130
        code, out, _ = shop.run(words[0], "--json", *words[1:])
        assert not _ACTS_ON_A_TERMINAL.search(out)
        assert {json.dumps(text), json.dumps(named)} & set(
            re.findall(r'"(?:[^"\\]|\\.)*"', json.dumps(json.loads(out)))
        )
    _, out, _ = shop.run("units", "--limit", "1", "--csv")
    (row,) = csv.DictReader(io.StringIO(out))
    assert not row["customer"].startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d"))
    assert shop.run("units", f"--customer={named}")[0] == 0


@given(st.lists(st.text(), min_size=1))
def test_no_text_becomes_a_formula_or_another_cell(row: list[str]) -> None:
    (line,) = list(csv.reader(io.StringIO("".join(csv_lines(row, []))))) or [[""]]
    assert len(line) == len(row)
    for cell in line:
        assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
        assert cell.isprintable()


@given(st.dictionaries(st.text(), st.text() | st.none() | st.floats(allow_nan=False)))
def test_json_loses_no_letter_and_moves_no_cursor(data: dict[str, object]) -> None:
    text = json_text(data)
    assert json.loads(text) == data
    assert text.replace("\n", "").isprintable()
