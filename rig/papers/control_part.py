"""The part of an order report that says whether work and rig were in control, and how capable the work was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from rig.control.capability import FEWEST as ENOUGH
from rig.control.capability import Capability, capability_of
from rig.control.chart import BASELINE, ControlChart, Signal, Watching, chart_of
from rig.control.check_unit import CAUSES, Account
from rig.control.said import (
    by_rule,
    capability_words,
    false_alarm_words,
    limit_words,
    places_of,
    standing_words,
)
from rig.papers.control_charts import control_charts
from rig.papers.paper import Block, Cell, Column, Grid, Pairs, Said, Tone
from rig.papers.tries import Try

FEWEST = 5
"""With fewer values nothing is charted (our choice)."""


@dataclass(frozen=True, slots=True)
class EdgeControl:
    """The deviations of one edge over an order."""

    edge: str
    chart: ControlChart
    capability: Capability | None


@dataclass(frozen=True, slots=True)
class ControlFacts:
    """What is known of an order and its rig, as far as control is concerned.

    Attributes:
        check_unit: that of the rig as it stood when the order was last worked on; None if it kept none.

    """

    edges: tuple[EdgeControl, ...]
    check_unit: Account | None = None


_WATCHING = Watching()


def control_of(lasts: Sequence[Try], tolerance_mm: float | None) -> ControlFacts:
    """The charts of an order, unit by unit by its last attempt, in order of work."""
    values: dict[str, list[float]] = {}
    for one in sorted(lasts, key=lambda one: one.began_utc):
        for deviation in one.deviations:
            values.setdefault(deviation.edge, []).append(deviation.value_mm)
    edges = (_edge(edge, own, tolerance_mm) for edge, own in sorted(values.items()) if len(own) >= FEWEST)
    return ControlFacts(tuple(edges))


def _edge(edge: str, values: Sequence[float], tolerance_mm: float | None) -> EdgeControl:
    chart = chart_of(values, _WATCHING)
    capability = (
        None
        if tolerance_mm is None
        else capability_of(values, -tolerance_mm, tolerance_mm, in_control=chart.in_control)
    )
    return EdgeControl(edge, chart, capability)


def control_blocks(facts: ControlFacts) -> Iterator[Block]:
    """What stands under the heading; nothing where nothing was measured and no check unit is kept."""
    if not facts.edges and facts.check_unit is None:
        return
    yield Pairs(tuple(_in_short(facts)))
    for one in facts.edges:
        yield from edge_blocks(one.chart, one.capability, one.edge, "mm")
    if facts.edges and (alarms := false_alarm_words(_WATCHING)):
        yield Said(f"Watched by {', '.join(_WATCHING.rules)} and EWMA: {alarms}.")
    if facts.check_unit is not None:
        yield from _check_unit(facts.check_unit, whole=False)


def _in_short(facts: ControlFacts) -> Iterator[tuple[str, str]]:
    out = [one.edge for one in facts.edges if not one.chart.in_control]
    if not facts.edges:
        yield "this order", f"not charted: fewer than {FEWEST} of its units were measured"
    elif out:
        yield (
            "this order",
            f"NOT IN CONTROL at the {' and '.join(out)} edge: the signals stand below the charts",
        )
    elif any(one.chart.is_short for one in facts.edges):
        yield (
            "this order",
            f"no signal in its deviations, but fewer than {BASELINE} units were measured: too few to say more",
        )
    else:
        yield "this order", "in control: no signal in its deviations, unit by unit in order of work"
    account = facts.check_unit
    if account is None:
        yield "its rig", "keeps no check unit"
    else:
        yield "its rig", f"check unit {account.unit.serial}: {_standing(account)}"


def _standing(account: Account) -> str:
    last = account.last
    when = "" if last is None else f", last measured {last.utc[:16].replace('T', ' ')} UTC"
    return f"{standing_words(account)}{when}"


def edge_blocks(chart: ControlChart, capability: Capability | None, edge: str, unit: str) -> Iterator[Block]:
    """The charts of the deviations of an edge, their signals, and the capability with what speaks against it."""
    whose = f"Deviation of the {edge} operate point at the machine, unit by unit"
    yield from control_charts(chart, whose, unit, "unit")
    yield Said(_sentence(limit_words(chart, unit)))
    yield from _signals(chart.signals)
    if capability is not None:
        yield Pairs(tuple(capability_words(capability, unit)))
        for warning in capability.warnings():
            yield Said(_sentence(warning), Tone.WARNING)
    elif len(chart.values) < ENOUGH:
        yield Said(f"Capability is not told from fewer than {ENOUGH} values.")


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _signals(signals: Sequence[Signal]) -> Iterator[Block]:
    if not signals:
        return
    columns = (
        Column("signal", 32),
        Column("at", 20),
        Column("what the rule looks for", 62),
        Column("often", 62),
    )
    rows = tuple(
        (Cell(rule), Cell(places_of(own)), Cell(own[0].looks_for), Cell(own[0].often))
        for rule, own in by_rule(signals).items()
    )
    yield Grid("Signals, by the number of the value at which each rule speaks", columns, rows)


def check_unit_blocks(account: Account) -> Iterator[Block]:
    """All charts of a check unit, and who has looked into its signals."""
    yield from _check_unit(account, whole=True)


def _check_unit(account: Account, *, whole: bool) -> Iterator[Block]:
    for edge, chart in account.charts.items():
        whose = f"Check unit {account.unit.serial}, {edge} edge: deviation at each measurement"
        yield from islice(control_charts(chart, whose, "mm", "measurement"), None if whole else 1)
        yield Said(_sentence(limit_words(chart, "mm")))
        yield from _signals(chart.signals)
    if account.looked:
        columns = (Column("looked (UTC)", 30), Column("who", 24), Column("cause", 34), Column("found", 88))
        rows = tuple(
            (
                Cell(one.utc[:16].replace("T", " ")),
                Cell(one.person or "-"),
                Cell(CAUSES[one.cause]),
                Cell(f"{one.found} (signal: {one.signals})"),
            )
            for one in account.looked
        )
        yield Grid("Who has looked into signals of the check unit, and what was found", columns, rows)
