"""What is said of plans and decisions is true of them: figures are read out of the sentences and held against scipy."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, hypergeom

from rig.sampling.design import Point, zero_acceptance_plan
from rig.sampling.estimate import Ending, Seen
from rig.sampling.plan import Decision, OneLot, SinglePlan, whole_lot
from rig.sampling.proof import promises, proof_of, seen_of
from rig.sampling.sequential import SequentialPlan, ends_of

PLANS = st.builds(
    lambda size, part: SinglePlan(size, int(part * size)), st.integers(2, 120), st.floats(0, 0.3)
)


def percents(words: str) -> list[float]:
    return [float(number) / 100 for number in re.findall(r"([\d.e-]+)\u00a0%", words)]


@given(PLANS)
def test_promises_are_kept(plan: SinglePlan) -> None:
    good, poor, luck = promises(plan)
    assert binom.sf(plan.acceptance_number, plan.sample_size, percents(good)[0]) == pytest.approx(
        0.05, abs=4e-3
    )
    assert binom.cdf(plan.acceptance_number, plan.sample_size, percents(poor)[0]) == pytest.approx(
        0.1, abs=4e-3
    )
    assert "luck" in luck


def test_the_worst_outgoing_quality_is_promised_where_lots_have_a_size() -> None:
    # As in the e-Handbook's example (test_single.py).
    assert percents(promises(SinglePlan(52, 3), 10_000)[-1]) == pytest.approx([0.0372, 0.0559])


@given(st.integers(2, 80), st.floats(0, 1), st.floats(0, 0.5))
def test_promises_of_one_lot_are_kept_to_the_unit(lot_size: int, part: float, allowed: float) -> None:
    sample = max(1, round(part * (lot_size - 1)))
    plan = SinglePlan(sample, int(allowed * (sample - 1)))
    good, poor, *_ = promises(OneLot(plan, lot_size), lot_size)
    found = re.search(r"no more than (\d+) bad", good)
    most = int(found[1]) if found else 0
    fewest = int((re.search(r"With (\d+) bad", poor) or [""])[1])
    accepted = hypergeom.cdf(plan.acceptance_number, lot_size, range(lot_size + 1), sample)
    assert accepted[most] >= 0.95 - 1e-9
    assert most == lot_size or accepted[most + 1] < 0.95
    assert fewest > lot_size or accepted[fewest] < 0.1
    assert accepted[fewest - 1] >= 0.1 - 1e-9


def test_an_accepted_lot_is_not_said_to_be_free_of_bad_units() -> None:
    proof = proof_of(SinglePlan(20, 1), Seen(20, 1), Decision.ACCEPTED, 120)
    assert proof.found == "The lot is accepted: 1 bad of 20 tested, out of 120."
    sure, single = proof.proves
    # Exact bounds: with 1 or 27 bad in the lot such a sample is just not too rare.
    assert "95\u00a0% confidence 1 to 27 of the 120 units" in sure
    assert hypergeom.cdf(1, 120, 27, 20) >= 0.025 > hypergeom.cdf(1, 120, 28, 20)
    assert "5\u00a0% (1 of 20)" in single
    assert "does not prove that the rest of the lot is free of bad units: up to 26" in proof.proves_not[0]
    assert percents(proof.proves_not[1]) == pytest.approx([0.181])


def test_a_lot_that_was_rejected_early_is_not_said_to_be_as_bad_as_it_looks() -> None:
    proof = proof_of(SinglePlan(20, 1), Seen(9, 2, Ending.REJECTED_EARLY), Decision.REJECTED, 120)
    assert "out of 120; ended early: the lot could no longer pass." in proof.found
    assert (
        "12.5\u00a0%. It is not 2 of 9, because what was found decided when testing ended" in proof.proves[1]
    )
    assert "most of them may be good" in proof.proves_not[0]
    only_one = proof_of(SinglePlan(20, 0), Seen(9, 1, Ending.REJECTED_EARLY), Decision.REJECTED, 120)
    assert "The bounds are all there is" in only_one.proves[1]


def test_a_lot_that_was_tested_whole_leaves_nothing_open_but_what_was_not_tested() -> None:
    proof = proof_of(whole_lot(12), Seen(12, 0), Decision.ACCEPTED, 12)
    assert proof.proves == ("Every unit was tested; bad ones in the lot: 0.",)
    assert len(proof.proves_not) == 1
    assert "not tested" in proof.proves_not[0]
    assert promises(whole_lot(12), 12)[0].startswith("Every unit is tested")


def test_a_sequential_plan_says_what_follows_from_where_it_ended() -> None:
    plan = SequentialPlan(0.0397, 0.939, 1.205, 80)
    end = next(end for end in ends_of(plan) if end.decision is Decision.REJECTED and end.bad == 3)
    seen = Seen(end.tested, end.bad, Ending.REJECTED_EARLY)
    proof = proof_of(plan, seen, Decision.REJECTED, 500)
    bounds = plan.lot_bounds(end.tested, end.bad, 500)
    assert f"{bounds.fewest} to {bounds.most} of the 500" in proof.proves[0]
    assert percents(proof.proves[1])[0] == pytest.approx(plan.estimate(end.tested, end.bad), rel=0.01)
    broken_off = proof_of(plan, Seen(4, 0, Ending.BROKEN_OFF), Decision.REJECTED, 500)
    assert "0 of 4" in broken_off.proves[1]


def test_a_plan_that_allows_none_promises_the_producer_nothing_but_a_clean_lot() -> None:
    plan = zero_acceptance_plan(Point(0.05, 0.05), 120)
    assert promises(OneLot(plan, 120), 120)[0].startswith("Only without a bad unit")


def test_what_was_seen_follows_from_the_numbers() -> None:
    plan = SinglePlan(20, 1)
    assert seen_of(plan, 20, 1) == (Seen(20, 1), Decision.ACCEPTED)
    assert seen_of(plan, 20, 4) == (Seen(20, 4), Decision.REJECTED)
    assert seen_of(plan, 9, 2) == (Seen(9, 2, Ending.REJECTED_EARLY), Decision.REJECTED)
    assert seen_of(plan, 19, 0) == (Seen(19, 0, Ending.ACCEPTED_EARLY), Decision.ACCEPTED)
    # Testing went on after it was decided: then what was found did not end it.
    assert seen_of(plan, 12, 4) == (Seen(12, 4, Ending.BROKEN_OFF), Decision.REJECTED)
    assert seen_of(plan, 9, 1) is None
    with pytest.raises(ValueError, match="3 bad of 21 tested; allowed: up to the sample of 20"):
        seen_of(plan, 21, 3)


def test_an_early_end_that_changes_nothing_is_not_made_much_of() -> None:
    proof = proof_of(SinglePlan(20, 1), Seen(19, 0, Ending.ACCEPTED_EARLY), Decision.ACCEPTED, 120)
    assert proof.proves[1] == "The best single figure is 0\u00a0% (0 of 19)."
