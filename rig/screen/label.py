"""The label of one unit once more: to the printer, or into a file where none takes it."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from rig.journal import JournalError
from rig.library import Library
from rig.papers.label_facts import NoLabel, facts_of_last
from rig.papers.label_pdf import LabelRefused, labels_pdf
from rig.papers.label_template import USUAL_TEMPLATES
from rig.papers.printing import NotPrinted, print_pdf
from rig.records import open_records
from rig.software import software_version
from wiring.tomlfile import DataFileError

_LONGEST_NAME = 80


class CannotLabel(Exception):
    """There is no label; its text says why."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label that came out: where it went, what is in it, and why it is only a file, if it is."""

    where: str
    sha256: str
    not_printed: str = ""


def label_again(serial: str, order: str, journal: Path | None, library: Library, folder: Path) -> Label:
    """Print the label of a unit on the usual printer, or write it into `folder`; raises CannotLabel.

    It takes as long as the printer's queue does.
    """
    try:
        pdf, title, page_mm = _drawn(serial, order, journal, library)
    except (NoLabel, LabelRefused, JournalError, DataFileError) as why:
        raise CannotLabel(str(why)) from None
    sha256 = hashlib.sha256(pdf).hexdigest()
    try:
        return Label(print_pdf(pdf, title, page_mm, ""), sha256)
    except NotPrinted as why:
        return Label(str(_written(pdf, serial, folder)), sha256, str(why))


def _drawn(
    serial: str, order: str, journal: Path | None, library: Library
) -> tuple[bytes, str, tuple[float, float]]:
    if journal is None:
        raise NoLabel("not begun yet")
    with open_records(journal) as records:
        facts = facts_of_last(records.attempts(serial), records, order)
    template = library.read_label(USUAL_TEMPLATES[facts.use])
    pdf = labels_pdf([facts], template, f"teachrig {software_version()}")
    return pdf, f"label {serial}", template.page_mm


def _written(pdf: bytes, serial: str, folder: Path) -> Path:
    path = folder / f"label-{re.sub(r'[^A-Za-z0-9._-]', '_', serial)[:_LONGEST_NAME]}.pdf"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_bytes(pdf)
    except OSError as failure:
        raise CannotLabel(f"{path}: {failure.strerror}") from None
    return path
