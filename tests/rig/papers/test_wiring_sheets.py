"""The circuit diagram: nothing covers anything, and its copper is the schedule's copper."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
from hypothesis import given, settings
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from rig.papers.drawing.pdf import draw_on
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.svg import svg
from rig.papers.fonts import register_fonts
from rig.papers.wiring.sheets import all_sheets, circuit_sheets
from tests.looking import examples
from tests.rig.papers.drawn import faults, joined
from tests.wiring.variants import rig_profiles
from wiring.circuit.build import circuit_of
from wiring.profile import RigProfile, load_profile, shipped_profiles

PROFILES = [*shipped_profiles().values(), Path(__file__).parents[2] / "wiring" / "two-relay.toml"]


def sheets(profile: RigProfile) -> tuple[Drawing, ...]:
    return all_sheets(profile, circuit_of(profile), "0123456789ab")


def assert_tidy(profile: RigProfile) -> None:
    found = {sheet.name: faults(sheet) for sheet in sheets(profile)}
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def assert_true(profile: RigProfile) -> None:
    """What the lines join is what the circuit joins: no more, no less."""
    circuit = circuit_of(profile)
    drawn = joined(tuple(circuit_sheets(profile, circuit)))
    # The board's own 3.3 V and 0 V, and PE, are named where they are used and drawn nowhere else.
    wanted = {
        str(end): frozenset(str(one) for one in net.ends if str(one) not in UNDRAWN)
        for net in circuit.nets
        for end in net.ends
        if str(end) not in UNDRAWN
    }
    assert drawn == wanted


UNDRAWN = ("-A1:1", "-A1:6", "-A1:3V3", "-A1:GND")


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_what_is_known_draws_tidily_and_truly(path: Path) -> None:
    assert_tidy(load_profile(path))
    assert_true(load_profile(path))


@given(rig_profiles())
@settings(max_examples=examples(8))
def test_every_rig_draws_tidily_and_truly(profile: RigProfile) -> None:
    assert_tidy(profile)
    assert_true(profile)


def test_a_sheet_says_where_the_other_parts_of_its_devices_are() -> None:
    drawn = sheets(load_profile(shipped_profiles()["simulated"]))
    unit = next(sheet for sheet in drawn if sheet.name.endswith("nest-1-unit"))
    told = next(text.words for text in unit.texts() if text.words.startswith("also drawn"))
    number = int(told.partition("-K12, ")[2].partition("on sheet ")[2].partition(";")[0])
    assert "-K12:A1" in {place for place, _ in drawn[number - 1].pins}


def test_svg_and_pdf_show_the_same_words() -> None:
    (sheet, *_) = sheets(load_profile(shipped_profiles()["single-nest"]))[2:]
    file = BytesIO()
    register_fonts()
    canvas = Canvas(file, pagesize=(sheet.width * mm, sheet.height * mm))
    draw_on(canvas, sheet)
    canvas.save()
    on_paper = pypdf.PdfReader(file).pages[0].extract_text().split()
    in_file = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", svg(sheet))).split()
    assert sorted(on_paper) == sorted(in_file)
