"""A sampling plan on a terminal: what to do, what it achieves, its curves, what it does not prove."""

from __future__ import annotations

from rig.cli.layout import Page
from rig.cli.sampling_curves import print_curves
from rig.cli.sampling_data import steps_of
from rig.sampling.design import Point
from rig.sampling.designed import Designed
from rig.sampling.plan import SinglePlan
from rig.sampling.proof import Proof, percent
from rig.sampling.sequential import SequentialPlan
from rig.sampling.standard import tables
from rig.sampling.switching import Standing, standing_words
from rig.sampling.variables import VariablesPlan


def print_designed(designed: Designed, page: Page) -> None:
    """Print everything."""
    _print_plan(designed, page)
    if isinstance(designed.plan, SequentialPlan):
        _print_steps(designed.plan, page)
    if not designed.whole_lot:
        print_curves(designed, page)
    page.heading("what it promises")
    for words in designed.promises:
        page.item(words)
    _print_limits(designed, page)


def print_proof(designed: Designed, proof: Proof, page: Page) -> None:
    """Print what a plan and what was found with it say of a lot."""
    _print_plan(designed, page)
    page.heading("what follows")
    for words in (proof.found, *proof.proves):
        page.item(words)
    page.heading("what it leaves open")
    for words in proof.proves_not:
        page.item(words)


def _print_plan(designed: Designed, page: Page) -> None:
    page.say(_what_to_do(designed))
    page.lines([""])
    page.pairs(_where_from(designed))


def _what_to_do(designed: Designed) -> str:
    plan, of_lot = designed.plan, "" if designed.lot_size is None else f" of {designed.lot_size}"
    match plan:
        case SinglePlan(sample_size, allowed):
            what = (
                "test every unit"
                if designed.whole_lot
                else f"test {sample_size}{of_lot} units, drawn at random"
            )
            most = "no bad one among them" if allowed == 0 else f"at most {allowed} bad"
            return f"{what}: accept the lot with {most}, reject it with {plan.rejection_number}"
        case VariablesPlan(sample_size, k, known):
            spread = "known standard deviation" if known else "standard deviation of the values"
            return (
                f"measure the set point of {sample_size}{of_lot} units, drawn at random: with one limit accept the lot "
                f"if the mean keeps {k:.4g} times the {spread} away from it; with two, if the estimated shares beyond "
                f"them add up to {percent(plan.largest_share)} or less"
            )
        case SequentialPlan():
            return (
                f"test unit after unit, drawn at random, at most {plan.last}{of_lot}; see below when to stop"
            )
    raise TypeError(f"no plan of ours: {plan!r}")


def _where_from(designed: Designed) -> list[tuple[str, str]]:
    found, meets = designed.standard, designed.meets
    pairs = []
    if found is not None:
        pairs.append(
            (
                "looked up",
                f"ISO 2859-1, lot of {found.lot_size} at level {found.level}: code letter {found.letter_words}; AQL "
                f"{found.aql_percent:g}\u00a0%, {found.severity} inspection",
            )
        )
        at_aql = percent(meets.accepts_with(found.aql_percent / 100))
        pairs.append(
            (
                "at the AQL",
                f"a lot that is {found.aql_percent:g}\u00a0% bad is accepted with a chance of {at_aql}",
            )
        )
        pairs.append(("next lot", standing_words(Standing(found.severity))))
    if designed.whole_lot and found is None:
        pairs.append(("why every unit", "the sample that this takes is no smaller than the lot"))
        return pairs
    if designed.good is not None:
        risk = 1 - meets.accepts_with(designed.good.share_bad)
        pairs.append(("a good lot", _risk_words(designed.good, risk, "rejected")))
    if designed.poor is not None:
        risk = meets.accepts_with(designed.poor.share_bad)
        pairs.append(("a poor lot", _risk_words(designed.poor, risk, "accepted")))
    of = "this one lot, in whole units" if designed.isolated else "the process that lots come out of"
    return [*pairs, ("percent bad", f"is that of {of}")]


def _risk_words(point: Point, actual: float, what: str) -> str:
    return (
        f"{percent(point.share_bad)} bad, is {what} with a chance of {percent(actual)}; asked for: at most "
        f"{percent(point.risk)}"
    )


def _print_steps(plan: SequentialPlan, page: Page) -> None:
    page.heading("when to stop: accept with so many bad or fewer, reject with so many or more")
    page.table(
        [">units tested", ">accept", ">reject"],
        [[str(tested), _or_dash(accept), _or_dash(reject)] for tested, accept, reject in steps_of(plan)],
    )


def _or_dash(number: int | None) -> str:
    return "-" if number is None else str(number)


def _print_limits(designed: Designed, page: Page) -> None:
    page.heading("what it does not prove")
    if designed.standard is not None:
        page.item(
            "The AQL is no promise for a single lot. It is what is still bearable on average over many lots, and "
            "protects the buyer only together with the switching rules."
        )
    if isinstance(designed.plan, VariablesPlan):
        page.item("It holds for values that are spread normally; look at them before you rely on it.")
    if not designed.whole_lot:
        page.item("An accepted lot is not free of bad units, and a rejected one is not bad throughout.")
    page.item(
        "It says nothing of properties that are not tested, nor of units that were not drawn at random."
    )
    if designed.standard is not None:
        page.heading("source of the table")
        page.say(tables().source)
