"""The papers that the demo leaves: labels, certificates and a report for each of its orders, as one hands them over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path

from rig.cli.documents import Sheet, certificate_facts, certificate_sheet, made_by, order_facts, report_sheet
from rig.cli.handing_out import hand_out
from rig.cli.recorded import Made, enter, opened
from rig.cli.writing import write_file
from rig.library import Library
from rig.papers.certificate_facts import NoCertificate
from rig.papers.label_facts import NoLabel, facts_of
from rig.papers.label_facts import UnitFacts as LabelFacts
from rig.papers.label_parts import Use
from rig.papers.label_pdf import labels_pdf
from rig.records import Records

FOLDER = "demo-papers"
_TEMPLATES = {Use.GOOD: "unit-sheet", Use.DO_NOT_USE: "do-not-use"}


def write_papers(journal: Path, units: Iterable[tuple[str, str]]) -> Path:
    """Write the papers of units, given as order and serial; returns their folder, where they replace older ones."""
    folder = journal.parent / FOLDER
    serials_of: dict[str, list[str]] = {}
    for order, serial in units:
        serials_of.setdefault(order, []).append(serial)
    made: dict[str, list[Made]] = {"order report": [], "certificate": [], "label": []}
    with opened(journal) as records:
        for order, serials in serials_of.items():
            own = folder / order
            made["order report"] += _written([report_sheet(order_facts(records, order))], own)
            made["certificate"] += _written(_certificates(records, order, serials), own / "units")
            made["label"] += _labels(tuple(_labelled(records, serials)), own)
    for what, papers in made.items():
        enter(journal, what, papers)
    return folder


def _written(sheets: Iterable[Sheet], folder: Path) -> list[Made]:
    return hand_out(sheets, folder, None, force=True).made


def _certificates(records: Records, order: str, serials: Sequence[str]) -> Iterator[Sheet]:
    for serial in serials:
        with suppress(NoCertificate):
            yield certificate_sheet(certificate_facts(records, records.attempts(serial), order))


def _labelled(records: Records, serials: Sequence[str]) -> Iterable[LabelFacts]:
    for serial in serials:
        try:
            yield facts_of(records.attempt(records.attempts(serial)[-1]))
        except NoLabel:
            continue


def _labels(facts: Sequence[LabelFacts], folder: Path) -> Iterator[Made]:
    shipped = Library(home=None)
    for use, name in _TEMPLATES.items():
        of_use = [one for one in facts if one.use is use]
        if of_use:
            pdf = labels_pdf(of_use, shipped.read_label(name), made_by(), 0)
            file = folder / f"labels-{use}.pdf"
            write_file(file, pdf, force=True)
            yield from (Made(one.order, one.serial, pdf, str(file.absolute())) for one in of_use)
