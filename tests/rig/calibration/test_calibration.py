"""A calibration: what it says of a rig, what it corrects, and when work is outside it."""

from __future__ import annotations

from datetime import date
from math import hypot
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.calibration.calibration import (
    Calibration,
    due_day,
    objections,
    places_of,
    residual_plot,
    sent_for,
    what_is_left,
)
from rig.calibration.using import as_calibrated, doubts, words_of
from rig.statistics.uncertainty import coverage_factor
from tests.hal.rigs import SELECTOR
from tests.rig.selfcheck.checked import RIGS
from wiring.profile import RigProfile

_NOISE_MM = (0.03, -0.02, 0.0, -0.03, 0.02, 0.01, -0.01)


def made(
    rig: RigProfile, zero_mm: float = 0.0, scale: float = 1.0, error_mm: float = 0.05, due: str = "2027-01-01"
) -> Calibration:
    shown_mm = places_of(rig.target, len(_NOISE_MM))
    noise_mm = _NOISE_MM[: len(shown_mm)]
    true_mm = tuple(zero_mm + scale * one + off for one, off in zip(shown_mm, noise_mm, strict=True))
    return Calibration(rig.name, "A", shown_mm, true_mm, "gauge blocks", error_mm, "Maren", "2026-01-01", due)


def test_a_stage_is_corrected_for_zero_and_scale() -> None:
    rig = SELECTOR
    calibration = made(rig, zero_mm=-0.8, scale=1.0004)
    assert sent_for(calibration, 1000.0) == pytest.approx((1000.0 + 0.8) / 1.0004, abs=0.05)
    # At the far end the stage is at the end of its way, where 6500 mm on its own scale are more.
    assert objections(calibration, rig.target) == ()


def test_a_stage_that_cannot_reach_the_end_of_its_way_any_more_is_objected_to() -> None:
    (words,) = objections(made(SELECTOR, scale=0.999), SELECTOR.target)
    assert "at 6500 mm" in words


def test_by_hand_nothing_is_corrected_so_the_scale_itself_has_to_be_right() -> None:
    rig = RIGS["by hand"]
    assert objections(made(rig), rig.target) == ()
    assert "set the scale right" in objections(made(rig, zero_mm=0.5), rig.target)[0]


def test_a_rough_reference_proves_nothing() -> None:
    assert objections(made(SELECTOR, error_mm=2.0), SELECTOR.target)


@given(st.floats(-2, 2), st.floats(0.99, 1.01), st.floats(50, 6000))
def test_sent_where_it_is_sent_the_target_stands_where_it_is_wanted(
    zero_mm: float, scale: float, at_mm: float
) -> None:
    calibration = made(SELECTOR, zero_mm, scale)
    assert calibration.line.at(sent_for(calibration, at_mm)) == pytest.approx(at_mm)


def test_the_uncertainty_holds_scatter_and_reference() -> None:
    calibration = made(SELECTOR, error_mm=0.3)
    student = coverage_factor(0.95, 5)
    assert student == pytest.approx(
        2.571, abs=5e-4
    )  # table G.2 of JCGM 100:2008: t at 95 % and 5 degrees of freedom
    line = calibration.line
    by_hand = student * (line.u_at(1000.0) ** 2 + 0.3**2 / 3) ** 0.5
    assert calibration.u_mm(1000.0) == pytest.approx(by_hand)


@given(st.floats(0, 6500), st.floats(0.01, 1.0))
def test_a_budget_counts_no_less_than_what_the_calibration_leaves(at_mm: float, error_mm: float) -> None:
    calibration = made(SELECTOR, zero_mm=-0.4, scale=1.0003, error_mm=error_mm)
    left = what_is_left(calibration, SELECTOR.target)
    counted_mm = hypot(left.zero_u_mm, left.scale_u_percent / 100 * at_mm)
    scatter_mm = calibration.line.u_at(at_mm) * coverage_factor(0.95, 5) / coverage_factor(0.95)
    assert counted_mm >= 0.9999 * hypot(scatter_mm, error_mm / 3**0.5)


def test_what_a_stage_is_corrected_for_is_no_doubt_and_by_hand_it_is_one() -> None:
    by_hand = RIGS["by hand"]
    right, off = (what_is_left(made(by_hand, zero), by_hand.target) for zero in (0.0, 0.5))
    assert off.zero_u_mm == pytest.approx(hypot(right.zero_u_mm, 0.5 / 3**0.5), rel=0.02)
    stage, moved = (what_is_left(made(SELECTOR, zero), SELECTOR.target) for zero in (0.0, 0.5))
    assert stage.zero_u_mm == pytest.approx(moved.zero_u_mm)


@given(st.floats(-70, 70), st.floats(0.94, 1.06), st.floats(0.001, 20.0))
def test_however_far_a_scale_is_off_its_doubt_can_be_counted(
    zero_mm: float, scale: float, error_mm: float
) -> None:
    by_hand = RIGS["by hand"]
    assert what_is_left(made(by_hand, zero_mm, scale, error_mm), by_hand.target).zero_u_mm > 0


def test_without_a_calibration_the_rig_is_as_its_profile_says(tmp_path: Path) -> None:
    assert as_calibrated(SELECTOR, tmp_path / "journal.sqlite3", date(2026, 1, 1)) is SELECTOR


def test_it_holds_up_to_the_day_on_which_it_is_due() -> None:
    assert due_day(date(2026, 1, 1), 365) == date(2027, 1, 1)
    calibration = made(SELECTOR)
    assert doubts(calibration, SELECTOR, date(2027, 1, 1)) == ""
    assert "was due on 2027-01-01" in doubts(calibration, SELECTOR, date(2027, 1, 2))
    assert "never calibrated" in doubts(None, SELECTOR, date(2026, 1, 1))


def test_the_words_for_papers_say_what_is_known_and_what_is_not() -> None:
    within = words_of(made(SELECTOR, zero_mm=-0.25), SELECTOR, date(2026, 5, 5))
    assert within.startswith("Distances calibrated on 2026-01-01 with gauge blocks")
    assert "zero -0.25 mm" in within
    assert "Currents and times rest on" in within
    outside = words_of(made(SELECTOR), SELECTOR, date(2028, 1, 1))
    assert outside.startswith("OUTSIDE ITS CALIBRATION: ")


def test_it_comes_back_from_the_record_as_what_it_was() -> None:
    calibration = made(SELECTOR)
    assert Calibration.from_content(calibration.content()) == calibration


def test_slots_are_calibrated_where_they_are() -> None:
    assert places_of(RIGS["slots"].target, 11) == (200.0, 400.0)


def test_the_plot_puts_each_residual_on_its_side() -> None:
    head, left, right = residual_plot((100.0, 200.0), (-0.2, 0.1))
    assert head.split() == ["-0.20", "0", "+0.20"]
    assert left.index("*") < left.index("|")
    assert right.index("*") > right.index("|")
