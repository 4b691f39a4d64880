"""Labels on paper: codes that a reader of another make decodes at print resolution, and text that is all there."""

from __future__ import annotations

import io
import unicodedata
from dataclasses import replace
from datetime import date

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFilter
from reportlab.pdfbase.pdfmetrics import stringWidth

from rig.events import Verdict
from rig.library import Section
from rig.papers.fonts import REGULAR, register_fonts, showable
from rig.papers.label_code import UnitCode, unit_code
from rig.papers.label_facts import UnitFacts
from rig.papers.label_parts import CodeDatum, CodeKind, Shown, TextField, TooLong, Use
from rig.papers.label_pdf import LabelRefused, labels_pdf
from rig.papers.label_template import LabelTemplate
from rig.papers.label_text import set_text
from tests.looking import examples
from tests.rig.papers.shelf import labelled, printed, rectangles_mm, scanned, template, texts

NAMES = sorted(Section.LABELS.shipped())
DPI = (203, 300)


def unit(serial: str = "QOC18-0042", verdict: Verdict = Verdict.GOOD, **more: str) -> UnitFacts:
    """A unit as most shops have them."""
    told = {
        Shown.SERIAL: serial,
        Shown.ORDER: "QOC-0101",
        Shown.CUSTOMER: "Quillmere Orchard Co-op",
        Shown.TYPE: "barrel-18-rail",
        Shown.TITLE: "M18 barrel, 800 mm, taught by rail order",
        Shown.MODE: "single-point",
        Shown.OUTPUT_FUNCTION: "NO",
        Shown.OUTPUT_TYPE: "PNP",
        Shown.SET_POINTS: "400 mm",
        Shown.TOLERANCE: "\u00b1 8 mm",
        Shown.DESIGNATION: "=L1.T1-BG3",
        Shown.DATE: "2026-01-05",
        Shown.VERDICT: str(verdict),
        Shown.REASON: "set point off",
        Shown.WORDS: "set point too far out: output on at 409.3 mm, must be off",
    }
    facts = UnitFacts(serial, "QOC-0101", "barrel-18-rail", verdict, date(2026, 1, 5), told)
    return labelled(facts, **more)


def label(facts: UnitFacts, chosen: LabelTemplate) -> bytes:
    return labels_pdf([facts], chosen, "teachrig 1")


def verdict_for(name: str) -> Verdict:
    return Verdict.GOOD if template(name).use is Use.GOOD else Verdict.BAD


# The code.


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("name", NAMES)
def test_a_scan_of_the_print_leads_back_to_the_unit(name: str, dpi: int) -> None:
    facts = unit(verdict=verdict_for(name))
    for page in printed(label(facts, template(name)), dpi, black_and_white=True):
        [text] = scanned(page)
        read = unit_code(text)
        assert read.serial == facts.serial
        if facts.use is Use.GOOD:
            assert read == UnitCode("QOC18-0042", "QOC-0101", "barrel-18-rail", date(2026, 1, 5))


@pytest.mark.parametrize("kind", CodeKind)
@pytest.mark.parametrize("dpi", DPI)
def test_both_kinds_of_code_can_be_read_when_worn(kind: CodeKind, dpi: int) -> None:
    """A smear across the label, ink that runs by half a dot, a hand that holds the reader askew."""
    chosen = template("unit-sheet")
    assert chosen.code is not None
    chosen = chosen.model_copy(update={"code": chosen.code.model_copy(update={"kind": kind})})
    [page] = printed(label(unit(), chosen), dpi)
    worn = page.filter(ImageFilter.GaussianBlur(dpi / 300)).rotate(7, Image.Resampling.BICUBIC, fillcolor=255)
    [text] = scanned(worn)
    assert unit_code(text).serial == "QOC18-0042"


CODES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True)


@settings(max_examples=examples(25))
@given(CODES, st.sampled_from(CodeKind))
def test_any_serial_is_read_back(serial: str, kind: CodeKind) -> None:
    chosen = template("unit-roll", field=())
    assert chosen.code is not None
    update = {
        "kind": kind,
        "quiet_modules": 4,
        "holds": (CodeDatum.SERIAL,),
        "x_mm": 13.0,
        "y_mm": 0.5,
        "side_mm": 24.0,
    }
    pdf = label(unit(serial), chosen.model_copy(update={"code": chosen.code.model_copy(update=update)}))
    [text] = [text for page in printed(pdf, 203, black_and_white=True) for text in scanned(page)]
    assert unit_code(text) == UnitCode(serial)


