"""The papers that the demo leaves: labels, certificates and a report for each of its orders, as one hands them over."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from rig.cli.documents import (
    certificate_facts,
    made_by,
    make_folder,
    order_facts,
    write_certificate,
    write_report,
)
from rig.cli.recorded import opened
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
    with opened(journal) as records:
        for order, serials in serials_of.items():
            _write_order(records, order, serials, folder / order)
    return folder


def _write_order(records: Records, order: str, serials: Sequence[str], folder: Path) -> None:
    make_folder(folder)
    write_report(order_facts(records, order), folder, force=True)
    for serial in serials:
        try:
            facts = certificate_facts(records, records.attempts(serial), order)
        except NoCertificate:
            continue
        write_certificate(facts, folder / "units", force=True)
    _write_labels(tuple(_labelled(records, serials)), folder)


def _labelled(records: Records, serials: Sequence[str]) -> Iterable[LabelFacts]:
    for serial in serials:
        try:
            yield facts_of(records.attempt(records.attempts(serial)[-1]))
        except NoLabel:
            continue


def _write_labels(facts: Sequence[LabelFacts], folder: Path) -> None:
    shipped = Library(home=None)
    for use, name in _TEMPLATES.items():
        of_use = [one for one in facts if one.use is use]
        if of_use:
            pdf = labels_pdf(of_use, shipped.read_label(name), made_by(), 0)
            write_file(folder / f"labels-{use}.pdf", pdf, force=True)
