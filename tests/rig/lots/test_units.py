"""What is held of each unit: when the bench is cleared of a doubt, what two persons decide, what is tested next."""

from __future__ import annotations

import pytest

from rig.events import Verdict
from rig.lots.following import Following
from rig.lots.lot import Lot
from rig.lots.units import Settled, Try, units_found
from sequences.receiving import Characteristic, DefectClass
from tests.rig.lots.lots import opened, plan_with, stamped_try, try_at

MAJOR = DefectClass.MAJOR
PLAN = plan_with({"units": 3, "curtail": False})


def doubtful(serial: str = "a", reason: str = "no-current") -> Try:
    return try_at(serial, Verdict.UNDECIDED, MAJOR, reason)


def sound(serial: str = "b") -> Try:
    return try_at(serial, Verdict.GOOD)


@pytest.mark.parametrize(
    ("tries", "verdict", "settled"),
    [
        ([doubtful()], Verdict.UNDECIDED, Settled.BY_BENCH),
        ([doubtful(), doubtful()], Verdict.UNDECIDED, Settled.BY_BENCH),
        ([doubtful(), sound(), doubtful()], Verdict.BAD, Settled.BY_COMPARISON),
        # Another reason is another doubt; a sound unit before the first try clears nothing between the two.
        ([doubtful(), sound(), doubtful(reason="output-open")], Verdict.UNDECIDED, Settled.BY_BENCH),
        ([sound(), doubtful(), doubtful()], Verdict.UNDECIDED, Settled.BY_BENCH),
        # Nothing but the reading itself is in doubt: a sound unit says nothing about that.
        (
            [doubtful(reason="near-tolerance"), sound(), doubtful(reason="near-tolerance")],
            Verdict.UNDECIDED,
            Settled.BY_BENCH,
        ),
        ([doubtful(), sound(), sound("a")], Verdict.GOOD, Settled.BY_BENCH),
    ],
)
def test_a_unit_is_to_blame_once_a_sound_one_has_cleared_the_bench(
    tries: list[Try], verdict: Verdict, settled: Settled
) -> None:
    unit = units_found(tries, PLAN, {})["a"]
    assert (unit.verdict, unit.settled) == (verdict, settled)
    assert unit.defects == ({Characteristic.TRIAL_SETTING: MAJOR} if verdict is Verdict.BAD else {})


def test_what_was_broken_off_says_nothing_and_counts_as_no_try() -> None:
    broken = [try_at("a", Verdict.UNDECIDED, None, reason) for reason in ("interrupted", "bench-tripped")]
    assert units_found(broken, PLAN, {}) == {}
    assert units_found([*broken, sound("a")], PLAN, {})["a"].tries == 1


@pytest.mark.parametrize("verdict", [Verdict.GOOD, Verdict.BAD])
def test_two_persons_decide_only_about_what_the_bench_leaves_open(verdict: Verdict) -> None:
    by_hand = {"a": verdict, "b": Verdict.BAD}
    found = units_found([doubtful(), sound()], PLAN, by_hand)
    assert (found["a"].verdict, found["a"].settled) == (verdict, Settled.BY_HAND)
    assert found["b"].verdict is Verdict.GOOD


def followed(lot: Lot, tries: list[Try]) -> Following:
    following = Following(lot, (), {})
    for one in tries:
        for event in stamped_try(one):
            following.take(event)
    return following


def test_the_draw_comes_first_then_the_doubtful_each_behind_a_sound_one() -> None:
    lot = opened(PLAN, 9)
    first, second, third = lot.serials()
    tries: list[Try] = []
    for wanted, outcome in (
        (first, sound(first)),
        (second, doubtful(second)),
        (third, doubtful(third)),
        # The last was doubtful, so a sound one goes between; it lies between the two tries at either of them.
        (first, sound(first)),
        (second, doubtful(second)),
        (third, sound(third)),
    ):
        assert followed(lot, tries).next_serial() == wanted
        tries.append(outcome)
    following = followed(lot, tries)
    assert following.next_serial() is None
    assert following.found[second].settled is Settled.BY_COMPARISON
    assert following.found[third].verdict is Verdict.GOOD


def test_where_no_unit_is_sound_a_person_has_to_decide() -> None:
    lot = opened(PLAN, 9)
    tries = [doubtful(serial) for serial in lot.serials()]
    for _ in lot.serials():
        wanted = followed(lot, tries).next_serial()
        assert wanted is not None
        tries.append(doubtful(wanted))
    assert followed(lot, tries).next_serial() is None
    assert followed(lot, tries).standing.decision is None
    # Whoever begins anew has looked at them: each is tested once more, and no more often.
    anew = Following(lot, tuple(tries), {})
    for serial in lot.serials():
        assert anew.next_serial() == serial
        for event in stamped_try(doubtful(serial)):
            anew.take(event)
    assert anew.next_serial() is None


def test_a_lot_that_is_lost_ends_at_once_where_the_plan_lets_it() -> None:
    lot = opened(plan_with({"units": 3, "curtail": True}), 9)
    first, second, _ = lot.serials()
    bad = try_at(first, Verdict.BAD, MAJOR)
    assert followed(lot, [bad]).next_serial() is None
    assert followed(opened(PLAN, 9), [bad]).next_serial() == second
