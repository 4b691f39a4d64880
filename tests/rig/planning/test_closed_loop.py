"""The loop closed: taught by plan on the bench, put into the machine's air, where does the unit switch?"""

from __future__ import annotations

import math
import random
from collections import Counter

import pytest
from scipy.stats import binom, chi2

from rig.events import Verdict
from tests.rig.planning.closed_loop import live, live_misplaced
from tests.rig.planning.tally import Tally, broken_needs, share, spread, within_drift, within_tolerance
from tests.rig.planning.trials import draw_trial

# A true claim fails a test at this level once in a thousand seeds; the seeds stand still.
LEVEL = 0.001


def least(tally: Tally, number: int) -> float:
    """The smallest share that chance leaves of what holds with the stated coverage."""
    return float(binom.ppf(LEVEL, number, tally.coverage)) / number


def hold_the_plan_to_its_word(tally: Tally) -> None:
    print(tally)
    # In the middle of the machine's air, where set points are stated to hold.
    for group in (tally.plain, tally.compensating):
        assert share(group, lambda one: within_tolerance(one, one.middle_mm)) >= least(tally, len(group))
        assert share(group, lambda one: within_drift(one, one.middle_mm)) >= least(tally, len(group))
    # The standard uncertainty is as wide as errors really spread, and hardly wider than the physics has sources for.
    widest = math.sqrt(chi2.ppf(1 - LEVEL, len(tally.plain)) / len(tally.plain))
    assert 0.5 < spread(tally.plain) < widest

    # All over the machine's air.
    for group in (tally.plain, tally.compensating):
        for index in range(len(group[0].others_mm)):
            held = share(group, lambda one, index=index: within_drift(one, one.others_mm[index]))
            assert held >= least(tally, len(group))
        for one in group:
            assert all(within_drift(one, mm, one.grounds.tolerance_mm) for mm in one.others_mm), one.trial
    assert [
        words for one in tally.lived for zone in one.zones for words in broken_needs(one.trial, zone)
    ] == []


def hold_that_correction_is_needed(tally: Tally) -> None:
    plain, lost = tally.plain, [landed for one in tally.far_apart for landed in one.landed]
    assert share(plain, lambda one: within_tolerance(one, one.uncorrected_mm)) < least(tally, len(plain))
    assert share(lost, lambda one: within_tolerance(one, one.uncorrected_mm)) < 0.5
    assert share(lost, lambda one: within_drift(one, one.uncorrected_mm)) < 0.1
    uncorrected = Counter(one.uncorrected.verdict for one in tally.far_apart if one.uncorrected)
    assert uncorrected[Verdict.BAD] >= 0.5 * uncorrected.total()
    assert uncorrected[Verdict.GOOD] < 0.3 * uncorrected.total()


def hold_the_verdicts_to_the_truth(tally: Tally) -> None:
    """Sound units all: none is bad here or there, and no more are undecided than the plans say."""
    orders = len(tally.lived)
    on_bench = Counter(one.on_bench.verdict for one in tally.lived)
    assert not on_bench[Verdict.BAD]
    assert on_bench[Verdict.UNDECIDED] <= binom.ppf(1 - LEVEL, orders, tally.stated_undecided)

    there = Counter(one.at_machine.verdict for one in tally.lived if one.at_machine)
    assert there.total() >= 0.95 * orders
    assert not there[Verdict.BAD]
    assert there[Verdict.GOOD] >= 0.95 * there.total()


def hold_misplaced_units_to_the_truth(seeds: range) -> None:
    """Units of any setting, right or wrong: passed on the bench is within tolerance at the machine, bad is not."""
    trials = [trial for trial in map(draw_trial, seeds) if trial.plan.set_points]
    draw = random.Random(f"misplaced/{seeds.start}")
    units = [live_misplaced(one, draw.uniform(-2.5, 2.5) * one.plan.tolerance_mm) for one in trials]
    passed = [one for one in units if one.on_bench.verdict is Verdict.GOOD]
    failed = [one for one in units if one.on_bench.verdict is Verdict.BAD]
    # No single unit at the limit of its tolerance is judged wrongly more often than this.
    worst = max(risk.passes_at_limit for one in trials for risk in one.plan.grounds.risks)
    passed_outside = [one for one in passed if one.beyond_mm > 0]
    failed_inside = [one for one in failed if one.short_mm < 0]
    print(
        f"{len(units)} units, wrong by up to 2.5 tolerances: {len(passed)} good, {len(passed_outside)} of them outside "
        f"tolerance at the machine; {len(failed)} bad, {len(failed_inside)} of them inside"
    )
    for judged, wrongly in ((passed, passed_outside), (failed, failed_inside)):
        assert len(judged) > 0.15 * len(units)
        assert len(wrongly) <= worst * len(judged), [str(one) for one in wrongly]
    assert [str(one) for one in passed_outside if one.beyond_mm > one.guard_mm] == []
    assert [str(one) for one in failed_inside if -one.short_mm > one.guard_mm] == []


def test_units_taught_by_plan_switch_right_in_the_machines_air() -> None:
    tally = Tally([live(draw_trial(seed)) for seed in range(60)])
    hold_the_plan_to_its_word(tally)
    hold_that_correction_is_needed(tally)
    hold_the_verdicts_to_the_truth(tally)


def test_what_is_good_on_the_bench_is_good_at_the_machine_and_what_is_bad_is_not() -> None:
    hold_misplaced_units_to_the_truth(range(1000, 1024))


@pytest.mark.slow
def test_five_hundred_orders_hold(capsys: pytest.CaptureFixture[str]) -> None:
    tally = Tally([live(draw_trial(seed)) for seed in range(500)])
    with capsys.disabled():
        hold_the_plan_to_its_word(tally)
    hold_that_correction_is_needed(tally)
    hold_the_verdicts_to_the_truth(tally)
    assert len({(one.trial.plan.sensor_type, one.trial.plan.mode) for one in tally.lived}) == 15


@pytest.mark.slow
def test_five_hundred_misplaced_units_are_judged_as_they_deserve(capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        hold_misplaced_units_to_the_truth(range(1000, 1500))
