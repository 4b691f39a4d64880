"""The loop closed: taught by plan on the bench, put into the machine's air, where does the unit switch?"""

from __future__ import annotations

from collections import Counter

import pytest
from scipy.stats import binom

from rig.events import Verdict
from tests.rig.planning.closed_loop import Landed, draw_trial, live

STATED_SHARE = 0.9545
"""Coverage for which a plan states the uncertainty of a set point."""


def landed_of(trials: int) -> list[Landed]:
    lived = [live(draw_trial(seed)) for seed in range(trials)]
    verdicts = Counter(one.on_bench.verdict for one in lived)
    # The orders are drawn as tight as the rig may prove, on benches as wrong as their profiles own.
    assert not verdicts[Verdict.BAD]
    assert verdicts[Verdict.GOOD] >= 0.9 * trials
    return [landed for one in lived for landed in one.landed]


def share_within(landed: list[Landed], *, corrected: bool) -> float:
    def off_mm(one: Landed) -> float:
        return abs(one.off_mm if corrected else one.uncorrected_mm - one.grounds.machine_mm)

    within = sum(off_mm(one) <= one.grounds.tolerance_mm + one.grounds.guard_mm for one in landed)
    return within / len(landed)


def within_drift(landed: list[Landed]) -> float:
    """Share of set points that lie where the plan says the machine's air takes them, give or take U."""

    def holds(one: Landed) -> bool:
        told = (one.grounds.machine_mm, one.grounds.drift_nearest_mm, one.grounds.drift_farthest_mm)
        return min(told) - one.grounds.guard_mm <= one.middle_mm <= max(told) + one.grounds.guard_mm

    return sum(map(holds, landed)) / len(landed)


def hold_the_plan_to_its_word(landed: list[Landed]) -> None:
    corrected, drifted = share_within(landed, corrected=True), within_drift(landed)
    print(f"{len(landed)} set points: {corrected:.2%} within tolerance + U, {drifted:.2%} within drift + U")
    least = binom.ppf(0.001, len(landed), STATED_SHARE) / len(landed)
    assert corrected >= least
    assert drifted >= least
    for point in landed:
        told = (point.grounds.drift_nearest_mm, point.grounds.drift_farthest_mm)
        slack_mm = point.grounds.tolerance_mm + point.grounds.guard_mm
        assert all(min(told) - slack_mm <= mm <= max(told) + slack_mm for mm in point.others_mm)
    plain = [one for one in landed if not one.trial.compensated and abs(one.trial.kelvin) > 15]
    uncorrected = share_within(plain, corrected=False)
    print(
        f"uncompensated, over 15 K apart: {share_within(plain, corrected=True):.2%}, uncorrected {uncorrected:.2%}"
    )
    assert share_within(plain, corrected=True) >= least
    assert uncorrected < 0.5


def test_a_unit_taught_by_plan_switches_right_in_the_machines_air() -> None:
    hold_the_plan_to_its_word(landed_of(80))


@pytest.mark.slow
def test_five_hundred_orders_hold() -> None:
    hold_the_plan_to_its_word(landed_of(500))
