"""The report on a lot, on one page: what it is, what was drawn and found, the decision and what it proves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rig.events import CharacteristicJudged, Verdict
from rig.lots.decision import ClassCount
from rig.lots.draw import place_of
from rig.lots.history import History, pooled_words
from rig.lots.record import LotRecord
from rig.lots.report import class_words, if_sorted, state_of, unit_rows, what_it_proves, what_it_proves_not
from rig.lots.sampling import tightens
from rig.lots.supplier import drifts, faults_ranked, lot_rows
from rig.papers.certificate import SIMULATED, moment_words
from rig.papers.lot_charts import accepts_chart, on_paper, supplier_chart
from rig.papers.paper import Block, Cell, Column, Grid, Pairs, Paper, Part, Said, Signatures, Stated, Tone
from rig.sampling.estimate import lot_bounds
from rig.sampling.plan import Decision
from rig.sampling.switching import standing_words
from rig.statistics.binomial import clopper_pearson
from sequences.receiving import Characteristic

_TONES = {str(Decision.ACCEPTED): Tone.GOOD, str(Decision.REJECTED): Tone.BAD}
_FEW = 8


def warning_of(record: LotRecord) -> str:
    """What has to be read before all else."""
    return SIMULATED.replace("a made-up unit", "made-up units") if record.simulated else ""


def lot_report(record: LotRecord, history: History, made_by: str) -> Paper:
    """The paper of a lot; `made_by` names the program."""
    kind = "Lot report (SIMULATED)" if record.simulated else "Lot report"
    lot = record.lot
    return Paper(
        kind=kind,
        name=lot.number,
        warning=warning_of(record),
        parts=tuple(_parts(record, history)),
        foot=f"{kind}: lot {lot.number} from {lot.opened.supplier}. {made_by}.",
    )


def _parts(record: LotRecord, history: History) -> Iterator[Part]:
    yield Part("", (_stated(record),))
    yield Part("Lot", (Pairs(tuple(lot_facts(record))),))
    yield Part("Sample, and what was found in it", (_classes(record), _characteristics(record)))
    rows = tuple(unit_rows(record))
    if rows:
        yield Part("Units that are not sound", (units_grid(record, rows[:_FEW]), *_more(len(rows) - _FEW)))
    if record.standing.decision is not None:
        yield Part("What this proves, and what it does not", tuple(_proof(record)))
    yield Part("Supplier", tuple(_supplier(record, history)))
    yield Part("", (Signatures(("tested by", "date", "decided by", "date")),))


def _stated(record: LotRecord) -> Stated:
    closed = record.lot.closed
    if closed is None:
        return Stated(state_of(record), "This lot is not decided.", Tone.UNDECIDED)
    return Stated(closed.decision, f"{closed.words[:1].upper()}{closed.words[1:]}.", _TONES[closed.decision])


def lot_facts(record: LotRecord) -> Iterator[tuple[str, str]]:
    """What the lot is, and how its sample was drawn."""
    lot = record.lot
    opened = lot.opened
    yield "supplier", opened.supplier
    yield "delivery note", opened.delivery_note
    yield "sensor type", f"{opened.sensor_type}, {lot.receiving.output_type}"
    yield "units in the box", str(lot.quantity)
    yield "receiving plan", f"{lot.receiving.title} ({lot.receiving.name})"
    yield "inspection", str(lot.severity) if tightens(lot.receiving) else "by the plan alone"
    yield (
        "random draw",
        f"{lot.sampling.units} places in the order of the SHA-256 of seed/place, seed {opened.seed}",
    )
    closed = "" if lot.closed is None else f", decided {moment_words(lot.closed_utc)}{_by(lot.closed.person)}"
    yield "opened", f"{moment_words(lot.opened_utc)}{_by(opened.person)}{closed}"
    if opened.resubmits:
        yield "comes again", f"lot {opened.resubmits} was rejected, sorted and sent again"
    for change in lot.changes:
        yield "changed", f"{moment_words(change.utc)}{_by(change.person)}: {change.words}"


def _by(person: str) -> str:
    return f" by {person}" if person else ""


def _classes(record: LotRecord) -> Grid:
    columns = (
        Column("class", 20),
        Column("sample", 14, number=True),
        Column("tested", 14, number=True),
        Column("found", 14, number=True),
        Column("accepted with", 22, number=True),
        Column("decision", 24),
        Column("from", 74),
    )
    return Grid(
        "By class; a unit counts once, in its gravest",
        columns,
        tuple(map(_class_row, record.standing.classes)),
    )


def _class_row(one: ClassCount) -> tuple[Cell, ...]:
    decision = "" if one.decision is None else str(one.decision)
    plan = one.asked.plan
    return (
        Cell(str(one.asked.defect)),
        Cell(str(plan.sample_size)),
        Cell(str(one.tested)),
        Cell(str(one.found)),
        Cell(one.asked.accepted_with(one.tested)),
        Cell(class_words(one), _TONES.get(decision, Tone.PLAIN)),
        Cell(one.asked.how),
    )


def _characteristics(record: LotRecord) -> Grid:
    columns = (
        Column("characteristic", 52),
        Column("a defect is", 26),
        Column("tested", 20, number=True),
        Column("with a defect", 24, number=True),
        Column("measured, sound units", 60),
    )
    return Grid("By characteristic", columns, tuple(_characteristic_rows(record)))


def _characteristic_rows(record: LotRecord) -> Iterator[tuple[Cell, ...]]:
    found = record.standing.by_characteristic
    for one in record.lot.receiving.test.asked:
        test = record.lot.receiving.test.of(one)
        tested = sum(_judged(unit.last.judged, one) for unit in record.found.values())
        count = found.get(one, 0)
        yield (
            Cell(str(one)),
            Cell("" if test is None else str(test.defect)),
            Cell(str(tested)),
            Cell(str(count)),
            Cell(_spread(record, one)),
        )


def _judged(judged: list[CharacteristicJudged], one: Characteristic) -> bool:
    return any(each.characteristic == str(one) for each in judged)


def _spread(record: LotRecord, one: Characteristic) -> str:
    values = [
        value
        for unit in record.found.values()
        if unit.verdict is Verdict.GOOD
        for name, value in unit.last.values.items()
        if name.startswith(f"{one},")
    ]
    if not values:
        return "-"
    low, high, mean = 1000 * min(values), 1000 * max(values), 1000 * sum(values) / len(values)
    return f"{low:.1f} to {high:.1f} mA, mean {mean:.1f} mA"


def units_grid(record: LotRecord, rows: tuple[tuple[str, ...], ...]) -> Grid:
    """Units that are not sound, with what was found of each."""
    columns = (
        Column("place", 14),
        Column("serial", 28),
        Column("defect", 18),
        Column("put aside", 18),
        Column("found", 104),
    )
    serials = {str(place_of(serial)): serial for serial in record.found}
    made = tuple(
        (
            Cell(place),
            Cell(_named(record, serials.get(place.split()[0], ""))),
            Cell(defect if verdict == "bad" else verdict, Tone.BAD if verdict == "bad" else Tone.UNDECIDED),
            Cell(aside),
            Cell(words),
        )
        for place, verdict, defect, _, aside, words in rows
    )
    return Grid("", columns, made)


def _named(record: LotRecord, serial: str) -> str:
    return record.lot.marks.get(serial, serial)


def _more(count: int) -> tuple[Said, ...]:
    return (Said(f"And {count} more; the complaint has all of them."),) if count > 0 else ()


def _proof(record: LotRecord) -> Iterator[Block]:
    yield Said(sentences(what_it_proves(record)))
    yield Said(sentences(what_it_proves_not(record)))
    standing, quantity = record.standing, record.lot.quantity
    bounds = lot_bounds(standing.seen, quantity)
    if not record.lot.sampling.is_whole:
        yield Said(sentences(if_sorted(record)))
        yield accepts_chart(standing.classes, (bounds.fewest / quantity, bounds.most / quantity))


def sentences(told: Iterable[str]) -> str:
    """Sentences one after the other, with plain spaces only."""
    return " ".join(told).replace("\u00a0", " ")


def _supplier(record: LotRecord, history: History) -> Iterator[Block]:
    tested, defective = history.tested, history.defective
    share = clopper_pearson(defective, tested)
    beside = pooled_words(history)
    decided = len(history.closed)
    accepted = sum(one.closed is not None and one.closed.decision == "accepted" for one in history.closed)
    pairs = [
        ("lots", f"{decided} decided, {accepted} accepted"),
        (
            "defective",
            f"{defective} of {tested} tested: {on_paper(share.lower)} to {on_paper(share.upper)} with 95 % confidence"
            f"{beside and '; '}{beside}",
        ),
    ]
    ranked = faults_ranked(history)
    if ranked:
        pairs.append(("faults", ", ".join(f"{name} {count}" for name, count, _ in ranked)))
    for one in drifts(history):
        figure, means = one.in_words(_FEW)
        pairs.append((f"mean {figure}", means))
    if tightens(record.lot.receiving):
        pairs.append(("next lot", standing_words(history.standing)))
    yield Pairs(tuple(pairs))
    if decided > 1:
        yield supplier_chart(lot_rows(history))
