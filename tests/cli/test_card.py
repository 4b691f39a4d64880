"""`teachrig card`: one page, read back, that a fitter at the machine can work from."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from rig.library import Library, Section
from rig.papers.card import CAUTIONS, Card, card_of
from rig.papers.card_pdf import card_pdf
from rig.papers.fonts import BOLD, REGULAR, showable
from rig.planning.air import Air, speed_of_sound_m_s
from rig.planning.compile import make_plan
from rig.planning.plan import MakeContact
from rig.planning.planned import Planned, planned
from sequences.library import shipped_orders
from sequences.order import Order
from sequences.sensor_type import SensorType
from tests.cli.shop import Shop
from tests.looking import examples
from wiring.terms import OutputFunction

SHIPPED = Library(home=None)
ORDERS = sorted(shipped_orders())
FOLLOWS_AIR = ("cold-store-need", "filling-hall-need", "tray-point-nc")


def made(
    name: str,
    change: Callable[[Order], Order] = lambda order: order,
    change_type: Callable[[SensorType], SensorType] = lambda sensor_type: sensor_type,
) -> Planned:
    order, sensor_type = SHIPPED.read_order(name)
    order, sensor_type, rig = change(order), change_type(sensor_type), SHIPPED.read_rig("simulated")
    return planned(order, sensor_type, rig, make_plan(order, sensor_type, rig))


def setting(**values: Any) -> Callable[[Order], Order]:
    return lambda order: order.model_copy(update={"setting": order.setting.model_copy(update=values)})


def read_back(pdf: bytes) -> str:
    """The text of the one page, without any space: where a line breaks is no matter."""
    [page] = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return squeezed(page.extract_text())


def squeezed(text: str) -> str:
    return "".join(text.split())


def words_of(card: Card) -> Iterator[str]:
    """Everything that has to stand on the paper."""
    yield from (card.order, card.customer, card.designation, card.sensor_type, card.setting, card.target)
    yield from (card.air, card.refusal, card.notes, card.seen_at, card.made_by, *CAUTIONS)
    for mark in card.points:
        yield f"{mark.name} {mark.at_mm:g} mm"
    for step in card.steps:
        yield step.do
        yield step.see
    for check in card.checks:
        yield f"{check.target} {check.output}"
    yield from card.air_columns
    for row in card.airs:
        yield f"{row.temperature_c:g} \u00b0C" + " ".join(f"{at_mm:g}" for at_mm in row.distances_mm)


@pytest.mark.parametrize("name", ORDERS)
def test_all_of_the_card_stands_on_one_page(name: str) -> None:
    card = card_of(made(name))
    text = read_back(card_pdf(card))
    for words in words_of(card):
        assert squeezed(words) in text, words


_FONTS = {False: REGULAR, True: BOLD}


@pytest.mark.parametrize("name", ORDERS)
def test_nothing_runs_off_the_paper_and_every_letter_is_embedded(name: str) -> None:
    [page] = pypdf.PdfReader(io.BytesIO(card_pdf(card_of(made(name))))).pages
    width, height = float(page.mediabox.width), float(page.mediabox.height)
    assert (round(width), round(height)) == (595, 842)
    places: list[tuple[float, float, float]] = []
    fonts: set[str] = set()

    def seen(text: str, outer: list[float], inner: list[float], font: Any, size: float) -> None:
        if text.strip():
            x, y = inner[4] * outer[0] + outer[4], inner[5] * outer[3] + outer[5]
            longest = max(
                stringWidth(line, _FONTS["Bold" in str(font["/BaseFont"])], size) for line in text.split("\n")
            )
            places.append((x, y, x + longest))
            fonts.add(str(font["/BaseFont"]))

    page.extract_text(visitor_text=seen)
    assert places
    for left, bottom, right in places:
        assert 20 < left < right < width - 20
        assert 20 < bottom < height - 30
    assert fonts
    assert all("SourceSansPro" in font for font in fonts)


def test_the_same_card_is_the_same_file() -> None:
    card = card_of(made("tipper-point-no"))
    assert card_pdf(card) == card_pdf(card)


# What stands on it.


@pytest.mark.parametrize("name", ORDERS)
def test_every_step_of_the_plan_is_done_by_hand_in_its_order(name: str) -> None:
    case = made(name)
    card = card_of(case)
    steps = [step.do for step in card.steps]
    assert steps[0].startswith("Switch the sensor's supply off")
    assert len(steps) == len(case.plan.steps) + 1
    contacts = [step for step in case.plan.steps if isinstance(step, MakeContact)]
    by_hand = [step for step in card.steps if "teach wire" in step.do]
    assert len(by_hand) == len(contacts)
    for contact, hand in zip(contacts, by_hand, strict=True):
        assert {"L+": "L+ (brown, pin 1)", "L-": "L- (blue, pin 3)"}[contact.rail] in hand.do
        assert f"{contact.shortest_s:g} to {contact.longest_s:g} s" in hand.see
        assert (f"{contact.times} times" in hand.do) is (contact.times > 1)


def test_distances_are_those_of_the_machine_not_of_the_bench() -> None:
    case = made("cold-store-need")
    [point] = case.plan.grounds.points
    assert point.bench_mm == 479.9
    card = card_of(case)
    assert any("462 mm from the sensing face" in step.do for step in card.steps)
    assert not any("479" in words or "480" in words for words in words_of(card))


@pytest.mark.parametrize("name", ORDERS)
def test_only_a_unit_that_follows_the_air_gets_distances_for_it(name: str) -> None:
    card = card_of(made(name))
    assert bool(card.airs) is bool(card.air) is (name in FOLLOWS_AIR)


@pytest.mark.parametrize("name", FOLLOWS_AIR)
def test_distances_go_with_the_air_that_the_fitter_finds(name: str) -> None:
    """Taught nearer in cold air, the unit switches where it should in the middle of its air."""
    case = made(name)
    card, machine = card_of(case), case.case.conditions.machine
    span = case.case.conditions.span
    assert span is not None
    degrees = [row.temperature_c for row in card.airs]
    assert degrees[0] == span.coldest_c
    assert degrees[-1] == span.warmest_c
    assert machine.temperature_c in degrees
    middle = speed_of_sound_m_s(machine).value_m_s
    [mark] = card.points
    for row in card.airs:
        air = Air(row.temperature_c, machine.humidity_percent, machine.pressure_kpa)
        share = speed_of_sound_m_s(air).value_m_s / middle
        wanted = [
            mark.at_mm * share,
            (mark.at_mm + card.tolerance_mm) * share,
            (mark.at_mm - card.tolerance_mm) * share,
        ]
        assert row.distances_mm == pytest.approx(wanted, abs=0.251)
        assert all(at_mm * 2 == round(at_mm * 2) for at_mm in row.distances_mm)
    assert f"hold at {machine.temperature_c:g} \u00b0C" in card.air


def test_a_unit_whose_air_nobody_stated_is_set_in_its_own() -> None:
    def without_need(order: Order) -> Order:
        return order.model_copy(update={"need": None})

    card = card_of(made("tray-point-nc", without_need))
    assert not card.airs
    assert "while the air is as it usually is" in card.air


@pytest.mark.parametrize(("function", "clear", "inside"), [("NO", "off", "on"), ("NC", "on", "off")])
def test_the_output_to_be_proven_follows_the_output_function(function: str, clear: str, inside: str) -> None:
    card = card_of(made("tipper-point-no", setting(output_function=OutputFunction(function))))
    assert [(check.target, check.output) for check in card.checks] == [
        ("nothing in the beam", clear),
        ("brought in from the side at 408 mm", clear),
        ("then moved in to 392 mm", inside),
    ]
    assert card.inside == inside


def test_a_window_is_proven_at_both_ends_from_outside_and_inside() -> None:
    card = card_of(made("hopper-window-no"))
    assert [check.target for check in card.checks[1:]] == [
        "brought in from the side at 142 mm",
        "then moved out to 158 mm",
        "brought in from the side at 458 mm",
        "then moved in to 442 mm",
    ]


def test_the_finest_tolerance_and_nearest_set_point_are_tried_outside_the_blind_zone() -> None:
    card = card_of(made("hopper-window-no", setting(near_mm=91.5, tolerance_mm=29)))
    assert card.checks[1].target == "brought in from the side at 62.5 mm"


def test_what_to_do_when_the_unit_refuses() -> None:
    once = card_of(made("tipper-point-no")).refusal
    assert (
        once == "If the LED flashes 8 times a second, the unit refuses: begin again with step 1, once only."
    )
    never = card_of(
        made("tipper-point-no", change_type=lambda one: one.model_copy(update={"retry_after_refusal": False}))
    ).refusal
    assert "another unit" in never


# Texts of any length.

HOSTILE = (
    "<b>&" * 20,
    "&amp;<para>]]></font>{0}%s" + "x" * 54,
    "W" * 80,
    "\u6f22\u5b57 \U0001f34e \u05d0\u05d1 Gr\u00fcn & S\u00f6hne \u0141\u00f3d\u017a \u0411\u043e\u043b \u0395\u03bb",
    "=1+1|cmd",
    "a " * 39 + "a.",
)


@pytest.mark.parametrize("customer", HOSTILE)
@pytest.mark.parametrize("name", ["stack-window-nc", "filling-hall-need"])
def test_a_hostile_name_is_on_the_card_whole(name: str, customer: str) -> None:
    card = card_of(made(name, lambda order: order.model_copy(update={"customer": customer})))
    assert squeezed(showable(customer)) in read_back(card_pdf(card))


LINE = (
    st.text(
        st.characters(codec="utf-8", exclude_categories=("C", "Z", "M")) | st.just(" "),
        min_size=1,
        max_size=80,
    )
    .map(str.strip)
    .filter(bool)
)


@settings(max_examples=examples(20))
@given(LINE)
def test_any_name_is_on_the_card_whole_on_one_page(customer: str) -> None:
    card = card_of(TIPPER)
    text = read_back(card_pdf(replace(card, customer=customer)))
    assert alike(showable(customer)) in alike(text)


def alike(text: str) -> str:
    """Text as a reader of papers gives it back: ligatures and marks in their plainest form."""
    return squeezed(unicodedata.normalize("NFKC", text))


TIPPER = made("tipper-point-no")


def test_letters_that_the_font_lacks_are_written_as_their_codes() -> None:
    assert (
        showable("Gr\u00fcn \u0141\u00f3d\u017a \u0411\u0395") == "Gr\u00fcn \u0141\u00f3d\u017a \u0411\u0395"
    )
    assert showable("\u6f22\U0001f34e") == "[U+6F22][U+1F34E]"
    assert showable("u\u0308") == "\u00fc"


def test_the_longest_notes_and_fifty_steps_stay_on_one_page_and_are_not_cut() -> None:
    card = card_of(TIPPER)
    notes = " ".join(f"note{number:03}" for number in range(285))[:2000]
    step = card.steps[3]
    steps = (card.steps[0], *[step] * 50)
    text = read_back(card_pdf(replace(card, notes=notes, steps=steps, customer="W" * 80)))
    assert squeezed(notes) in text
    assert text.count(squeezed(step.do)) == 50
    assert "W" * 80 in text


def test_text_is_set_smaller_only_as_far_as_it_has_to_be() -> None:
    def largest(card: Card) -> float:
        sizes: list[float] = []
        [page] = pypdf.PdfReader(io.BytesIO(card_pdf(card))).pages
        page.extract_text(
            visitor_text=lambda text, _, __, ___, size: sizes.append(size) if text.strip() else None
        )
        return max(sizes)

    card = card_of(TIPPER)
    assert largest(card) == 20
    longer = largest(replace(card, notes="more to say " * 100))
    longest = largest(replace(card, notes="more to say " * 166))
    assert 20 > longer > longest >= 12


# The command.


def test_the_card_is_written_where_told_and_named(shop: Shop) -> None:
    code, out, err = shop.run("card", "tipper-point-no")
    assert (code, out, err) == (0, "hand-card-QOC-0101.pdf\n", "")
    reader = pypdf.PdfReader("hand-card-QOC-0101.pdf")
    assert reader.metadata is not None
    assert reader.metadata.title == "Hand card =L1.T1-BG3"
    assert str(reader.metadata.author).startswith("teachrig ")


def test_a_card_that_is_there_is_kept_unless_told_otherwise(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "card.pdf"
    file.write_text("precious")
    code, out, err = shop.run("card", "tipper-point-no", "--out", str(file))
    assert (code, out, file.read_text()) == (2, "", "precious")
    assert "--force" in err
    assert shop.run("card", "tipper-point-no", "--out", str(file), "--force")[0] == 0
    assert file.read_bytes().startswith(b"%PDF")


def test_what_is_less_sure_than_it_looks_is_said_beside_the_card(shop: Shop) -> None:
    code, _, err = shop.run("card", "cold-store-need")
    assert code == 0
    assert "note: air lies outside" in err


def test_an_order_that_cannot_be_done_gets_no_card(shop: Shop) -> None:
    text = shipped_orders()["tipper-point-no"].read_text("utf-8").replace("at_mm = 400", "at_mm = 900")
    shop.keep(Section.ORDERS, "far", text)
    code, out, err = shop.run("card", "far")
    assert (code, out) == (2, "")
    assert re.search(r"beyond the sensing range.*given 900 mm", err, re.DOTALL)
    assert not list(Path.cwd().glob("*.pdf"))
