"""The decision on a lot: held against a second statement of the rule, and at its edges."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import hypergeom

from rig.events import Verdict
from rig.lots.decision import standing
from rig.lots.draw import drawn
from rig.lots.report import decision_words
from rig.lots.sampling import sampling_of
from rig.lots.units import units_found
from rig.sampling.estimate import Ending
from rig.sampling.plan import Decision, NoSuchPlan
from rig.sampling.standard import Level, Severity, tables
from sequences.receiving import AQL_PERCENT, DefectClass, InspectionLevel
from tests.rig.lots.lots import SHIPPED, found_of, plan_with, stands, try_at

CRITICAL, MAJOR, MINOR = DefectClass
DEFECTS = st.sampled_from([None, None, None, *DefectClass])


def test_levels_and_limits_of_a_plan_are_those_of_the_sampling_tables() -> None:
    assert tables().aql_percent == AQL_PERCENT
    assert {str(one) for one in InspectionLevel} == {str(one) for one in Level}


@settings(max_examples=60, deadline=None)
@given(st.data(), st.integers(2, 300), st.booleans())
def test_it_is_what_counting_by_hand_gives(data: st.DataObject, quantity: int, curtail: bool) -> None:
    """Each class counts, of the first units of the draw, those whose gravest defect is of it."""
    plan = plan_with({"curtail": curtail}, major={"aql_percent": 1.5}, minor={"aql_percent": 4.0})
    sampling = sampling_of(plan, quantity, Severity.NORMAL)
    defects = data.draw(st.lists(DEFECTS, max_size=sampling.units))
    sizes = {one.defect: (one.plan.sample_size, one.plan.acceptance_number) for one in sampling.by_class}
    decisions = set()
    for defect, (size, most) in sizes.items():
        count = sum(
            next((c for c in DefectClass if c is one and index < sizes[c][0]), None) is defect
            for index, one in enumerate(defects)
        )
        if count > most:  # type: ignore[operator]
            decisions.add("rejected")
        elif len(defects) < size:
            decisions.add("open")
    whole = len(defects) == sampling.units
    wanted = "rejected" if "rejected" in decisions and (curtail or whole) else None
    if not decisions:
        wanted = "accepted"
    assert stands(plan, quantity, found_of(plan, defects)).decision == wanted


def test_a_class_is_decided_by_its_own_sample_while_another_wants_more() -> None:
    plan = plan_with(major={"aql_percent": 1.5}, minor={"aql_percent": 4.0})
    classes = {one.asked.defect: one for one in stands(plan, 120, found_of(plan, [None] * 20)).classes}
    assert (classes[MINOR].decision, classes[MINOR].tested) == (Decision.ACCEPTED, 20)
    assert (classes[MAJOR].decision, classes[MAJOR].left) == (None, 12)


def test_a_unit_counts_once_in_its_gravest_class() -> None:
    plan = plan_with({"units": 3}, major={"most": 1}, minor={"most": 0})
    both = try_at("u0", Verdict.BAD, MINOR)
    both.judged += try_at("u0", Verdict.BAD, MAJOR).judged
    counts = {one.asked.defect: one.found for one in stands(plan, 10, units_found([both], plan, {})).classes}
    assert counts == {CRITICAL: 0, MAJOR: 1, MINOR: 0}


def test_a_characteristic_may_reject_by_a_number_of_its_own() -> None:
    plan = plan_with({"units": 4}, minor={"most": 3})
    led = plan.test.led.model_copy(update={"most": 0})  # type: ignore[union-attr]
    strict = plan.model_copy(update={"test": plan.test.model_copy(update={"led": led})})
    one_minor = found_of(plan, [MINOR, None, None, None])
    assert stands(plan, 9, one_minor).decision is Decision.ACCEPTED
    assert stands(strict, 9, one_minor).decision is Decision.REJECTED


def test_a_doubtful_unit_keeps_the_lot_open_only_while_it_could_change_the_decision() -> None:
    plan = plan_with({"units": 2}, major={"most": 1}, minor={"most": 1}, critical={"most": 1})
    doubtful = try_at("u1", Verdict.UNDECIDED, MAJOR, "near-tolerance")
    sound, bad = try_at("u0", Verdict.GOOD), try_at("u0", Verdict.BAD, MAJOR)
    assert stands(plan, 9, units_found([sound, doubtful], plan, {})).decision is Decision.ACCEPTED
    assert stands(plan, 9, units_found([bad, doubtful], plan, {})).decision is None
    decided = units_found([bad, doubtful], plan, {"u1": Verdict.BAD})
    assert stands(plan, 9, decided).decision is Decision.REJECTED


def test_a_lot_that_ended_early_says_so_in_its_estimate() -> None:
    plan = plan_with({"units": 20, "curtail": True})
    early = stands(plan, 100, found_of(plan, [None, None, MAJOR]))
    assert (early.decision, early.early, early.seen.ending) == (
        Decision.REJECTED,
        True,
        Ending.REJECTED_EARLY,
    )
    patient = plan_with({"units": 20, "curtail": False})
    assert stands(patient, 100, found_of(patient, [None, None, MAJOR])).decision is None


@pytest.mark.parametrize(
    "way", [{"aql_percent": 1.0}, {"zero_percent": 5}, {"good_percent": 1, "poor_percent": 8}]
)
def test_a_lot_of_one_is_tested_whole(way: dict[str, float]) -> None:
    assert sampling_of(plan_with(major=way), 1, Severity.NORMAL).units == 1


def test_a_plan_that_no_table_has_names_its_class() -> None:
    plan = plan_with({"level": "III"}, major={"aql_percent": 1.0})
    with pytest.raises(NoSuchPlan, match=r"accept\.major: .*code letter"):
        sampling_of(plan, 2_000_000, Severity.NORMAL)


def test_unit_by_unit_the_lot_ends_as_soon_as_it_is_clearly_good_or_poor() -> None:
    plan = plan_with(major={"good_percent": 1, "poor_percent": 10, "sequential": True})
    sampling = sampling_of(plan, 500, Severity.NORMAL)
    sound = next(
        n for n in range(1, sampling.units) if stands(plan, 500, found_of(plan, [None] * n)).decision
    )
    assert sound < sampling.units
    assert stands(plan, 500, found_of(plan, [None] * sound)).decision is Decision.ACCEPTED
    # A class that only follows has tested so many units, and its curve is that of so many.
    followed = stands(plan, 500, found_of(plan, [None] * sound)).classes[0]
    assert (followed.asked.plan.sample_size, followed.tested) == (sound, sound)
    poor = next(
        n for n in range(1, sampling.units) if stands(plan, 500, found_of(plan, [MAJOR] * n)).decision
    )
    assert poor < sound
    assert stands(plan, 500, found_of(plan, [MAJOR] * poor)).decision is Decision.REJECTED
    # One critical defect among those that it took rejects the lot: of these none is accepted.
    assert stands(plan, 500, found_of(plan, [CRITICAL, *[None] * (sound - 1)])).decision is Decision.REJECTED


# Beyond so many standard errors lies one share in 15,000; eight are looked at.
WIDTHS = 4.0


@pytest.mark.parametrize("lots", [1_000, pytest.param(20_000, marks=pytest.mark.slow)])
def test_lots_of_known_quality_are_accepted_as_often_as_the_curve_says(lots: int) -> None:
    """Lots of 120, drawn by their seeds and decided by what decides real ones.

    The curve is scipy's hypergeometric distribution. The bad units lie at the first places: which of them are drawn
    is left to the draw alone.
    """
    sampling = sampling_of(SHIPPED, 120, Severity.NORMAL)
    size = sampling.units
    serials = [f"u{number}" for number in range(size)]

    @cache
    def accepted(hits: tuple[int, ...]) -> bool:
        found = found_of(SHIPPED, [MAJOR if index in hits else None for index in range(size)])
        return standing(SHIPPED, sampling, serials, found).decision is Decision.ACCEPTED

    draws = [drawn(120, seed)[:size] for seed in range(lots)]
    for bad in (1, 3, 6, 12):
        hits = (tuple(index for index, place in enumerate(one) if place <= bad) for one in draws)
        share = sum(map(accepted, hits)) / lots
        chance = float(hypergeom.cdf(sampling.by_class[1].plan.acceptance_number, 120, bad, size))
        assert abs(share - chance) < WIDTHS * (chance * (1 - chance) / lots) ** 0.5, bad


def test_why_a_lot_was_rejected_is_said_in_numbers() -> None:
    plan = plan_with({"units": 5})
    standing_ = stands(plan, 50, found_of(plan, [MAJOR, MAJOR, CRITICAL, None, None]))
    record = type("Record", (), {"standing": standing_})
    words = decision_words(record, Decision.REJECTED)  # type: ignore[arg-type]
    assert words == "1 with a critical defect, 0 accepted; 2 with a major defect, 0 accepted"
    assert Counter(standing_.by_characteristic.values()) == Counter([2, 1])