@pytest.mark.parametrize("name", NAMES)
def test_modules_are_whole_dots_and_the_quiet_zone_is_quiet(name: str) -> None:
    chosen = template(name)
    code, dpi = chosen.code, chosen.printer.dpi
    assert code is not None
    [page] = printed(label(unit(verdict=verdict_for(name)), chosen), dpi)
    sheet_mm = (chosen.sheet.margin_left_mm, chosen.sheet.margin_top_mm) if chosen.sheet else (0.0, 0.0)
    left, top = (
        round((at + off) * dpi / 25.4) for at, off in zip((code.x_mm, code.y_mm), sheet_mm, strict=True)
    )
    side = int(code.side_mm * dpi / 25.4)
    field = page.crop((left, top, left + side, top + side))
    inked = field.point(lambda grey: 255 - grey).getbbox()
    assert inked is not None
    quiet = code.quiet_modules * chosen.module_dots
    assert min(inked[0], inked[1], side - inked[2], side - inked[3]) >= quiet - 1
    symbol = field.crop(inked)
    assert set(symbol.tobytes()) <= {0, 255}, "every dot is black or white, so no module ends within one"
    assert symbol.width == symbol.height
    assert symbol.width % chosen.module_dots == 0


@pytest.mark.parametrize("name", NAMES)
def test_every_module_begins_and_ends_with_a_dot(name: str) -> None:
    chosen = template(name)
    assert chosen.code is not None
    pdf = labels_pdf([unit(verdict=verdict_for(name))] * 3, chosen, "teachrig 1")
    modules = [box for box in rectangles_mm(pdf) if box[3] - box[1] < chosen.code.module_mm]
    assert len(modules) > 50
    off_dots = [
        abs(side / chosen.printer.dot_mm - round(side / chosen.printer.dot_mm))
        for box in modules
        for side in box
    ]
    # Within its dots, so that nothing beyond is inked, and by no more than rounding needs.
    assert min(off_dots) > 0.01
    assert max(off_dots) < 0.1


def test_a_code_too_large_for_its_field_is_refused_with_what_would_help() -> None:
    with pytest.raises(
        LabelRefused, match=r"QOC.* on label unit-roll, code: .* take \d\d\.\d\d mm"
    ) as refused:
        label(replace(unit(), order="b7K_" * 7, sensor_type="barrel-9" * 5), template("unit-roll"))
    assert "side_mm is 15; allowed: a larger side_mm" in str(refused.value)


# The text.


@pytest.mark.parametrize("name", NAMES)
def test_everything_that_the_template_tells_stands_on_the_label(name: str) -> None:
    facts, chosen = unit(verdict=verdict_for(name)), template(name)
    [page] = texts(label(facts, chosen))
    for field in chosen.field:
        told = field.text.format_map({str(key): value for key, value in facts.texts.items()})
        assert "".join(told.split()) in page, told


@pytest.mark.parametrize("name", NAMES)
def test_what_is_not_known_leaves_no_trace(name: str) -> None:
    facts = unit(verdict=verdict_for(name), designation="", set_points="", tolerance="")
    [page] = texts(label(facts, template(name)))
    assert "{" not in page
    assert "mm" not in page.replace("409.3mm", "")


def sizes(pdf: bytes) -> dict[str, float]:
    found: dict[str, float] = {}
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(
            visitor_text=lambda text, _, __, ___, size: found.update({text.strip(): round(size, 2)})
        )
    return found


def test_a_long_text_is_set_smaller_as_far_as_it_must_and_no_further() -> None:
    at = {
        serial: sizes(label(unit(serial), template("unit-roll")))[f"SN {serial}"]
        for serial in ("QOC18-0042", "QOC18-0042-B-7", "QOC18-0042-B-0007")
    }
    assert list(at.values()) == sorted(at.values(), reverse=True)
    assert at["QOC18-0042"] == 9
    assert 5 <= at["QOC18-0042-B-0007"] < 9


@settings(deadline=None)
@given(st.floats(6, 12), st.floats(4, 6), st.text("QW-0042 ", min_size=1).map(str.strip).filter(bool))
def test_what_fits_at_the_least_size_just_so_is_taken_whole(
    size_pt: float, least_pt: float, text: str
) -> None:
    register_fonts()
    width_mm = stringWidth(text, REGULAR, least_pt) / 72 * 25.4
    place = {
        "x_mm": 0,
        "y_mm": 0,
        "height_mm": 10,
        "size_pt": size_pt,
        "too_long": "smaller",
        "least_pt": least_pt,
    }
    field = TextField.model_validate({"text": "{serial}", "width_mm": width_mm, **place})
    chosen = set_text(text, field)
    assert chosen is not None
    assert chosen.lines == (text,)
    assert chosen.size_pt == pytest.approx(least_pt, abs=0.01)
    assert set_text(text, field.model_copy(update={"width_mm": width_mm * 0.99})) is None


