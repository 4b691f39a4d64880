"""Label template files: every wrong edit is refused on its line, with what was given and what is allowed."""

from __future__ import annotations

import pytest

from rig.library import Section
from rig.papers.label_template import LabelTemplate, load_label
from tests.badfiles import DataFileContract, Slip, check_slip, problems_of
from wiring.tomlfile import parse_toml_model

ROLL = Section.LABELS.shipped()["unit-roll"].read_text(encoding="utf-8")
SHEET = Section.LABELS.shipped()["unit-sheet"].read_text(encoding="utf-8")
DO_NOT_USE = Section.LABELS.shipped()["do-not-use"].read_text(encoding="utf-8")


def parse(text: str, file_name: str = "label.toml") -> LabelTemplate:
    return parse_toml_model(text, file_name, LabelTemplate, what="label template")


class TestLabelFile(DataFileContract):
    good_text = ROLL
    load = staticmethod(load_label)


ROLL_SLIPS = (
    Slip("no use", 'use = "good"', 'use = "bad"', "use", "not a word", '"bad"', '"good" or "do-not-use"'),
    Slip("too small a label", "width_mm = 50", "width_mm = 5", "width_mm", "too small", "5", "10 to 300"),
    Slip("no dots", "dpi = 203", "dpi = 0", "printer.dpi", "too small", "0", "150 to 2400"),
    Slip(
        "a module of two and a half dots",
        "module_mm = 0.375 ",
        "module_mm = 0.312 ",
        "code.module_mm",
        "no whole number of dots at 203 dpi, 3 at least",
        "0.312, 2.49 dots",
        "such as 0.375 or 0.500",
    ),
    Slip(
        "a module of two dots",
        "module_mm = 0.375 ",
        "module_mm = 0.25 ",
        "code.module_mm",
        "3 at least",
        "0.25, 2.00 dots",
        "0.375 or 0.500",
    ),
    Slip(
        "another printer, to which the module does not fit",
        "dpi = 203",
        "dpi = 300",
        "code.module_mm",
        "no whole number of dots at 300 dpi",
        "0.375, 4.43 dots",
        "0.339 or 0.423",
        at="module_mm",
    ),
    Slip(
        "a quiet zone too narrow for the kind",
        'kind = "data-matrix"',
        'kind = "qr"',
        "code.quiet_modules",
        "readers of qr need more",
        "1",
        "4 or more",
        at="quiet_modules",
    ),
    Slip(
        "no room for the smallest code",
        "side_mm = 15",
        "side_mm = 4.4",
        "code.side_mm",
        "smallest code does not fit",
        "4.4",
        "4.50 or more",
    ),
    Slip(
        "a code without serial",
        'holds = ["serial", "order", "type", "date"]',
        'holds = ["order"]',
        "code.holds",
        "must hold the serial",
        "order",
        "serial, order, type, date",
    ),
    Slip(
        "a code beyond the label",
        "side_mm = 15",
        "side_mm = 17",
        "code.side_mm",
        "goes beyond the label",
        "x 34 to 51, y 1 to 18 mm",
        "x 0 to 50, y 0 to 25 mm",
    ),
    Slip(
        "a code over a text",
        "side_mm = 15 ",
        "side_mm = 15.5 ",
        "code.side_mm",
        "lies over another part",
        "x 34, y 1, 15.5 x 15.5 mm",
        "y 16 to 20.2 mm",
    ),
    Slip(
        "a text beyond the label",
        "y_mm = 20.2\nwidth_mm = 32",
        "y_mm = 21.4\nwidth_mm = 32",
        "field#5.width_mm",
        "goes beyond the label",
        "x 1.5 to 33.5, y 21.4 to 25.2 mm",
        "y 0 to 25 mm",
        at="width_mm = 32\nheight_mm = 3.8",
    ),
    Slip(
        "letters higher than their field",
        "size_pt = 12",
        "size_pt = 13",
        "field#1.size_pt",
        "higher than height_mm = 5.4",
        "13",
        "up to 12.7",
    ),
    Slip(
        "smaller without a least size",
        "least_pt = 6\n",
        "",
        "field#1.least_pt",
        "belong together",
        "too_long = smaller",
        "with least_pt",
        at="[[field]]",
    ),
    Slip(
        "a least size larger than the size",
        "least_pt = 6\n",
        "least_pt = 12.5\n",
        "field#1.least_pt",
        "more than size_pt",
        "12.5",
        "up to size_pt = 12",
    ),
    Slip(
        "a least size that nobody can read",
        "least_pt = 6\n",
        "least_pt = 2\n",
        "field#1.least_pt",
        "too small",
        "2",
        "4 to 200",
    ),
    Slip(
        "a name that no label knows",
        "{designation}",
        "{design}",
        "field#1.text",
        "names {design}, which no label knows",
        '"{design}"',
        "",
    ),
    Slip(
        "code in braces",
        "{designation}",
        "{serial.__class__}",
        "field#1.text",
        "no label knows",
        '"{serial.__class__}"',
        "",
    ),
    Slip(
        "a form in braces",
        "{serial}",
        "{serial:>9999999}",
        "field#4.text",
        "no label knows",
        '"SN {serial:>9999999}"',
        "",
    ),
    Slip(
        "half a brace",
        "{designation}",
        "{designation",
        "field#1.text",
        "without its partner",
        '"{designation"',
        "",
    ),
    Slip(
        "a text that hides",
        "SN {serial}",
        "SN \\u202e{serial}",
        "field#4.text",
        "cannot be printed, U+202E",
        '"SN \\u202e{serial}"',
        "",
    ),
    Slip(
        "no verdict",
        'text = "{verdict}"',
        'text = "good"',
        "field",
        "no text tells {verdict}",
        "an array of 7",
        "{serial} and {verdict}",
        at="[[field]]",
    ),
)


