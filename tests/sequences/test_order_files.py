"""Order files: every wrong edit is refused on its line, with what was given and what is allowed."""

from __future__ import annotations

import pytest

from sequences.library import load_order, shipped_orders
from sequences.order import Order
from tests.badfiles import DataFileContract, Slip, check_slip, problems_of
from wiring.tomlfile import parse_toml_model

POINT = shipped_orders()["tipper-point-no"].read_text(encoding="utf-8")
WINDOW = shipped_orders()["hopper-window-no"].read_text(encoding="utf-8")
LISTED = shipped_orders()["stack-window-nc"].read_text(encoding="utf-8")
FULL_RANGE = shipped_orders()["infeed-full-range"].read_text(encoding="utf-8")

SERIALS = '["QOCB-0007", "QOCB-0009", "QOCB-0012"]'
CODE = "letters, digits, . _ and -"


def parse(text: str, file_name: str = "order.toml") -> Order:
    return parse_toml_model(text, file_name, Order, what="order")


class TestOrderFile(DataFileContract):
    good_text = POINT
    load = staticmethod(load_order)


POINT_SLIPS = (
    Slip(
        "number that is a path", '"QOC-0101"', '"../QOC-0101"', "number", "not written", '"../QOC-0101"', CODE
    ),
    Slip(
        "number missing",
        'number = "QOC-0101"\n',
        "",
        "number",
        "is missing",
        "",
        CODE,
        at=None,
    ),
    Slip("no customer", '"Quillmere Orchard Co-op"', '""', "customer", "too short", '""', "1 to 80"),
    Slip(
        "customer with an escape",
        '"Quillmere',
        '"\\u001b[31mQuillmere',
        "customer",
        "cannot be printed, U+001B",
        '"\\x1b[31mQuillmere Orchard Co-op"',
        "printable, on one line",
    ),
    Slip(
        "customer with a hidden joiner",
        '"Quillmere',
        '"Quill\\u200bmere',
        "customer",
        "cannot be printed, U+200B",
        '"Quill\\u200bmere Orchard Co-op"',
        "printable, on one line",
    ),
    Slip("no units", "quantity = 12", "quantity = 0", "quantity", "too small", "0", "1 to 10000"),
    Slip(
        "too many units", "quantity = 12", "quantity = 10001", "quantity", "too large", "10001", "1 to 10000"
    ),
    Slip("half a unit", "quantity = 12", "quantity = 12.5", "quantity", "whole number", "12.5", "1 to 10000"),
    Slip(
        "quantity as text",
        "quantity = 12",
        'quantity = "12"',
        "quantity",
        "whole number",
        '"12"',
        "1 to 10000",
    ),
    Slip(
        "type on two lines",
        '"barrel-18-rail"',
        '"a\\nb"',
        "sensor_type",
        "a line end",
        '"a\\nb"',
        "name of a sensor type",
    ),
    Slip(
        "no first number", "first = 41\n", "", "serial_run.first", "is missing", "", "0 to", at="[serial_run]"
    ),
    Slip("first below nought", "first = 41", "first = -1", "serial_run.first", "too small", "-1", "0 to"),
    Slip("prefix with a space", '"QOC18-"', '"QOC 18"', "serial_run.prefix", "not written", '"QOC 18"', CODE),
    Slip(
        "run outgrows its digits",
        "digits = 4",
        "digits = 1",
        "serial_run.digits",
        "the last unit has number 52",
        "1",
        "2 or more",
    ),
    Slip(
        "run outgrows its digits by one",
        "first = 41\n",
        "first = 9989\n",
        "serial_run.digits",
        "the last unit has number 10000",
        "4",
        "5 or more",
        at="digits = 4",
    ),
    Slip(
        "serials listed and counted",
        "[serial_run] ",
        'serials = ["QOC18-0001"]\n[serial_run] ',
        "serials",
        "either listed or counted up",
        "both serials and serial_run",
        "serials or serial_run",
    ),
    Slip("mode mistyped", '"single-point"', '"single"', "setting.mode", "not a word", '"single"', '"window"'),
    Slip(
        "function in words",
        'function = "NO"',
        'function = "normally open"',
        "setting.output_function",
        "not a word",
        '"normally open"',
        '"NO" or "NC"',
    ),
    Slip(
        "type in lower case", '"PNP"', '"pnp"', "setting.output_type", "not a word", '"pnp"', '"PNP" or "NPN"'
    ),
    Slip(
        "no set point", "at_mm = 400\n", "", "setting.at_mm", "needs at_mm", "", "at_mm, tol", at="[setting]"
    ),
    Slip(
        "no tolerance",
        "tolerance_mm = 8 ",
        "# ",
        "setting.tolerance_mm",
        "needs",
        "",
        "at_mm, tol",
        at="[setting]",
    ),
    Slip(
        "point with a far end",
        "at_mm = 400\n",
        "at_mm = 400\nfar_mm = 600\n",
        "setting.far_mm",
        "mode single-point has no far_mm",
        "600",
        "at_mm, tolerance_mm",
        at="far_mm",
    ),
    Slip("set point on the face", "at_mm = 400", "at_mm = 0", "setting.at_mm", "too small", "0", "above 0"),
    Slip(
        "set point unlimited", "at_mm = 400", "at_mm = inf", "setting.at_mm", "finite number", "inf", "10000"
    ),
    Slip(
        "no slack at all",
        "tolerance_mm = 8 ",
        "tolerance_mm = 0 ",
        "setting.tolerance_mm",
        "small",
        "0",
        "above 0",
    ),
    Slip(
        "tolerance down to the face",
        "tolerance_mm = 8 ",
        "tolerance_mm = 400 ",
        "setting.tolerance_mm",
        "too large for these set points",
        "400",
        "less than 400",
    ),
    Slip(
        "designation without a sign",
        '"=L1.T1-BG3"',
        '"L1.T1-BG3"',
        "setting.reference_designation",
        "not written",
        '"L1.T1-BG3"',
        "such as =A1-BG3",
    ),
    Slip("no readings", "readings = 5", "readings = 0", "checks.readings", "too small", "0", "1 to 100"),
    Slip(
        "no settling", "factor = 3.0", "factor = 0.5", "checks.settle_factor", "too small", "0.5", "1 to 20"
    ),
    Slip(
        "yes for true",
        "near_blind_zone = true",
        "near_blind_zone = 1",
        "checks.near_blind_zone",
        "true or false",
        "1",
        "true",
    ),
    Slip("own rule", '"guarded"', '"mine"', "checks.rule", "not a word", '"mine"', '"simple"'),
    Slip(
        "risk without its rule",
        'rule = "guarded"',
        'rule = "guarded"\nlargest_risk = 0.01',
        "checks.largest_risk",
        "belong together",
        "0.01 with rule guarded",
        'rule = "risk"',
        at="largest_risk",
    ),
    Slip(
        "rule without its risk",
        'rule = "guarded"',
        'rule = "risk"',
        "checks.largest_risk",
        "belong together",
        "nothing",
        "between 0 and 0.5",
        at="[checks]",
    ),
    Slip(
        "check mistyped",
        "near_blind_zone = true",
        "near_blind_zome = true",
        "checks.near_blind_zome",
        "did you mean near_blind_zone?",
        "true",
        "near_blind_zone",
    ),
)

