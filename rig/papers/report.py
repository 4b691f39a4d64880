"""The report on an order, as it stands on its pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.events import Verdict
from rig.papers.certificate import SIMULATED, moment_words, points_words
from rig.papers.control_part import control_blocks
from rig.papers.counts import Histogram
from rig.papers.order_charts import faults_chart, histogram_chart, run_charts, sides_chart
from rig.papers.paper import (
    Block,
    Pairs,
    Paper,
    Part,
    Said,
    Signatures,
    Stated,
    Tone,
)
from rig.papers.report_facts import ReportFacts
from rig.papers.report_tables import faults_table, not_good_blocks, percent_words, runs_table, units_table
from rig.papers.setting_facts import SettingFacts

_NO_DEVIATIONS = (
    "These units were read at positions. That tells on which side of each position a unit switches, not where: there "
    "are no deviations to draw, only what was read. First readings; a wrong one is read again before it counts."
)
_MOST_SERIALS = 12


def report(facts: ReportFacts, made_by: str) -> Paper:
    """The paper of an order; `made_by` names the program."""
    kind = "Order report (SIMULATED)" if facts.simulated else "Order report"
    return Paper(
        kind=kind,
        name=facts.order,
        warning=SIMULATED.replace("a made-up unit", "made-up units") if facts.simulated else "",
        parts=tuple(_parts(facts)),
        foot=f"{kind}: order {facts.order} for {facts.customer}. {made_by}.",
    )


def _parts(facts: ReportFacts) -> Iterator[Part]:
    yield Part("", tuple(_head(facts)))
    yield Part("Order", (Pairs(tuple(_order(facts))),))
    yield Part("Count, yield, time", (Pairs(tuple(_summary(facts))),))
    switching = tuple(_switching(facts))
    if switching:
        yield Part("Where the units switch", switching)
    ranked = (faults_chart(facts.faults), faults_table(facts)) if facts.faults else ()
    not_good = (*ranked, *not_good_blocks(facts))
    if not_good:
        yield Part("Faults, ranked, and what to do", not_good)
    if facts.by_hand:
        yield Part("Decided by hand; the bench stays undecided about them", (Pairs(_by_hand(facts)),))
    runs = tuple(run_charts(facts.tries, None if facts.setting is None else facts.setting.tolerance_mm))
    if runs:
        yield Part("Run of the order", runs)
    control = tuple(control_blocks(facts.control))
    if control:
        yield Part("Staying in control", control)
    yield Part("All units", (units_table(facts),))
    yield Part("Method, air, rig, record", tuple(_circumstances(facts)))
    yield Part("", (Signatures(("work done by", "date", "checked by", "date")),))


def _head(facts: ReportFacts) -> Iterator[Block]:
    good = facts.count(Verdict.GOOD)
    whole = good == facts.quantity == len(facts.units)
    by_hand = facts.count_by_hand(Verdict.GOOD)
    all_units = max(facts.quantity, len(facts.units))
    yield Stated(
        f"{good} of {all_units} good{f' by the bench, {by_hand} more by hand' if by_hand else ''}",
        "The order is complete." if whole else f"The order is not complete: {', '.join(_missing(facts))}.",
        Tone.GOOD if whole else Tone.UNDECIDED,
    )
    if facts.other_data:
        yield Said(
            f"Set or verified by other order data than the last run: {', '.join(facts.other_data)}. Setting and "
            "method below are not theirs.",
            Tone.WARNING,
        )
    if facts.not_rebuilt:
        yield Said(f"The setting cannot be told from the record: {facts.not_rebuilt}", Tone.WARNING)


def _missing(facts: ReportFacts) -> Iterator[str]:
    for count, words in (
        (facts.count(Verdict.BAD), "bad"),
        (facts.count(Verdict.UNDECIDED), "undecided"),
        (facts.count(None), "not finished"),
        (len(facts.not_begun), "not begun"),
    ):
        if count:
            yield f"{count} {words}"
    if not facts.not_begun and len(facts.units) > facts.quantity:
        yield f"{len(facts.units)} units instead of {facts.quantity}"


def _by_hand(facts: ReportFacts) -> tuple[tuple[str, str], ...]:
    return tuple((one.serial, one.words) for one in facts.by_hand)


def _order(facts: ReportFacts) -> Iterator[tuple[str, str]]:
    yield "customer", facts.customer or "not in the record"
    setting = facts.setting
    if setting is not None:
        yield "sensor type", f"{setting.title} ({setting.sensor_type})"
        yield "setting", f"{setting.mode}, {setting.output_function}, {setting.output_type}"
        yield "set at the machine", points_words(setting)
        yield "reference designation", setting.designation or "none in the order"
    yield (
        "worked on",
        f"{moment_words(facts.tries[0].began_utc)} to {moment_words(facts.tries[-1].began_utc)}",
    )


def _summary(facts: ReportFacts) -> Iterator[tuple[str, str]]:
    counts = (
        (facts.quantity, "ordered"),
        (facts.count(Verdict.GOOD), "good"),
        (facts.count(Verdict.BAD), "bad"),
        (facts.count(Verdict.UNDECIDED), "undecided"),
        (facts.count(None), "not finished"),
        (len(facts.not_begun), "not begun"),
    )
    yield "units", ", ".join(f"{count} {words}" for count, words in counts)
    if facts.by_hand:
        decided = ((facts.count_by_hand(one), one) for one in Verdict)
        told = ", ".join(f"{count} {verdict}" for count, verdict in decided if count)
        yield (
            "decided by hand",
            f"{told}, of the {facts.count(Verdict.UNDECIDED)} undecided; counted as undecided here",
        )
    yield "yield", f"{percent_words(facts.good_share)} of the units with a verdict are good"
    yield "first-pass yield", f"{percent_words(facts.first_pass_share)} were good at their first verdict"
    again = sum(unit.tries > 1 for unit in facts.units)
    yield "put in again", f"{again} of {len(facts.units)} units"
    times = facts.times
    if times is not None:
        yield (
            "time on the bench",
            f"median {times.median_s:.1f} s, {times.shortest_s:.1f} to {times.longest_s:.1f} s, "
            f"{times.total_s / 60:.1f} min in all for {times.count} attempts",
        )
    if facts.not_begun:
        yield "not begun", _serials(facts.not_begun)


def _serials(serials: Sequence[str]) -> str:
    more = f" and {len(serials) - _MOST_SERIALS} more" if len(serials) > _MOST_SERIALS else ""
    return f"{', '.join(serials[:_MOST_SERIALS])}{more}"


def _switching(facts: ReportFacts) -> Iterator[Block]:
    for one in facts.histograms:
        yield histogram_chart(one)
        yield Said(_spread_words(one))
    if facts.sides and not facts.histograms:
        yield Said(_NO_DEVIATIONS)
        yield sides_chart(facts.sides, len(facts.units))


def _spread_words(one: Histogram) -> str:
    drawn = f"{one.edge}: {one.count} measured"
    beyond = f", {one.beyond} of them farther out than is drawn" if one.beyond else ""
    if one.mean_mm is None:
        return f"{drawn}{beyond}."
    spread = "" if one.spread_mm is None else f", standard deviation {one.spread_mm:.2f} mm"
    return f"{drawn}{beyond}; the {one.good} good ones: mean {one.mean_mm:+.2f} mm{spread}."


def _circumstances(facts: ReportFacts) -> Iterator[Block]:
    if facts.setting is not None:
        yield Pairs(tuple(_method(facts.setting)))
    yield runs_table(facts)


def _method(setting: SettingFacts) -> Iterator[tuple[str, str]]:
    yield "method", f"{setting.method}; {setting.target}"
    yield "rule", " ".join(f"{one[:1].upper()}{one[1:]}" for one in setting.rule)
    yield "uncertainty", f"expanded, coverage probability {setting.coverage_percent:g} % (JCGM 100)"
    if setting.risk:
        yield "risk", setting.risk
    yield from setting.air
    yield "rig", f"{setting.rig_title} ({setting.rig})"
    yield "calibration", setting.calibration
