"""What a plan promises, and what the decision on a lot proves and what not, in words that a buyer understands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.sampling.curve import outgoing_limit, share_at
from rig.sampling.estimate import BadInLot, Ending, Seen, lot_bounds
from rig.sampling.plan import Decision, OneLot, Plan, SinglePlan
from rig.sampling.sequential import SequentialPlan

_ONE_IN_TEN = 0.10
_ONE_IN_TWENTY = 0.05
_SAME = 1e-9
_LUCK = "Between the two it is a matter of luck: the plan does not tell such lots apart."


@dataclass(frozen=True, slots=True)
class Proof:
    """Sentences for a report: what was found, what it proves, what it does not prove."""

    found: str
    proves: tuple[str, ...]
    proves_not: tuple[str, ...]


def promises(plan: Plan, lot_size: int | None = None) -> tuple[str, ...]:
    """What a plan promises before any lot is tested, and what it leaves to chance."""
    if lot_size is not None and plan.tested_on_average(0.0) >= lot_size:
        return ("Every unit is tested: what is bad by these tests is found, and can be put aside.",)
    if isinstance(plan, OneLot):
        return _of_one_lot(plan)
    rejected, accepted = share_at(plan, 1 - _ONE_IN_TWENTY), share_at(plan, _ONE_IN_TEN)
    words = (
        f"A lot that is no worse than {percent(rejected)} bad is rejected at most one time in twenty.",
        f"A lot with {percent(accepted)} bad or more is accepted at most one time in ten.",
        _LUCK,
    )
    if lot_size is None:
        return words
    worst = outgoing_limit(plan, lot_size)
    return (
        *words,
        f"If rejected lots are sorted, no more than {percent(worst.outgoing)} bad is left on average, at worst with "
        f"lots that are {percent(worst.share_bad)} bad.",
    )


def _of_one_lot(lot: OneLot) -> tuple[str, ...]:
    rejected, accepted = lot.most_accepted_with(1 - _ONE_IN_TWENTY), lot.most_accepted_with(_ONE_IN_TEN) + 1
    size = lot.lot_size
    return (
        f"With no more than {rejected} bad in it ({percent(rejected / size)}) this lot is rejected at most one time in "
        "twenty."
        if rejected
        else "Only without a bad unit in it this lot is rejected no more than one time in twenty.",
        f"With {accepted} bad in it ({percent(accepted / size)}) or more it is accepted less than one time in ten.",
        *((_LUCK,) if accepted > rejected + 1 else ()),
    )


def seen_of(plan: SinglePlan | SequentialPlan, tested: int, bad: int) -> tuple[Seen, Decision] | None:
    """What was seen where so many were bad, and the decision that follows; None where testing has to go on.

    Where testing went on beyond the unit that decided, it ended for a reason of its own. Raises ValueError for more
    units than the plan tests, or more bad ones than units.
    """
    if not 0 <= bad <= tested <= plan.sample_size:
        raise ValueError(f"{bad} bad of {tested} tested; allowed: up to the sample of {plan.sample_size}")
    decision = plan.decided_early(tested, bad)
    if decision is None:
        return None
    if tested == plan.sample_size:
        return Seen(tested, bad), decision
    last_was_bad = decision is Decision.REJECTED
    if plan.decided_early(tested - 1, bad - last_was_bad) is not None:
        return Seen(tested, bad, Ending.BROKEN_OFF), decision
    return Seen(tested, bad, Ending.REJECTED_EARLY if last_was_bad else Ending.ACCEPTED_EARLY), decision


def proof_of(plan: Plan, seen: Seen, decision: Decision, lot_size: int, coverage: float = 0.95) -> Proof:
    """What is known after a decision by counting, with bounds of this coverage.

    Raises ValueError for more units than the lot has, a coverage outside of 0 to 1, or numbers with which a sequential
    plan does not end.
    """
    bounds, share = _known(plan, seen, lot_size, coverage)
    proves = [_bounds_words(bounds, lot_size, coverage), _estimate_words(share, seen)]
    if seen.tested == lot_size:
        proves = [f"Every unit was tested; bad ones in the lot: {seen.bad}."]
    return Proof(
        _found(plan, seen, decision, lot_size),
        tuple(proves),
        tuple(_limits(plan, seen, decision, bounds, lot_size)),
    )


def _known(plan: Plan, seen: Seen, lot_size: int, coverage: float) -> tuple[BadInLot, float | None]:
    if isinstance(plan, SequentialPlan) and seen.ending is not Ending.BROKEN_OFF:
        where = (seen.tested, seen.bad)
        return plan.lot_bounds(*where, lot_size, coverage), plan.estimate(*where)
    return lot_bounds(seen, lot_size, coverage), seen.estimate


def _found(plan: Plan, seen: Seen, decision: Decision, lot_size: int) -> str:
    plain = seen.ending is Ending.WHOLE or isinstance(plan, SequentialPlan)
    ended = "" if plain else f"; {seen.ending}"
    return f"The lot is {decision}: {seen.bad} bad of {seen.tested} tested, out of {lot_size}{ended}."


def _bounds_words(bounds: BadInLot, lot_size: int, coverage: float) -> str:
    sure = f"With {coverage * 100:g}\u00a0% confidence"
    if bounds.fewest == bounds.most:
        return f"{sure} {bounds.most} of the {lot_size} units are bad."
    return (
        f"{sure} {bounds.fewest} to {bounds.most} of the {lot_size} units are bad: "
        f"{percent(bounds.fewest / lot_size)} to {percent(bounds.most / lot_size)}."
    )


def _estimate_words(share: float | None, seen: Seen) -> str:
    if share is None:
        return "The bounds are all there is: a share cannot be told where the first bad unit ended it."
    if seen.tested and abs(share - seen.bad / seen.tested) > _SAME:
        return (
            f"The best single figure is {percent(share)}. It is not {seen.bad} of {seen.tested}, because what was "
            "found decided when testing ended; the figure allows for that."
        )
    return f"The best single figure is {percent(share)} ({seen.bad} of {seen.tested})."


def _limits(plan: Plan, seen: Seen, decision: Decision, bounds: BadInLot, lot_size: int) -> Iterator[str]:
    if seen.tested < lot_size and decision is Decision.ACCEPTED:
        more = bounds.most - seen.bad
        yield "It does not prove that the rest of the lot is free of bad units" + (
            f": up to {more} may be in it." if more else "."
        )
        yield f"A lot with {percent(share_at(plan, _ONE_IN_TEN))} bad would still be accepted one time in ten."
    if seen.tested < lot_size and decision is Decision.REJECTED:
        yield "It does not prove that units which were not tested are bad: most of them may be good."
        yield f"A lot with only {percent(share_at(plan, 1 - _ONE_IN_TEN))} bad would be rejected one time in ten."
    yield "It says nothing of properties that were not tested, nor of other lots of this supplier."


def percent(share: float) -> str:
    """A share in percent, to three figures; the sign stays with its figure at the end of a line."""
    return f"{share * 100:.3g}\u00a0%"
