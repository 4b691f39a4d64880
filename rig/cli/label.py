"""`teachrig label`: labels of units that have a verdict, from the record of their last run."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder, open_library, read_or_give_up
from rig.cli.json_text import print_json
from rig.cli.recorded import Made, enter, records_for
from rig.cli.writing import write_file
from rig.library import Library
from rig.papers.label_facts import NoLabel, UnitFacts, facts_of_last
from rig.papers.label_parts import Use
from rig.papers.label_pdf import LabelRefused, labels_pdf
from rig.papers.label_template import USUAL_TEMPLATES, LabelTemplate
from rig.papers.printing import NotPrinted, print_pdf
from rig.session import JOURNAL_NAME
from rig.software import software_version
from wiring.plainwords import printable, safe_name


@dataclass(slots=True)
class _Wanted:
    """The units that were asked for: those that get a label, and why the others get none."""

    facts: list[UnitFacts] = field(default_factory=list)
    without: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class _Batch:
    """Labels of one template; they make one file and one job for a printer, since they lie on one kind of paper."""

    template: LabelTemplate
    units: list[UnitFacts]
    pdf: bytes
    file: Path | None = None
    printed: str | None = None


def command(options: Namespace) -> int:
    """Write or print the labels; 1 if a unit got none, 3 if they could not be printed."""
    templates, journal = (
        _templates(options.template, open_library()),
        data_folder(options.data) / JOURNAL_NAME,
    )
    wanted = _wanted(options, journal)
    batches = _batches(wanted.facts, templates, options.skip)
    failure = _print(batches, options.print) if options.print is not None else None
    if options.print is None or options.out is not None or failure is not None:
        _write(batches, options.out or _file_name(options), force=options.force)
    enter(journal, "label", (made for batch in batches for made in _made(batch)))
    for serial, why in wanted.without.items():
        narrate(f"no label for {printable(serial)}: {why}")
    _tell(batches, wanted, as_json=options.json)
    if failure is not None:
        narrate(f"not printed: {failure}. Print the file at its true size (100 %, no fitting to the page).")
        return Exit.BENCH_FAULT
    return Exit.NOT_ALL_GOOD if wanted.without else Exit.DONE


def _templates(names: Sequence[str], library: Library) -> dict[Use, LabelTemplate]:
    chosen: dict[Use, LabelTemplate] = {}
    for name in names:
        template = _template(name, library)
        if template.use in chosen:
            words = (
                f"--template: {chosen[template.use].name} and {template.name} are both for use {template.use}"
            )
            raise GiveUp(Exit.BAD_INPUT, f"{words}; allowed: one for each use")
        chosen[template.use] = template
    return {use: chosen.get(use) or _template(name, library) for use, name in USUAL_TEMPLATES.items()}


def _template(name: str, library: Library) -> LabelTemplate:
    return read_or_give_up(lambda: library.read_label(name))


def _wanted(options: Namespace, journal: Path) -> _Wanted:
    wanted = _Wanted()
    with records_for(options, journal) as (records, serials):
        for serial in serials:
            try:
                wanted.facts.append(facts_of_last(records.attempts(serial), records, options.order))
            except NoLabel as reason:
                wanted.without[serial] = str(reason)
    return wanted


def _batches(units: Sequence[UnitFacts], templates: dict[Use, LabelTemplate], skip: int) -> list[_Batch]:
    made_by = f"teachrig {software_version()}"
    batches = []
    for use, template in templates.items():
        if template.sheet is not None and skip >= template.sheet.labels:
            most = template.sheet.labels
            words = f"--skip: a sheet of {template.name} has {most} labels (given {skip}); allowed: 0 to {most - 1}"
            raise GiveUp(Exit.BAD_INPUT, words)
        of_use = [unit for unit in units if unit.use is use]
        if of_use:
            try:
                batches.append(_Batch(template, of_use, labels_pdf(of_use, template, made_by, skip)))
            except LabelRefused as refused:
                raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    return batches


def _print(batches: Sequence[_Batch], printer: str) -> NotPrinted | None:
    for batch in batches:
        try:
            batch.printed = print_pdf(
                batch.pdf, f"labels {batch.template.name}", batch.template.page_mm, printer
            )
        except NotPrinted as failure:
            return failure
    return None


def _write(batches: Sequence[_Batch], path: Path, *, force: bool) -> None:
    for batch in batches:
        # Labels for good units go into the file that was named, the others into one beside it.
        apart = len(batches) > 1 and batch.template.use is Use.DO_NOT_USE
        batch.file = path.with_name(f"{path.stem}-{Use.DO_NOT_USE}{path.suffix}") if apart else path
        write_file(batch.file, batch.pdf, force=force)


def _made(batch: _Batch) -> Iterator[Made]:
    """The labels of a batch, for the record: one file or job holds several."""
    went = " ".join([*([str(batch.file.absolute())] if batch.file else []), *filter(None, [batch.printed])])
    for unit in batch.units:
        yield Made(unit.order, unit.serial, batch.pdf, went)


def _file_name(options: Namespace) -> Path:
    """A name for the file that no serial can lead astray, whatever the record holds."""
    name = options.order or options.serials[0]
    return Path(f"labels-{safe_name(name)}.pdf")


def _tell(batches: Sequence[_Batch], wanted: _Wanted, *, as_json: bool) -> None:
    if as_json:
        told = {"labels": [_as_dict(batch) for batch in batches], "without": wanted.without}
        print_json(told)
        return
    for batch in batches:
        count = f"{len(batch.units)} {'label' if len(batch.units) == 1 else 'labels'} {batch.template.name}"
        if batch.printed is not None:
            narrate(f"{count} printed: {batch.printed}")
        if batch.file is not None:
            narrate(f"{count}:")
            print(printable(str(batch.file)))


def _as_dict(batch: _Batch) -> dict[str, object]:
    return {
        "template": batch.template.name,
        "file": None if batch.file is None else str(batch.file),
        "printed": batch.printed,
        "units": [
            {"serial": unit.serial, "order": unit.order, "verdict": str(unit.verdict)} for unit in batch.units
        ],
    }
