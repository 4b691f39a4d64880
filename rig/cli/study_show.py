"""`teachrig study gauge show`: what a study comes to, worked out again from its record."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.documents import write_study
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.recorded import Made, enter
from rig.cli.study_text import print_open, print_study
from rig.cli.writing import write_lines
from rig.csvtext import csv_lines
from rig.gauge.course import Study
from rig.gauge.history import study_named
from rig.gauge.taking_up import Files, figures_from, files_of
from rig.gauge.told import (
    CSV_COLUMNS,
    conclusion_event,
    course_as_dict,
    csv_rows,
    departures,
    figures_as_dict,
)
from rig.gauge.verdict import Fitness, conclude
from rig.recount.attempt import NotRebuilt
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def show(options: Namespace) -> int:
    """Show a study; 0 if it is whole and the rig may judge such units."""
    journal = data_folder(options.data) / JOURNAL_NAME
    study = chosen(journal, options.number)
    code = tell(study, as_json=options.json)
    if options.csv is not None:
        write_lines(options.csv, csv_lines(CSV_COLUMNS, csv_rows(study.course)), force=options.force)
        narrate(f"written: {printable(str(options.csv))}")
    if options.out is not None:
        _write(study, options.out, journal, force=options.force)
    return code


def chosen(journal: Path, number: str | None) -> Study:
    """The study of a number, or the last one opened; gives up where there is none."""
    study = study_named(journal, number)
    if study is None:
        which = "knows no gauge study" + (f" {printable(number)}" if number else "")
        words = f"{printable(str(journal))}: {which}; allowed: teachrig study gauge open ORDER first"
        raise GiveUp(Exit.BAD_INPUT, words)
    return study


def files_or_give_up(study: Study) -> Files:
    """What a study was opened with."""
    try:
        return files_of(study)
    except NotRebuilt as gap:
        raise GiveUp(Exit.BAD_INPUT, str(gap)) from None


def tell(study: Study, *, as_json: bool) -> Exit:
    """Print a study, whole or as far as it came; 0 if it is whole and the rig may judge such units."""
    files_or_give_up(study)
    figures = figures_from(study)
    conclusion = None if figures is None else conclude(figures)
    against: tuple[str, ...] = ()
    if figures is not None and conclusion is not None:
        against = departures(study, conclusion_event(figures, conclusion))
    with reader_may_leave():
        if as_json:
            told = course_as_dict(study.course) | {
                "simulated": study.simulated,
                "set_aside": [one.body() for one in study.set_aside],
                "departures": list(against),
            }
            more = {} if figures is None or conclusion is None else figures_as_dict(figures, conclusion)
            print_json({**told, "result": more or None})
        elif figures is None or conclusion is None:
            print_open(study, Page())
        else:
            print_study(study, figures, conclusion, against, Page())
    if conclusion is None or against or conclusion.fitness is Fitness.UNFIT:
        return Exit.NOT_ALL_GOOD
    return Exit.DONE


def _write(study: Study, folder: Path, journal: Path, *, force: bool) -> None:
    figures = figures_from(study)
    if figures is None:
        left = len(study.course.left)
        raise GiveUp(Exit.BAD_INPUT, f"no paper is written: {left} trials of the study are left")
    files = write_study(study, figures, folder, force=force)
    made = (Made(study.design.study, "", file.read_bytes(), str(file.absolute())) for file in files)
    enter(journal, "gauge study", made)
    for file in files:
        narrate(f"written: {printable(str(file))}")
