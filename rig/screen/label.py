"""The label of one unit once more: to the printer, or into a file where none takes it; either is recorded."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from rig.events import DocumentMade
from rig.journal import JournalError
from rig.library import Library
from rig.noting import note
from rig.papers.label_facts import NoLabel, facts_of_last
from rig.papers.label_pdf import LabelRefused, labels_pdf
from rig.papers.label_template import USUAL_TEMPLATES
from rig.papers.printing import NotPrinted, print_pdf
from rig.records import open_records
from rig.software import software_version
from rig.store.private import private_folder
from wiring.plainwords import safe_name
from wiring.saying import said_by
from wiring.tomlfile import DataFileError


class CannotLabel(Exception):
    """There is no label; its text says why."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label that came out: where it went; why it is only a file, or is not on record, where that is so."""

    where: str
    not_printed: str = ""
    not_recorded: str = ""


def label_again(serial: str, order: str, journal: Path, library: Library, folder: Path) -> Label:
    """Print the label of a unit on the usual printer, or write it into `folder`; raises CannotLabel.

    It takes as long as the printer's queue does.
    """
    try:
        pdf, title, page_mm = _drawn(serial, order, journal, library)
    except (NoLabel, LabelRefused, JournalError, DataFileError) as why:
        raise CannotLabel(said_by(why)) from None
    try:
        label = Label(print_pdf(pdf, title, page_mm, ""))
    except NotPrinted as why:
        label = Label(str(_written(pdf, serial, folder)), said_by(why))
    made = DocumentMade("label", hashlib.sha256(pdf).hexdigest(), "", label.where)
    try:
        note(journal, "label", [(order, serial, made)])
    except JournalError as why:
        return replace(label, not_recorded=said_by(why))
    return label


def _drawn(
    serial: str, order: str, journal: Path, library: Library
) -> tuple[bytes, str, tuple[float, float]]:
    with open_records(journal) as records:
        facts = facts_of_last(records.attempts(serial), records, order)
    template = library.read_label(USUAL_TEMPLATES[facts.use])
    pdf = labels_pdf([facts], template, f"teachrig {software_version()}")
    return pdf, f"label {serial}", template.page_mm


def _written(pdf: bytes, serial: str, folder: Path) -> Path:
    path = folder / f"label-{safe_name(serial)}.pdf"
    try:
        private_folder(folder)
        path.write_bytes(pdf)
    except OSError as failure:
        raise CannotLabel(f"{path}: {failure.strerror}") from None
    return path
