"""What the screen says, apart from any terminal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.events import EdgeBegun, Event, Stamped, UnitJudged, UnitRemoved, UnitStarted, Verdict
from rig.screen.looks import DARK, LIGHT, PLAIN, contrast
from rig.screen.view.commands import COMMANDS, EVERYWHERE, footer
from rig.screen.view.letters import large
from rig.screen.view.lines import Role, Span, columns, cut, fitted, line, text_of, width_of, wrapped
from rig.screen.view.ruler import Marks, ruler
from rig.screen.view.serials import judge_scan, names
from rig.screen.view.standing import Standing
from rig.screen.view.steps import Steps, led_words
from rig.screen.view.wording import LANGUAGES, Words
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from tests.rig.planned import job
from wiring.terms import LedKind, Verification

SERIALS = [f"QOC18-{number:04d}" for number in range(41, 53)]
EN = Words("en")

texts = st.text(max_size=60)


def stamped(serial: str, event: Event, at_s: float = 0.0) -> Stamped:
    return Stamped(1, round(at_s * 1e9), "2026-01-05T07:12:00.000Z", "QOC-0101", serial, event)


def judged(verdict: Verdict, reason: Reason = Reason.PROVEN) -> UnitJudged:
    return UnitJudged(verdict, str(reason), "")


def standing(*judgements: tuple[str, UnitJudged]) -> Standing:
    made = Standing(SERIALS)
    for serial, event in judgements:
        made.take(stamped(serial, UnitStarted("A", 0)))
        made.take(stamped(serial, event))
    return made


# -- serials


@given(st.sampled_from(SERIALS), st.booleans())
def test_a_whole_serial_names_its_unit_in_any_case(serial: str, lower: bool) -> None:
    assert judge_scan(serial.lower() if lower else serial, standing()).serial == serial


@given(texts)
def test_a_scan_never_names_a_unit_that_it_does_not_spell(text: str) -> None:
    scan = judge_scan(text, standing())
    if scan.serial is not None:
        assert scan.serial.casefold() == text.casefold() or (text.isdigit() and scan.serial.endswith(text))


def test_last_digits_name_one_open_unit_or_none() -> None:
    assert judge_scan("41", standing()).serial == "QOC18-0041"
    assert judge_scan("051", standing()).serial == "QOC18-0051"
    assert judge_scan("1", standing()).serial is None
    assert judge_scan("04", standing()).key == "scan.unknown"
    several = Standing(["A-141", "A-241"])
    assert judge_scan("41", several).key == "scan.several"
    several.take(stamped("A-141", UnitStarted("A", 0)))
    several.take(stamped("A-141", judged(Verdict.GOOD)))
    assert judge_scan("41", several).serial == "A-241"
    several.take(stamped("A-241", UnitStarted("A", 0)))
    several.take(stamped("A-241", judged(Verdict.BAD)))
    assert judge_scan("241", several).key == "scan.was-bad"
    assert judge_scan("41", several).key == "scan.unknown"  # either may be meant


def test_good_and_bad_units_are_repeats_and_undecided_or_interrupted_ones_are_not() -> None:
    was = standing(
        (SERIALS[0], judged(Verdict.GOOD)),
        (SERIALS[1], judged(Verdict.BAD, Reason.TEACH_REFUSED)),
        (SERIALS[2], judged(Verdict.UNDECIDED, Reason.NO_CURRENT)),
        (SERIALS[3], judged(Verdict.UNDECIDED, Reason.BENCH_TRIPPED)),
    )
    keys = [judge_scan(serial, was).key for serial in SERIALS[:5]]
    assert keys == ["scan.was-good", "scan.was-bad", "scan.again", "scan.interrupted", "scan.accepted"]
    assert [judge_scan(serial, was).serial is not None for serial in SERIALS[:5]] == [0, 0, 1, 1, 1]


@given(texts)
def test_only_its_serial_or_its_last_digits_name_a_bad_unit(text: str) -> None:
    named = names(text, "QOC18-0041")
    digits = ("1", "41", "041", "0041")
    assert named == (text.casefold() == "qoc18-0041" or text in digits)


# -- how an order stands


def test_counts_are_of_verdicts_that_stand() -> None:
    was = standing(
        (SERIALS[0], judged(Verdict.GOOD)),
        (SERIALS[1], judged(Verdict.UNDECIDED, Reason.INTERRUPTED)),
        (SERIALS[2], judged(Verdict.BAD)),
    )
    assert [was.count(verdict) for verdict in Verdict] == [1, 1, 0]
    assert was.open_serials == (SERIALS[1], *SERIALS[3:])
    assert was.to_put_aside == (SERIALS[2],)
    was.take(stamped(SERIALS[2], UnitRemoved()))
    assert was.to_put_aside == ()


def test_a_pause_for_lunch_does_not_change_the_pace() -> None:
    made, at_s = Standing(SERIALS), 0.0
    for number, serial in enumerate(SERIALS[:7]):
        made.take(stamped(serial, UnitStarted("A", 0), at_s))
        at_s += 3600.0 if number == 3 else 30.0
        made.take(stamped(serial, judged(Verdict.GOOD), at_s))
    assert made.seconds_a_unit == 30.0
    assert made.left_s == 5 * 30.0


# -- lines


@given(texts, st.integers(0, 80))
def test_a_line_takes_exactly_the_columns_it_is_given(text: str, width: int) -> None:
    assert width_of(fitted(line(Span(text, Role.GOOD), "x"), width)) in (width, max(0, width - 1))
    assert columns(cut(text, width)) <= width


@given(texts, st.integers(10, 60), st.integers(1, 4))
def test_wrapped_text_keeps_to_its_lines(text: str, width: int, rows: int) -> None:
    made = wrapped(text, width, rows)
    assert len(made) <= rows
    assert all(columns(row) <= width for row in made)


@given(st.text("ABCXYZ019 .,+?m", max_size=20), st.integers(10, 200), st.integers(3, 12))
def test_large_letters_fill_their_place_and_no_more(text: str, width: int, rows: int) -> None:
    made = large(text, width, rows)
    assert len(made) == rows
    assert all(len(row) == width for row in made)


def test_the_footer_keeps_the_stop_key_whatever_the_width() -> None:
    commands = dict.fromkeys(("enter", "aside", "all", "help", "orders", "units", "rig", "leave"), "done")
    for width in range(12, 120):
        here, elsewhere = footer(commands, EN, width)
        assert text_of(here).startswith(" F8 STOP ")
        assert max(width_of(here), width_of(elsewhere)) <= width


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_smallest_screen_has_room_for_every_key_that_leads_elsewhere(language: str) -> None:
    commands = {name: name for name in EVERYWHERE}
    _, elsewhere = footer(commands, Words(language), 80)
    assert {span.command for span in elsewhere} >= set(EVERYWHERE)


def test_every_command_is_on_a_function_key_that_terminals_leave_alone() -> None:
    """F10 opens menus and F11 fills the screen in usual terminals (common practice, no source)."""
    keys = [one.key for one in COMMANDS.values()]
    assert len(set(keys)) == len(keys)
    assert {"f10", "f11"}.isdisjoint(keys)
    assert all(one in ("escape", "insert") or one[0] == "f" for one in keys)


# -- the ruler


def test_the_ruler_is_to_scale_and_shows_what_is_known() -> None:
    made = job("barrel-18-rail", "single-point", "NO", at_mm=400, tolerance_mm=8)
    rows = [text_of(row) for row in ruler(made.plan, made.sensor_type, EN, 100, Marks(600.0, 200.0))]
    zone = next(row for row in rows if row.startswith("zone"))
    point = next(row for row in rows if row.startswith("set point"))
    target = next(row for row in rows if row.startswith("target"))
    start, per_mm = zone.index("x"), (99 - zone.index("x")) / (800 * 1.03)
    assert abs(point.index("^") - (start + 400 * per_mm)) <= 1
    assert abs(target.index("T 200") - (start + 200 * per_mm)) <= 1
    assert abs(target.index("|to 600") - (start + 600 * per_mm)) <= 1
    assert abs(zone.count("x") - 60 * per_mm) <= 1
    assert abs(zone.rindex("=") - (start + 400 * per_mm)) <= 1


# -- looks


def test_text_has_the_contrast_that_wcag_asks_for() -> None:
    """At least 4.5 to 1 (WCAG 2.1, success criterion 1.4.3)."""
    for look in (DARK, LIGHT):
        for role, paint in [*look.paints.items(), *look.fills.items()]:
            assert paint.ink is not None
            assert look.ground is not None
            assert contrast(paint.ink, paint.ground or look.ground) >= 4.5, (look.name, role)


def test_contrast_is_that_of_the_published_examples() -> None:
    """Black on white is 21 to 1 (WCAG 2.1); #767676 on white is just enough, 4.54 (usual example, from memory)."""
    assert round(contrast("#000000", "#ffffff"), 2) == 21.0
    assert round(contrast("#767676", "#ffffff"), 2) == 4.54


