"""The tables of the report on an order: faults, units that are not good, all units, runs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.events import Purpose
from rig.papers.advice import what_to_do
from rig.papers.certificate import moment_words
from rig.papers.paper import Block, Cell, Column, Grid, tone_of
from rig.papers.report_facts import ReportFacts, UnitFacts
from rig.papers.tries import Deviation
from rig.recount.edge_rows import value_words

_DONE = {
    Purpose.SET: "set and proved",
    Purpose.VERIFY: "verified",
    Purpose.SURVEY: "surveyed",
    Purpose.RECEIVE: "received",
    Purpose.STUDY: "measured in a gauge study",
}


def faults_table(facts: ReportFacts) -> Grid:
    """Why units were not good, the most frequent first, and what to do about it."""
    columns = (
        Column("found", 30),
        Column("verdict", 18),
        Column("units", 12, number=True),
        Column("share", 14, number=True),
        Column("what to do", 86),
    )
    rows = tuple(
        (
            Cell(one.reason.replace("-", " ")),
            Cell(str(one.verdict), tone_of(one.verdict)),
            Cell(str(one.count)),
            Cell(percent_words(one.share)),
            Cell(what_to_do(one.verdict, one.reason)),
        )
        for one in facts.faults
    )
    return Grid("By the last verdict on each unit that is not good", columns, rows)


def not_good_blocks(facts: ReportFacts) -> Iterator[Block]:
    """The units themselves, in the order of the faults; then those without a verdict."""
    by_serial = {unit.last.serial: unit for unit in facts.units}
    listed = [by_serial[serial] for fault in facts.faults for serial in fault.serials]
    open_ones = [unit for unit in facts.units if unit.last.verdict is None]
    if not listed and not open_ones:
        return
    columns = (Column("serial", 28), Column("verdict", 20), Column("found", 26), Column("in full", 100))
    rows = tuple(
        (
            Cell(unit.last.serial),
            _verdict(unit),
            Cell(unit.last.reason.replace("-", " ") or "-"),
            Cell(unit.last.words or what_to_do(None, "")),
        )
        for unit in (*listed, *open_ones)
    )
    yield Grid("Each unit that is not good, by its last attempt", columns, rows)


def _verdict(unit: UnitFacts) -> Cell:
    verdict = unit.last.verdict
    return Cell("not finished" if verdict is None else str(verdict), tone_of(verdict))


def units_table(facts: ReportFacts) -> Grid:
    """Every unit of the order, for a reader who sorts and filters."""
    edges = sorted({deviation.edge for unit in facts.units for deviation in unit.last.deviations})
    columns = (
        Column("serial", 28),
        Column("no.", 9, number=True),
        Column("verdict", 22),
        Column("found", 28),
        *(Column(f"{edge} deviation", 29, number=True) for edge in edges),
        Column("seconds", 17, number=True),
        Column("tries", 11, number=True),
        Column("begun (UTC)", 35),
    )
    rows = tuple(_unit(unit, edges) for unit in facts.units)
    caption = "Each unit by its last attempt, in order of work; seconds on the bench until its verdict"
    caption += "; deviations at the machine with their expanded uncertainty" if edges else ""
    return Grid(caption, columns, rows, filter_by="verdict")


def _unit(unit: UnitFacts, edges: Sequence[str]) -> tuple[Cell, ...]:
    last = unit.last
    by_edge = {deviation.edge: deviation for deviation in last.deviations}
    return (
        Cell(last.serial),
        _count(unit.number),
        _verdict(unit),
        Cell(last.reason.replace("-", " ") or "-"),
        *(_deviation(by_edge.get(edge)) for edge in edges),
        Cell("-") if last.seconds is None else Cell(f"{last.seconds:.1f}", rank=last.seconds),
        _count(unit.tries),
        Cell(moment_words(last.began_utc).removesuffix(" UTC")),
    )


def _count(count: int) -> Cell:
    return Cell(str(count), rank=count)


def _deviation(deviation: Deviation | None) -> Cell:
    if deviation is None:
        return Cell("-")
    words = value_words(deviation.value_mm, deviation.expanded_mm, "mm", sign=True)
    return Cell(words, rank=deviation.value_mm)


def runs_table(facts: ReportFacts) -> Grid:
    """The runs in which the order was worked on."""
    columns = (
        Column("run", 60),
        Column("begun", 40),
        Column("done", 24),
        Column("attempts", 20, number=True),
        Column("rig", 30),
        Column("software", 24),
    )
    rows = tuple(
        (
            Cell(one.run),
            Cell(moment_words(one.began_utc)),
            Cell(_DONE[one.purpose]),
            Cell(str(one.tries)),
            Cell(f"{one.rig} (simulated)" if one.simulated and one.rig != "simulated" else one.rig),
            Cell(f"teachrig {one.software}"),
        )
        for one in facts.runs
    )
    return Grid("Runs of this order in the record", columns, rows)


def percent_words(share: float | None) -> str:
    """A share in percent; none where there is nothing to share."""
    return "none" if share is None else f"{100 * share:.1f} %"
