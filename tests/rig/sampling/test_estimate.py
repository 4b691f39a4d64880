"""What is said of the share of bad units keeps its promise, whole sample or not: every outcome is gone through."""

from __future__ import annotations

from collections.abc import Iterator
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from rig.sampling.estimate import Ending, Seen, lot_bounds, process_bounds
from rig.sampling.plan import Decision, SinglePlan

ENDING = {Decision.ACCEPTED: Ending.ACCEPTED_EARLY, Decision.REJECTED: Ending.REJECTED_EARLY}


def outcomes(plan: SinglePlan, share: float, *, accepts_early: bool) -> Iterator[tuple[Seen, float]]:
    """Everything that can happen when testing ends as soon as the lot is decided, with its probability.

    Ways to each state are counted unit by unit, without any formula for them.
    """
    ways = {(0, 0): 1}
    while ways:
        further: dict[tuple[int, int], int] = {}
        for (tested, bad), count in ways.items():
            for now_bad in (bad, bad + 1):
                at = (tested + 1, now_bad)
                further[at] = further.get(at, 0) + count
        ways = {}
        for (tested, bad), count in further.items():
            decision = plan.decided_early(tested, bad)
            if decision is Decision.ACCEPTED and not accepts_early and tested < plan.sample_size:
                decision = None
            if decision is None:
                ways[tested, bad] = count
                continue
            early = decision is Decision.REJECTED or accepts_early
            chance = count * share**bad * (1 - share) ** (tested - bad)
            yield Seen(tested, bad, ENDING[decision] if early else Ending.WHOLE), chance


PLANS = st.builds(
    lambda sample, part: SinglePlan(sample, min(round(part * sample), sample - 1)),
    st.integers(2, 25),
    st.floats(0, 0.5),
)
SHARES = st.floats(0.001, 0.999)


@settings(max_examples=40)
@given(PLANS, SHARES, st.booleans())
def test_bounds_cover_the_true_share_as_often_as_they_say(
    plan: SinglePlan, share: float, accepts_early: bool
) -> None:
    happened = list(outcomes(plan, share, accepts_early=accepts_early))
    assert sum(chance for _, chance in happened) == pytest.approx(1)
    for coverage in (0.8, 0.95):
        covered = sum(chance for seen, chance in happened if share in process_bounds(seen, coverage))
        assert covered >= coverage - 1e-9


def better_first(seen: Seen) -> tuple[bool, int, int]:
    """Rejected after accepted, accepted the better the sooner and the fewer bad, rejected the better the later."""
    rejected = seen.ending is Ending.REJECTED_EARLY
    return rejected, -seen.tested if rejected else seen.tested, seen.bad


@pytest.mark.parametrize("accepts_early", [False, True])
@pytest.mark.parametrize("plan", [SinglePlan(6, 0), SinglePlan(8, 1), SinglePlan(9, 4)])
def test_bounds_are_no_wider_than_they_have_to_be(plan: SinglePlan, accepts_early: bool) -> None:
    ends = sorted((seen for seen, _ in outcomes(plan, 0.5, accepts_early=accepts_early)), key=better_first)

    def chance(share: float, of: list[Seen]) -> float:
        happened = dict(outcomes(plan, share, accepts_early=accepts_early))
        return sum(happened[seen] for seen in of)

    for place, seen in enumerate(ends):
        found = process_bounds(seen, 0.9)
        if place < len(ends) - 1:
            assert chance(found.upper, ends[: place + 1]) == pytest.approx(0.05)
        if place:
            assert chance(found.lower, ends[place:]) == pytest.approx(0.05)


@settings(max_examples=40)
@given(PLANS.filter(lambda plan: plan.acceptance_number >= 1), SHARES, st.booleans())
def test_the_estimate_is_right_on_average(plan: SinglePlan, share: float, accepts_early: bool) -> None:
    happened = list(outcomes(plan, share, accepts_early=accepts_early))
    if any(seen.estimate is None for seen, _ in happened):
        assert plan.sample_size - plan.acceptance_number == 1
        return
    average = sum(chance * (seen.estimate or 0.0) for seen, chance in happened)
    assert average == pytest.approx(share, abs=1e-9)


def test_the_plain_share_would_be_wrong_where_testing_ended_early() -> None:
    plan, share = SinglePlan(20, 1), 0.10
    happened = list(outcomes(plan, share, accepts_early=False))
    assert sum(chance * seen.bad / seen.tested for seen, chance in happened) > 1.2 * share


@settings(max_examples=30)
@given(st.integers(2, 16), st.data())
def test_bounds_of_a_lot_cover_what_is_in_it(lot_size: int, data: st.DataObject) -> None:
    bad = data.draw(st.integers(0, lot_size))
    sample = data.draw(st.integers(1, lot_size))
    plan = SinglePlan(sample, data.draw(st.integers(0, sample - 1)))
    missed = 0
    total = comb(lot_size, bad)
    for seen, orders in drawn(plan, lot_size, bad).items():
        missed += 0 if bad in lot_bounds(seen, lot_size, 0.9) else orders
    assert missed <= 0.1 * total


def drawn(plan: SinglePlan, lot_size: int, bad: int) -> dict[Seen, int]:
    """How many of the equally likely orders of a lot's units end in what is seen, rejecting early."""
    found: dict[Seen, int] = {}
    ways = {(0, 0): 1}
    while ways:
        further: dict[tuple[int, int], int] = {}
        for (tested, bad_found), count in ways.items():
            for at in ((tested + 1, bad_found), (tested + 1, bad_found + 1)):
                further[at] = further.get(at, 0) + count
        ways = {}
        for (tested, bad_found), count in further.items():
            rest = lot_size - tested
            orders = count * comb(rest, bad - bad_found) if bad_found <= bad <= bad_found + rest else 0
            if orders and bad_found > plan.acceptance_number:
                found[Seen(tested, bad_found, Ending.REJECTED_EARLY)] = orders
            elif orders and tested == plan.sample_size:
                found[Seen(tested, bad_found)] = orders
            elif orders:
                ways[tested, bad_found] = count
    return found


def test_a_whole_sample_has_the_exact_bounds_of_a_share() -> None:
    found = process_bounds(Seen(80, 3))
    assert (found.lower, found.upper) == pytest.approx(proportion_confint(3, 80, method="beta"), rel=1e-9)
    assert Seen(80, 3).estimate == 3 / 80
    assert Seen(80, 3, Ending.BROKEN_OFF).estimate == 3 / 80


def test_a_whole_lot_leaves_no_doubt() -> None:
    found = lot_bounds(Seen(30, 2), 30)
    assert (found.fewest, found.most) == (2, 2)


def test_one_bad_unit_that_ends_it_gives_no_share() -> None:
    assert Seen(9, 1, Ending.REJECTED_EARLY).estimate is None
    assert Seen(9, 2, Ending.REJECTED_EARLY).estimate == 1 / 8
    assert Seen(0, 0, Ending.BROKEN_OFF).estimate is None


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ((5, 6, Ending.WHOLE), "6 bad of 5"),
        ((5, 0, Ending.REJECTED_EARLY), "no unit was found"),
        ((5, 5, Ending.ACCEPTED_EARLY), "no unit was found"),
    ],
)
def test_what_cannot_be_is_refused(seen: tuple[int, int, Ending], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Seen(*seen)
    with pytest.raises(ValueError, match="31 units tested of a lot of 30"):
        lot_bounds(Seen(31, 0), 30)
    with pytest.raises(ValueError, match="coverage is 1"):
        lot_bounds(Seen(3, 0), 30, 1.0)