def test_without_colour_there_is_no_colour() -> None:
    for paint in [*PLAIN.paints.values(), *PLAIN.fills.values()]:
        assert paint.ink is paint.ground is None


def test_the_edges_of_a_measured_order_are_listed_before_they_are_measured() -> None:
    checks = CheckPlan(method=Verification.MEASURED)
    plan = job("barrel-18-rail", "window", "NO", near_mm=280, far_mm=560, tolerance_mm=6, checks=checks).plan
    steps = Steps(plan, EN)
    edges = [row for row in steps.rows if row.key.startswith("edge/")]
    assert [row.text for row in edges][:2] == [
        "measure far end, about 560.0 mm",
        "measure near end, about 280.0 mm",
    ]
    steps.take(stamped("QOC18-0041", EdgeBegun("outer", "steps", 0.5)))
    assert steps.now is not None
    assert steps.now.key == "edge/outer"
    assert [row.key for row in steps.rows if row.key.startswith("edge/")] == [row.key for row in edges]


def test_a_led_that_follows_a_target_moved_by_hand_is_not_said_to_flash_at_0_hz() -> None:
    assert led_words(LedKind.FLASHING, 0.02, None, EN) == "changes slowly"
    assert led_words(LedKind.FLASHING, 2.0, None, EN) == "flashing 2 Hz"