def test_text_that_does_not_fit_at_its_least_size_is_refused_and_never_cut() -> None:
    with pytest.raises(LabelRefused) as refused:
        label(unit(designation="=" + "L1" * 29), template("unit-roll"))
    said = str(refused.value)
    for part in ("QOC18-0042", "unit-roll", '"{designation}"', "6 pt", "32 mm", '"=L1L1', "allowed: "):
        assert part in said


def test_a_text_with_a_stand_in_never_costs_the_label() -> None:
    [page] = texts(label(unit(customer="W" * 80), template("unit-sheet")))
    assert "customer:seetherecord" in page
    assert "WW" not in page


def test_lines_break_at_spaces_and_nothing_is_lost() -> None:
    words = "output unsteady at 391.5 mm: noise, a loose plug, or something that moves in the beam behind it"
    pdf = label(unit(verdict=Verdict.BAD, words=words), template("do-not-use"))
    [page] = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert words.replace(" ", "") in "".join(page.extract_text().split())
    lines = [line for line in page.extract_text().splitlines() if line.strip() in words]
    assert len(lines) >= 3
    assert all(line.strip().split()[-1] in words.split() for line in lines)


# What must not be used.

FULL = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")) | st.just(" "), max_size=300)


@settings(max_examples=examples(25))
@given(
    CODES,
    st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,29}", fullmatch=True),
    FULL,
    st.sampled_from([Verdict.BAD, Verdict.UNDECIDED]),
)
def test_whatever_an_order_holds_a_unit_that_is_not_good_gets_its_label(
    serial: str, order: str, words: str, verdict: Verdict
) -> None:
    told = {Shown.ORDER: order, Shown.WORDS: words, Shown.VERDICT: f"SIMULATED {verdict}"}
    facts = labelled(unit(serial, verdict), **told)
    pdf = label(replace(facts, order=order), template("do-not-use"))
    [page] = texts(pdf)
    assert "DONOTUSE" in page
    assert str(verdict) in page
    [code] = [unit_code(text) for image in printed(pdf, 203) for text in scanned(image)]
    assert code.serial == serial


@pytest.mark.parametrize("serial", ["W" * 40, "Wm_w" * 10, "i" * 40, "0123456789" * 4])
def test_so_does_the_longest_serial(serial: str) -> None:
    pdf = label(unit(serial, Verdict.UNDECIDED), template("do-not-use"))
    [code] = [unit_code(text) for image in printed(pdf, 203) for text in scanned(image)]
    assert code.serial == serial


def legible(page: Image.Image, chosen: LabelTemplate) -> bool:
    """Whether the words DO NOT USE stand out in the band, whichever of ink and ground is dark."""
    dots = chosen.printer.dpi / 25.4
    band = chosen.field[0].place
    box = (band.x_mm + 1, band.y_mm + 1, band.x_mm + band.width_mm - 1, band.y_mm + band.height_mm - 1)
    greys = page.crop(tuple(int(at * dots) for at in box)).tobytes()
    dark = sum(grey < 80 for grey in greys) / len(greys)
    light = sum(grey > 175 for grey in greys) / len(greys)
    return dark > 0.1 and light > 0.1 and dark + light > 0.9


@pytest.mark.parametrize("colour", [True, False])
@pytest.mark.parametrize("verdict", [Verdict.BAD, Verdict.UNDECIDED])
def test_do_not_use_is_read_without_colour(verdict: Verdict, colour: bool) -> None:
    chosen = template("do-not-use")
    chosen = chosen.model_copy(update={"printer": chosen.printer.model_copy(update={"colour": colour})})
    pdf = label(unit(verdict=verdict), chosen)
    for black_and_white in (False, True):
        [page] = printed(pdf, 203, black_and_white=black_and_white)
        assert legible(page, chosen)


@pytest.mark.parametrize(("verdict", "red_green_blue"), [(Verdict.BAD, "r"), (Verdict.UNDECIDED, "rg")])
def test_colours_have_the_sense_of_iec_60073(verdict: Verdict, red_green_blue: str) -> None:
    """Red: fault. Yellow: abnormal."""
    import pypdfium2

    page = pypdfium2.PdfDocument(label(unit(verdict=verdict), template("do-not-use")))[0]
    dot = page.render(scale=203 / 72).to_pil().convert("RGB").getpixel((5, 100))
    assert {name for name, part in zip("rgb", dot, strict=True) if part > 128} == set(red_green_blue)


# Sheets.