WINDOW_SLIPS = (
    Slip(
        "near beyond far",
        "near_mm = 150",
        "near_mm = 450",
        "setting.near_mm",
        "must be less than far_mm",
        "450",
        "less than far_mm = 450",
    ),
    Slip(
        "tolerances meet",
        "tolerance_mm = 8",
        "tolerance_mm = 150",
        "setting.tolerance_mm",
        "too large for these set points",
        "150",
        "less than 150",
    ),
    Slip(
        "tolerances meet in a narrow window",
        "far_mm = 450\ntolerance_mm = 8",
        "far_mm = 160\ntolerance_mm = 5",
        "setting.tolerance_mm",
        "too large for these set points",
        "5",
        "less than 5",
        at="tolerance_mm",
    ),
    Slip(
        "one end of two",
        "near_mm = 150\n",
        "",
        "setting.near_mm",
        "mode window needs near_mm",
        "",
        "near_mm, far_mm, tolerance_mm",
        at="[setting]",
    ),
)

LISTED_SLIPS = (
    Slip(
        "a serial too few",
        SERIALS,
        '["A1", "A2"]',
        "serials",
        "each unit",
        "an array of 2",
        "3, as in quantity",
    ),
    Slip("no serials at all", SERIALS, "[]", "serials", "too few", "an array of 0", "1 to 10000"),
    Slip(
        "a serial twice",
        '"QOCB-0012"',
        '"QOCB-0009"',
        "serials#3",
        "same serial as serials#2",
        '"QOCB-0009"',
        "dif",
    ),
    Slip(
        "differs in case",
        '"QOCB-0012"',
        '"qocb-0007"',
        "serials#3",
        "as serials#1",
        '"qocb-0007"',
        "capital letters",
    ),
    Slip("empty serial", '"QOCB-0012"', '""', "serials#3", "not written", '""', CODE),
    Slip(
        "serials forgotten",
        f"serials = {SERIALS}\n",
        "",
        "serials",
        "either listed or counted up",
        "neither serials nor serial_run",
        "serials or serial_run",
        at=None,
    ),
    Slip(
        "notes with a tab",
        'notes = "From the shelf, so the serials are not in one run. ',
        'notes = "Shelf\\t1. ',
        "notes",
        "cannot be printed, U+0009",
        '"Shelf\\t1. Mounted on the gantry, looking down."',
        "printable, on any number of lines",
    ),
)

