"""The complaint sheet to a supplier: which units of which delivery, what was found of each, and the evidence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.events import Verdict
from rig.lots.draw import place_of
from rig.lots.record import LotRecord
from rig.lots.report import found_words, gravest_words, what_it_proves
from rig.lots.units import Settled, UnitFound
from rig.papers.certificate import moment_words
from rig.papers.lot_report import sentences, warning_of
from rig.papers.paper import Block, Cell, Column, Grid, Pairs, Paper, Part, Said, Signatures, Stated, Tone
from rig.store.settings import setting_words


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was read of one unit that is not sound, and whether its record leads to its verdict once more."""

    unit: UnitFound
    judged: tuple[tuple[str, str, str, str], ...]
    agrees: bool
    seal: str


def bad_units(record: LotRecord) -> list[UnitFound]:
    """The units that are complained about, by their place in the box."""
    bad = [one for one in record.found.values() if one.verdict is Verdict.BAD]
    return sorted(bad, key=lambda unit: place_of(unit.serial))


def complaint(record: LotRecord, evidence: Sequence[Evidence], made_by: str) -> Paper:
    """The paper; `made_by` names the program."""
    kind = "Complaint sheet (SIMULATED)" if record.simulated else "Complaint sheet"
    lot = record.lot
    return Paper(
        kind=kind,
        name=f"{lot.opened.delivery_note}, {lot.opened.supplier}",
        warning=warning_of(record),
        parts=tuple(_parts(record, evidence)),
        foot=f"{kind}: lot {lot.number}, delivery note {lot.opened.delivery_note}. {made_by}.",
    )


def _parts(record: LotRecord, evidence: Sequence[Evidence]) -> Iterator[Part]:
    yield Part("", tuple(_head(record)))
    yield Part("Delivery", (Pairs(tuple(_delivery(record))),))
    yield Part("Units complained about", (_units(record, evidence),))
    for one in evidence:
        yield Part(_title(record, one.unit), tuple(_evidence(one)))
    yield Part("How this was tested", (Said(_method(record)), *_trial(record)))
    yield Part("", (Signatures(("for the buyer", "date", "for the supplier", "date")),))


def _head(record: LotRecord) -> Iterator[Block]:
    count, closed = len(bad_units(record)), record.lot.closed
    units = "1 unit has a defect" if count == 1 else f"{count} units have a defect"
    decision = (
        "This lot is not decided." if closed is None else f"The lot is {closed.decision}: {closed.words}."
    )
    yield Stated(units, decision, Tone.BAD)
    told = sentences(what_it_proves(record))
    if told:
        yield Said(told)


def _delivery(record: LotRecord) -> Iterator[tuple[str, str]]:
    lot = record.lot
    yield "supplier", lot.opened.supplier
    yield "delivery note", lot.opened.delivery_note
    yield "ordered", f"{lot.quantity} units {lot.opened.sensor_type}, output {lot.receiving.output_type}"
    yield "our lot", lot.number
    yield (
        "tested",
        f"{record.standing.tested} units, places drawn at random, {moment_words(lot.opened_utc)[:10]}",
    )


def _units(record: LotRecord, evidence: Sequence[Evidence]) -> Grid:
    columns = (
        Column("place", 14),
        Column("serial", 30),
        Column("class", 18),
        Column("characteristic", 44),
        Column("put aside", 18),
        Column("settled by", 58),
    )
    rows = tuple(
        (
            Cell(str(place_of(one.unit.serial))),
            Cell(record.lot.marks.get(one.unit.serial, one.unit.serial)),
            Cell(gravest_words(one.unit), Tone.BAD),
            Cell(", ".join(map(str, one.unit.defects))),
            Cell("yes" if one.unit.serial in record.lot.aside else "no"),
            Cell(str(one.unit.settled)),
        )
        for one in evidence
    )
    return Grid("", columns, rows)


def _title(record: LotRecord, unit: UnitFound) -> str:
    mark = record.lot.marks.get(unit.serial)
    return f"Place {place_of(unit.serial)}: {mark or unit.serial}"


def _evidence(one: Evidence) -> Iterator[Block]:
    if one.unit.settled is not Settled.BY_BENCH:
        yield Said(f"{found_words(one.unit)}.")
    columns = (
        Column("characteristic", 46),
        Column("verdict", 22),
        Column("measured", 46),
        Column("found", 68),
    )
    tones = {"bad": Tone.BAD, "undecided": Tone.UNDECIDED}
    rows = tuple(
        (Cell(name), Cell(verdict, tones.get(verdict, Tone.PLAIN)), Cell(measured), Cell(words))
        for name, verdict, measured, words in one.judged
    )
    yield Grid("", columns, rows)
    seal = f"; sealed {one.seal[:16]}" if one.seal else ""
    again = "leads to the same verdict" if one.agrees else "DOES NOT LEAD TO THIS VERDICT"
    record = f"Record {one.unit.serial}, {moment_words(one.unit.last.utc)}"
    yield Said(
        f"{record}: worked out again from its readings, it {again}{seal}.",
        Tone.PLAIN if one.agrees else Tone.WARNING,
    )


def _trial(record: LotRecord) -> Iterator[Block]:
    trial = record.lot.receiving.trial
    if trial is not None:
        tolerance = (
            "" if trial.tolerance_mm is None else f", tolerance {trial.tolerance_mm:g} mm to either side"
        )
        setting = setting_words(trial.model_dump(mode="json"))
        yield Pairs((("trial setting", f"{setting}{tolerance}"),))


def _method(record: LotRecord) -> str:
    restored = (
        "set back to its delivered setting" if record.lot.receiving.restore else "left with its trial setting"
    )
    return (
        "Each unit on a bench with a measured supply and a target that moves along a scale: supply current; output "
        "wire tried without supply, then pulled to either rail, with a target and without; the output read near both "
        "ends of the range; the LED by a pick-up; a setting taught through the teach wire, proved, and the unit "
        f"{restored}. What a fault of bench or harness could explain is not held against a unit, unless it shows the "
        "same twice while a unit tested between the two is sound."
    )