def test_sheets_are_filled_row_by_row_and_used_labels_are_left_out() -> None:
    serials = [f"QOC18-{number:04}" for number in range(42)]
    pdf = labels_pdf([unit(serial) for serial in serials], template("unit-sheet"), "teachrig 1", skip=20)
    pages = list(printed(pdf, 200))
    assert [page.size for page in pages] == [(1654, 2339)] * 3
    read = [[unit_code(text).serial for text in scanned(page)] for page in pages]
    assert [len(found) for found in read] == [1, 21, 20]
    assert [serial for found in read for serial in found] == serials


@pytest.mark.parametrize("name", NAMES)
def test_no_label_reaches_into_its_neighbour_and_every_letter_is_embedded(name: str) -> None:
    chosen = template(name)
    pdf = label(unit(verdict=verdict_for(name)), chosen)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    [page] = reader.pages
    width_mm, height_mm = (float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height))
    assert (width_mm, height_mm) == pytest.approx(chosen.page_mm, abs=0.01)
    fonts = page["/Resources"]["/Font"].get_object().values()
    used = {str(font.get_object()["/BaseFont"]) for font in fonts}
    assert all("SourceSansPro" in font for font in used), used
    if chosen.sheet is not None:
        [image] = printed(pdf, 100)
        box = image.point(lambda grey: 255 - grey).getbbox()
        assert box is not None
        at_mm = [side * 25.4 / 100 for side in box]
        sheet = chosen.sheet
        assert at_mm[0] >= sheet.margin_left_mm
        assert at_mm[1] >= sheet.margin_top_mm
        assert at_mm[2] <= sheet.margin_left_mm + chosen.width_mm
        assert at_mm[3] <= sheet.margin_top_mm + chosen.height_mm


def test_the_same_labels_are_the_same_file() -> None:
    assert label(unit(), template("unit-roll")) == label(unit(), template("unit-roll"))


# Hostile text.

HOSTILE = {
    "markup": "<b>&amp;</b><script>alert(1)</script>",
    "formula": "=HYPERLINK(1)",
    "braces": "{serial} {0} %s",
    "PDF": "(a) Tj ET Q endstream \\",
    "path": "../../../tmp/x\\..\\y",
    "control characters": "a\x1b[2J\x07\x00b\nc\td",
    "right to left": "ok\u202eevil\u202c",
    "invisible": "se\u200brial\u00ad\ufeff",
    "other alphabets": "\u05d0\u05d1 \u6f22 \U0001f34e",
    "half of a pair": "a\ud800b",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_text_is_shown_as_text(text: str) -> None:
    facts = unit(customer=text, words=text, designation="")
    big = template("unit-sheet")
    fields = [
        field.model_copy(update={"lines": 2, "height_mm": 6.0} if "{customer}" in field.text else {})
        for field in big.field
    ]
    pdf = label(facts, big.model_copy(update={"field": tuple(fields)}))
    [page] = texts(pdf)
    shown = "".join(showable(text).split())
    assert unicodedata.normalize("NFKC", shown) in unicodedata.normalize("NFKC", page)
    assert shown.isprintable()
    [image] = printed(pdf, 300)
    [code] = scanned(image)
    assert unit_code(code).serial == "QOC18-0042"


@pytest.mark.parametrize("name", Shown)
def test_ten_thousand_characters_are_refused_in_one_short_line_or_stood_in_for(name: Shown) -> None:
    for chosen in map(template, NAMES):
        field = next((one for one in chosen.field if name in one.names), None)
        if field is None:
            continue
        facts = labelled(unit(verdict=verdict_for(chosen.name)), **{name: "\x1b" + "W " * 5000})
        if field.instead is not None:
            assert "".join(field.instead.split()) in texts(label(facts, chosen))[0]
            continue
        with pytest.raises(LabelRefused) as refused:
            label(facts, chosen)
        assert str(refused.value).isprintable()
        assert len(str(refused.value)) < 400


@pytest.mark.parametrize("serial", ["Gr\u00fcn-1", "1\x1d2", "1\n2", "<GS>1", "\u202e1"])
def test_a_serial_that_no_scanner_would_return_is_refused(serial: str) -> None:
    with pytest.raises(LabelRefused, match="cannot stand in a code") as refused:
        label(unit(serial), template("unit-roll"))
    assert str(refused.value).isprintable()


def test_a_rule_to_refuse_refuses_where_one_to_shrink_would_not() -> None:
    shrinks = template("unit-roll")
    field = shrinks.field[3]
    assert field.too_long is TooLong.SMALLER
    strict = field.model_copy(update={"too_long": TooLong.REFUSE, "least_pt": None})
    long = unit("QOC18-0042-B-0007")
    assert label(long, shrinks)
    with pytest.raises(LabelRefused, match="at 9 pt"):
        label(long, shrinks.model_copy(update={"field": (*shrinks.field[:3], strict, *shrinks.field[4:])}))
