"""The report of a study on a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rig.cli.layout import Page
from rig.planning.planned import POINT_NAMES
from rig.risk.beyond import REMEDIES
from rig.risk.rates import Rates
from rig.risk.report import RISKS, Compared, Report
from rig.risk.tally import Seen
from rig.risk.trial import Outcome, Result
from rig.statistics.binomial import Bounds

_MOST_LISTED = 20
_AGREES = {True: "yes", False: "NO", None: "-"}
_LISTS = {
    Result.ESCAPE: "bad units called good",
    Result.UNSEEN: "bad units called good, nothing could show it",
    Result.FALSE_REJECTION: "sound units called bad",
}
_SHORT = {
    Result.ESCAPE: "escaped",
    Result.UNSEEN: "unseen",
    Result.FALSE_REJECTION: "rejected",
    Result.DOUBT: "undecided",
}
_STATED = {
    "passes_at_limit": "a unit just outside its tolerance passes",
    "fails_at_limit": "one just inside fails",
    "passed_outside": "of all units: outside, and passed",
    "failed_inside": "inside, and failed",
    "undecided": "left undecided",
}
_OVERALL = (Result.ESCAPE, Result.UNSEEN, Result.FALSE_REJECTION, Result.DOUBT, Result.NOT_JUDGED)


def print_report(report: Report, order_words: str, page: Page) -> None:
    """Print everything: what was assumed, the figures, what escaped and why."""
    case = report.case
    page.say(
        f"order {case.order.number}, {case.sensor_type.name} on rig {case.rig.name}: proved by {case.plan.method}, "
        f"rule {case.plan.rule}"
    )
    _print_assumed(case.rates, page)
    _print_stated(report, page)
    _print_overall(report, page)
    _print_by_fault(report, page)
    _print_beyond(report, page)
    _print_compared(report, page)
    for result, words in _LISTS.items():
        _print_listed(words, list(report.tally.with_result(result)), order_words, page)
    _print_listed("what may never happen on a bench, and did", report.tally.unsafe, order_words, page)
    _print_conclusion(report, page)


def _print_assumed(rates: Rates, page: Page) -> None:
    spread, faults = rates.spread, (*rates.unit_fault, *rates.bench_fault)
    page.heading(f"assumed: {rates.title}")
    page.pairs(
        [
            (
                "units",
                f"set points spread by {spread.store_error:g} of the type's largest error (standard deviation)",
            ),
            (
                "bench",
                f"off evenly within what the rig profile states: zero x{spread.zero:g}, scale x{spread.scale:g}, "
                f"air x{spread.air:g}, placement x1; the room drifts up to {spread.air_drift_c_per_hour:g} K an hour",
            ),
            ("faults", ", ".join(_rate_words(faults)) or "none"),
            (
                "left out",
                "tilt of the target's way, wear, faults of the program, two faults of one unit or one bench",
            ),
        ]
    )


def _rate_words(faults: Iterable[object]) -> Iterator[str]:
    shares: dict[str, float] = {}
    for rate in faults:
        kind, share = str(getattr(rate, "kind", "")), float(getattr(rate, "share", 0.0))
        shares[kind] = shares.get(kind, 0.0) + share
    # A no-break space keeps figure and sign on one line.
    return (f"{kind} {_percent(share)}".replace(" ", "\u00a0") for kind, share in shares.items())


def _print_stated(report: Report, page: Page) -> None:
    risks = report.case.plan.grounds.risks
    if not risks:
        return
    page.heading("stated by the plan, from the limits of data sheet and rig profile")
    page.table(
        ("", *(f">{POINT_NAMES[one.point]}" for one in risks)),
        [(words, *(_percent(getattr(one, key)) for one in risks)) for key, words in _STATED.items()],
    )


def _print_overall(report: Report, page: Page) -> None:
    tally = report.tally
    page.heading(
        f"{tally.units} units tried (seed {report.seed}), {tally.bad} of them bad; bounds are for 95 %"
    )
    rows = [(str(result), *_seen_cells(tally.of_all(result))) for result in _OVERALL]
    page.table(("of all units", ">count", ">share", ">from", ">to"), rows)


def _print_by_fault(report: Report, page: Page) -> None:
    tally = report.tally
    page.heading("by fault")
    page.table(
        ("fault", ">units", ">bad", ">escaped", ">unseen", ">rejected", ">undecided"),
        [
            (
                fault,
                str(tally.units_with(fault)),
                str(tally.defective[fault]),
                *(str(tally.count(result, fault=fault)) for result in RISKS),
            )
            for fault in tally.faults
        ],
    )
    page.say(
        "escaped: bad, called good. unseen: the same, but nothing that was read could show it. rejected: sound, called "
        "bad. undecided: sound, left undecided."
    )


def _print_beyond(report: Report, page: Page) -> None:
    page.heading("what this proof cannot tell: a unit with nothing else wrong passes")
    for beyond, count in report.beyond.items():
        seen = f" ({count} of these units)" if count else ""
        page.item(f"{beyond}{seen}: {REMEDIES[beyond]}")


def _print_compared(report: Report, page: Page) -> None:
    page.heading("worked out, of all units with the fault, beside tried")
    shown = [
        one for one in report.compared if one.worked_out is not None and (one.seen.count or one.worked_out)
    ]
    page.table(
        ("fault", "", ">tried", ">from", ">to", ">worked out", "agrees"),
        [_compared_cells(one) for one in shown],
    )
    page.say("what is not listed is 0 both worked out and tried, or has no closed form")


def _compared_cells(one: Compared) -> tuple[str, ...]:
    return (
        one.fault,
        _SHORT[one.result],
        f"{one.seen.count} of {one.seen.trials}",
        *_bound_cells(one.seen.bounds),
        "-" if one.worked_out is None else _percent(one.worked_out),
        _AGREES[one.agrees],
    )


def _print_listed(title: str, outcomes: list[Outcome], order_words: str, page: Page) -> None:
    if not outcomes:
        return
    page.heading(f"{title}: {len(outcomes)}")
    for one in outcomes[:_MOST_LISTED]:
        really = ", ".join(one.defects) or "sound"
        changed = (
            f" (was {', '.join(one.before) or 'sound'} when checking began)"
            if one.before != one.defects
            else ""
        )
        unsafe = f" [{'; '.join(one.unsafe)}]" if one.unsafe else ""
        page.item(
            f"{one.seed}: {one.details or one.fault}; really {really}{changed}; found: {one.words}{unsafe}"
        )
    if len(outcomes) > _MOST_LISTED:
        page.say(f"and {len(outcomes) - _MOST_LISTED} more: --json lists all")
    page.say(
        f"each again: teachrig risk {order_words} --replay {outcomes[0].seed} (with the same --rig and --rates)"
    )


def _print_conclusion(report: Report, page: Page) -> None:
    page.heading("conclusion")
    seen, stated = report.escapes, report.stated_risk
    said = "no more than" if report.within_stated_risk else "MORE THAN"
    page.item(
        f"{seen.count} of {seen.trials} bad units escaped, {said} the stated risk allows: "
        f"{_percent(stated)} of those just outside tolerance, fewer of all others"
    )
    different = [one for one in report.compared if one.agrees is False]
    if different:
        page.item(f"{len(different)} of the figures worked out DO NOT AGREE with what was tried")
    else:
        page.item("what could be worked out agrees with what was tried (within bounds for 99.9 %)")
    page.item(f"{report.cpu_s:.0f} s of processor time")


def _seen_cells(seen: Seen) -> tuple[str, ...]:
    return (str(seen.count), _percent(seen.share), *_bound_cells(seen.bounds))


def _bound_cells(bounds: Bounds) -> tuple[str, str]:
    return _percent(bounds.lower), _percent(bounds.upper)


def _percent(share: float) -> str:
    """A share in %, to as many places as say something; what is less than one in a million is called so."""
    if share == 0:
        return "0 %"
    if share < 1e-6:
        return "<0.0001 %"
    return f"{100 * share:.3g} %"
