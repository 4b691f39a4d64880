"""Papers from the record go into files, to a printer, or both; what was made of them is entered in the record."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from rig.cli.documents import Sheet, write_sheet
from rig.cli.exits import narrate
from rig.cli.recorded import Made
from rig.papers.paper_pdf import PAGE_MM
from rig.papers.printing import NotPrinted, print_pdf
from wiring.plainwords import printable


@dataclass(slots=True)
class HandedOut:
    """What became of the papers.

    Attributes:
        files: those that were written.
        printed: what the system's printing said to each that it took.
        made: all of them, for the record.
        failure: why one was not printed; it and those after it went into files instead.

    """

    files: list[Path] = field(default_factory=list)
    printed: list[str] = field(default_factory=list)
    made: list[Made] = field(default_factory=list)
    failure: NotPrinted | None = None

    def as_dict(self) -> dict[str, object]:
        """For a program."""
        why = None if self.failure is None else str(self.failure)
        return {"files": [str(file) for file in self.files], "printed": self.printed, "not_printed": why}


def where_to(options: Namespace) -> Path | None:
    """The folder that `--out` names; this one where neither printing nor JSON was asked for instead."""
    out: Path | None = options.out
    return Path() if out is None and options.print is None and not options.json else out


def hand_out(sheets: Iterable[Sheet], folder: Path | None, printer: str | None, *, force: bool) -> HandedOut:
    """Print the papers where a printer is named ("": the system's own), and write them where a folder is.

    Those that a printer does not take are written in any case.
    """
    done = HandedOut()
    for sheet in sheets:
        pdf = sheet.pdf()
        said = "" if printer is None or done.failure is not None else _print(sheet, pdf, printer, done)
        if folder is not None or done.failure is not None:
            _write(sheet, pdf, said, folder or Path(), done, force=force)
        elif said:
            done.made.append(Made(sheet.order, sheet.serial, pdf, said))
    return done


def _print(sheet: Sheet, pdf: bytes, printer: str, done: HandedOut) -> str:
    try:
        said = print_pdf(pdf, f"{sheet.paper.kind} {printable(sheet.paper.name, 60)}", PAGE_MM, printer)
    except NotPrinted as failure:
        done.failure = failure
        return ""
    done.printed.append(said)
    return said


def _write(sheet: Sheet, pdf: bytes, said: str, folder: Path, done: HandedOut, *, force: bool) -> None:
    files = write_sheet(sheet, pdf, folder, force=force)
    done.files += files
    for file in files:
        printed = said if file.suffix == ".pdf" else ""
        where = " ".join(filter(None, [str(file.absolute()), printed]))
        done.made.append(Made(sheet.order, sheet.serial, file.read_bytes(), where))


def tell(done: HandedOut) -> None:
    """Say where the papers are, for a person."""
    for said in done.printed:
        narrate(f"printed: {said}")
    for file in done.files:
        print(printable(str(file)))
    if done.failure is not None:
        narrate(f"not printed: {done.failure}. Print the file instead.")
