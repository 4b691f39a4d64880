"""What the decision on a lot proves and what it does not, in words that a buyer understands."""

from __future__ import annotations

from dataclasses import dataclass

from rig.sampling.curve import share_at
from rig.sampling.estimate import BadInLot, Ending, Seen, lot_bounds
from rig.sampling.plan import Decision, Plan

_ONE_IN_TEN = 0.10


@dataclass(frozen=True, slots=True)
class Proof:
    """Sentences for a report: what was found, what it proves, what it does not prove."""

    found: str
    proves: tuple[str, ...]
    proves_not: tuple[str, ...]


def proof_of(plan: Plan, seen: Seen, decision: Decision, lot_size: int, coverage: float = 0.95) -> Proof:
    """What is known after a decision on a lot, with bounds of this coverage. Raises ValueError as `lot_bounds` does."""
    bounds = lot_bounds(seen, lot_size, coverage)
    whole = seen.tested == lot_size
    proves = [_bounds_words(bounds, lot_size, coverage), _estimate_words(seen)]
    if whole:
        proves = [f"Every unit was tested; bad ones in the lot: {seen.bad}."]
    limits = _limits(plan, decision, bounds, whole=whole)
    return Proof(_found(seen, decision, lot_size), tuple(proves), tuple(limits))


def _found(seen: Seen, decision: Decision, lot_size: int) -> str:
    ended = "" if seen.ending is Ending.WHOLE else f"; {seen.ending}"
    return f"The lot is {decision}: {seen.bad} bad of {seen.tested} tested, out of {lot_size}{ended}."


def _bounds_words(bounds: BadInLot, lot_size: int, coverage: float) -> str:
    sure = f"With {coverage * 100:g} % confidence"
    if bounds.fewest == bounds.most:
        return f"{sure} {_units(bounds.most)} of the lot are bad."
    return (
        f"{sure} {bounds.fewest} to {_units(bounds.most)} of the {lot_size} are bad: "
        f"{percent(bounds.fewest / lot_size)} to {percent(bounds.most / lot_size)}."
    )


def _estimate_words(seen: Seen) -> str:
    share = seen.estimate
    if share is None:
        return "A share of bad units cannot be estimated from so little; the bounds are all there is."
    if seen.ending in (Ending.REJECTED_EARLY, Ending.ACCEPTED_EARLY):
        return (
            f"About {percent(share)} are bad. Testing ended early, so this is not {seen.bad} of {seen.tested}: "
            "the unit that decides always comes last, and the estimate leaves it out."
        )
    return f"About {percent(share)} are bad ({seen.bad} of {seen.tested})."


def _limits(plan: Plan, decision: Decision, bounds: BadInLot, *, whole: bool) -> list[str]:
    limits = []
    if not whole and decision is Decision.ACCEPTED:
        limits.append(
            "It does not prove that the lot is free of bad units"
            + (f": up to {bounds.most} may be in it." if bounds.most else ".")
        )
        limits.append(
            f"A lot of which {percent(share_at(plan, _ONE_IN_TEN))} is bad would still be accepted one time in ten."
        )
    if not whole and decision is Decision.REJECTED:
        limits.append(
            "It does not prove that the units which were not tested are bad: most of them may be good."
        )
        limits.append(
            f"A lot of which only {percent(share_at(plan, 1 - _ONE_IN_TEN))} is bad would be rejected one time in ten."
        )
    limits.append("It says nothing of what was not tested, nor of other lots of this supplier.")
    return limits


def _units(count: int) -> str:
    return "1 unit" if count == 1 else f"{count} units"


def percent(share: float) -> str:
    """A share in percent, to a few figures; the sign stays with its figure at the end of a line."""
    return f"{share * 100:.3g}\u00a0%"