@pytest.mark.parametrize("slip", ROLL_SLIPS, ids=lambda slip: slip.name)
def test_a_wrong_label_for_a_roll_is_refused(slip: Slip) -> None:
    check_slip(slip, ROLL, parse)


SHEET_SLIPS = (
    Slip(
        "too many columns",
        "columns = 3",
        "columns = 4",
        "sheet.columns",
        "beyond the sheet: they take 268.75 mm",
        "4",
        "up to 210 mm",
    ),
    Slip("too many rows", "rows = 7", "rows = 8", "sheet.rows", "they take 319.95 mm", "8", "up to 297 mm"),
    Slip(
        "an unknown sheet",
        'paper = "A4"',
        'paper = "A3"',
        "sheet.paper",
        "not a word",
        '"A3"',
        '"A4" or "Letter"',
    ),
    Slip(
        "another sheet",
        'paper = "A4"',
        'paper = "Letter"',
        "sheet.rows",
        "beyond the sheet",
        "7",
        "up to 279.4 mm",
        at="rows",
    ),
)


@pytest.mark.parametrize("slip", SHEET_SLIPS, ids=lambda slip: slip.name)
def test_a_wrong_sheet_is_refused(slip: Slip) -> None:
    check_slip(slip, SHEET, parse)


def test_a_text_may_not_lie_over_the_frame() -> None:
    slip = Slip(
        "",
        "frame_mm = 1",
        "frame_mm = 1.5",
        "field#1.width_mm",
        "beyond the label's frame",
        "x 1 to 49, y 1 to 7 mm",
        "x 1.5 to 48.5, y 1.5 to 23.5 mm",
        at="width_mm = 48",
    )
    check_slip(slip, DO_NOT_USE, parse)


def test_everything_wrong_is_told_at_once() -> None:
    text = (
        ROLL.replace("dpi = 203", "dpi = 300")
        .replace("side_mm = 15", "side_mm = 17")
        .replace("y_mm = 20.2", "y_mm = 23")
    )
    keys = {problem.key for problem in problems_of(lambda: parse(text))}
    assert {"code.module_mm", "code.side_mm", "field#5.width_mm", "field#7.width_mm"} <= keys


def test_fields_that_touch_are_right() -> None:
    assert parse(
        ROLL.replace(
            "y_mm = 6.6\nwidth_mm = 32\nheight_mm = 4\n", "y_mm = 6.4\nwidth_mm = 32\nheight_mm = 4.2\n"
        )
    )


def test_a_doubled_brace_is_a_brace() -> None:
    assert parse(ROLL.replace("order {order}", "{{{order}}}")).field[4].names == ("order",)
