"""A lot in words and rows, the same on a terminal, on a screen and on paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rig.events import LotClosed, Verdict
from rig.lots.decision import ClassCount
from rig.lots.draw import place_of
from rig.lots.record import LotRecord
from rig.lots.sampling import accepted_number, tightens
from rig.lots.units import Settled, UnitFound
from rig.sampling.curve import outgoing_limit, point_at, share_at
from rig.sampling.estimate import lot_bounds
from rig.sampling.plan import Decision, SinglePlan
from rig.sampling.proof import percent, proof_of
from rig.sampling.sequential import SequentialPlan
from sequences.receiving import DefectClass

_ONE_IN_TEN = 0.10
_GOOD_SHARE = 0.01
STATES: Mapping[Decision | None, str] = {
    None: "open",
    Decision.ACCEPTED: "can be accepted",
    Decision.REJECTED: "cannot be accepted any more",
}
"""How a lot stands that nobody has closed."""


def state_of(record: LotRecord) -> str:
    """How a lot stands, in a few words."""
    closed = record.lot.closed
    return STATES[record.standing.decision] if closed is None else closed.decision


def class_words(one: ClassCount) -> str:
    """How it stands as far as one class of defects goes."""
    if one.decision is not None:
        return str(one.decision)
    waits = [f"{one.left} to test"] if one.left else []
    waits += [f"{one.undecided} undecided"] if one.undecided else []
    return f"open: {', '.join(waits)}"


def unit_rows(record: LotRecord) -> Iterator[tuple[str, ...]]:
    """Place, verdict, defect, by what it was settled, whether it was put aside, what was found: of all not sound."""
    drawn = {serial: number for number, serial in enumerate(record.lot.serials())}
    found = sorted(record.found.values(), key=lambda unit: drawn.get(unit.serial, len(drawn)))
    for unit in found:
        if unit.verdict is not Verdict.GOOD:
            aside = "yes" if unit.serial in record.lot.aside else "no"
            place = str(place_of(unit.serial)) + ("" if unit.serial in drawn else " (not in the sample)")
            yield place, str(unit.verdict), gravest_words(unit), str(unit.settled), aside, found_words(unit)


def gravest_words(unit: UnitFound) -> str:
    """The gravest class of its defects."""
    return next((str(one) for one in DefectClass if one in unit.defects.values()), "-")


def found_words(unit: UnitFound) -> str:
    """What was found of a unit that is not sound."""
    if unit.settled is Settled.BY_COMPARISON:
        return f"{unit.last.words}; the same twice, while a unit between the two was sound"
    return unit.last.words


def what_it_proves(record: LotRecord) -> Iterator[str]:
    """What is known of the share of units with a defect, in sentences; nothing before the lot is decided."""
    standing = record.standing
    if standing.decision is None:
        return
    widest = max(standing.classes, key=lambda one: one.asked.plan.sample_size)
    ended = "; testing ended early, as the plan allows" if standing.early else ""
    yield f"{standing.defective} of {standing.tested} units tested have a defect, of {record.lot.quantity}{ended}."
    # Bounds of a plan that decides unit by unit hold for what it has counted, and for nothing else.
    by_unit = isinstance(widest.asked.plan, SequentialPlan) and widest.decision is not None
    if by_unit:
        yield f"Of these, {widest.found} of {widest.tested} count for the {widest.asked.defect} defects:"
    seen = widest.seen if by_unit else standing.seen
    yield from proof_of(widest.asked.plan, seen, standing.decision, record.lot.quantity).proves


def what_it_proves_not(record: LotRecord) -> Iterator[str]:
    """What is not known, in sentences; nothing before the lot is decided."""
    standing, quantity = record.standing, record.lot.quantity
    if standing.decision is None:
        return
    if standing.tested < quantity:
        yield from _limits(record, standing.decision)
    yield "It says nothing of what was not tested, nor of other lots of this supplier."


def _limits(record: LotRecord, decision: Decision) -> Iterator[str]:
    standing = record.standing
    accepted = decision is Decision.ACCEPTED
    if accepted:
        left = lot_bounds(standing.seen, record.lot.quantity).most - standing.defective
        yield f"It does not prove that the lot is free of bad units: up to {left} more may be in it."
    else:
        yield "It does not prove that the units which were not tested are bad: most of them may be good."
    for one in standing.classes:
        if one.decision is decision:
            share = percent(share_at(one.asked.plan, _ONE_IN_TEN if accepted else 1 - _ONE_IN_TEN))
            only, becomes = ("", "still be accepted") if accepted else ("only ", "be rejected")
            yield f"A lot of which {only}{share} has {one.asked.defect} defects would {becomes} one time in ten."


def if_sorted(record: LotRecord) -> Iterator[str]:
    """What the plans do where every rejected lot is sorted whole: what is left in use, and the tests that it takes."""
    quantity = record.lot.quantity
    plans: dict[SinglePlan | SequentialPlan, list[str]] = {}
    for one in record.standing.classes:
        plans.setdefault(one.asked.plan, []).append(str(one.asked.defect))
    for plan, names in plans.items():
        if plan.sample_size < quantity:
            worst, good = outgoing_limit(plan, quantity), point_at(plan, quantity, _GOOD_SHARE)
            classes = " and ".join(names)
            yield (
                f"Where rejected lots are sorted whole, {percent(worst.outgoing)} with {classes} defects are left "
                f"on average at worst (of lots with {percent(worst.share_bad)}); lots with {percent(_GOOD_SHARE)} take "
                f"{good.inspected:.0f} tests on average."
            )


def closing(record: LotRecord, decision: Decision, person: str) -> LotClosed:
    """The decision on a lot, for the record."""
    standing, lot = record.standing, record.lot
    return LotClosed(
        lot=lot.number,
        decision=str(decision),
        inspection=str(lot.severity),
        quantity=lot.quantity,
        tested=standing.tested,
        defective=standing.defective,
        by_class={
            str(one.asked.defect): [one.asked.plan.sample_size, most_accepted(one), one.found]
            for one in standing.classes
        },
        found={str(one): count for one, count in standing.by_characteristic.items()},
        measured=measured(record),
        early=standing.early,
        switches=tightens(lot.receiving),
        words=decision_words(record, decision),
        person=person,
    )


def most_accepted(one: ClassCount) -> int:
    """The most units with which a class accepts; -1 where it decides unit by unit and does not accept any yet."""
    most = accepted_number(one.asked.plan, one.tested)
    return -1 if most is None else most


def decision_words(record: LotRecord, decision: Decision) -> str:
    """Why a lot is accepted or rejected, in a sentence."""
    standing = record.standing
    if decision is Decision.ACCEPTED:
        return (
            f"{standing.defective} of {standing.tested} units with a defect, within what every class allows"
        )
    over = [
        f"{one.found} with a {one.asked.defect} defect, {one.asked.accepted_with(one.tested)} accepted"
        for one in standing.classes
        if one.decision is Decision.REJECTED
    ]
    over += [
        f"{one.found} with {one.characteristic}, {one.most} accepted" for one in standing.alone if one.rejects
    ]
    return "; ".join(over)


def measured(record: LotRecord) -> dict[str, list[float]]:
    """Count, mean and standard deviation of every figure that was measured, of units that are sound."""
    values: dict[str, list[float]] = {}
    for unit in record.found.values():
        if unit.verdict is Verdict.GOOD:
            for name, value in unit.last.values.items():
                values.setdefault(name, []).append(value)
    return {name: _spread(own) for name, own in values.items()}


def _spread(values: list[float]) -> list[float]:
    count = len(values)
    mean = sum(values) / count
    spread = (sum((one - mean) ** 2 for one in values) / (count - 1)) ** 0.5 if count > 1 else 0.0
    return [count, mean, spread]