FULL_RANGE_SLIPS = (
    Slip(
        "full range with a distance",
        'output_type = "push-pull"\n',
        'output_type = "push-pull"\nat_mm = 300\n',
        "setting.at_mm",
        "mode full-range has no at_mm",
        "300",
        "no distance and no tolerance",
        at="at_mm",
    ),
    Slip(
        "full range with a tolerance",
        'output_type = "push-pull"\n',
        'output_type = "push-pull"\ntolerance_mm = 3\n',
        "setting.tolerance_mm",
        "mode full-range has no tolerance_mm",
        "3",
        "no distance and no tolerance",
        at="tolerance_mm",
    ),
)

SLIPS = [
    pytest.param(text, slip, id=slip.name)
    for text, slips in (
        (POINT, POINT_SLIPS),
        (WINDOW, WINDOW_SLIPS),
        (LISTED, LISTED_SLIPS),
        (FULL_RANGE, FULL_RANGE_SLIPS),
    )
    for slip in slips
]


@pytest.mark.parametrize(("good_text", "slip"), SLIPS)
def test_wrong_edit_is_told_with_its_place(good_text: str, slip: Slip) -> None:
    check_slip(slip, good_text, parse)


def test_all_that_a_changed_mode_makes_wrong_is_told_at_once() -> None:
    problems = problems_of(lambda: parse(WINDOW.replace('mode = "window"', 'mode = "single-point"')))
    assert [(problem.key, problem.given) for problem in problems] == [
        ("setting.at_mm", ""),
        ("setting.near_mm", "150"),
        ("setting.far_mm", "450"),
    ]


def test_notes_may_have_lines_but_not_hide_anything() -> None:
    assert parse(POINT).notes.count("\n") == 2
    problems = problems_of(lambda: parse(POINT.replace("The bin stops", "The bin\\rstops")))
    assert [problem.key for problem in problems] == ["notes"]
    assert "U+000D" in problems[0].message
