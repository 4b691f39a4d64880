"""The gauge studies that were opened and are not done, among the orders."""

from __future__ import annotations

from pathlib import Path

from rig.gauge.course import Study
from rig.gauge.history import open_studies
from rig.journal import JournalError
from rig.screen.listing import Row
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.wording import Words

STUDY = "study/"
"""What the key of a study begins with."""


def study_rows(journal: Path | None, words: Words) -> list[Row]:
    """A heading and a row for each open study; nothing where there is none, or none can be read."""
    studies = _studies(journal)
    rows = [Row("", line(Span(f" {words('study.title')}", Role.DIM)))] if studies else []
    return rows + [Row(f"{STUDY}{one.design.study}", _row(one, words)) for one in studies]


def _row(study: Study, words: Words) -> Line:
    done, of = len(study.course.readings), len(study.design.trials)
    return line(
        Span(f"{study.design.study:<12} ", Role.WISH), Span(words("study.done", done=done, of=of), Role.WISH)
    )


def study_lines(journal: Path | None, number: str, words: Words, width: int) -> list[Line]:
    """What is known of a study, as far as a panel has room."""
    study = next((one for one in _studies(journal) if one.design.study == number), None)
    if study is None:
        return []
    design, left = study.design, study.course.left
    facts = (
        (words("study.of-order"), design.order),
        (words("orders.type"), design.sensor_type),
        (words("study.levels"), ", ".join(design.levels)),
        (words("study.units"), ", ".join(design.units)),
        (words("study.next"), f"{left[0].level}, {left[0].unit}"),
    )
    column = max(len(name) for name, _ in facts) + 1
    lines = [line(Span(design.study, Role.STRONG))]
    for name, value in facts:
        first, *more = wrapped(value, width - column - 1, 4)
        lines.append(line(Span(f"{name:<{column}}", Role.DIM), first))
        lines += [line(" " * column, one) for one in more]
    return lines


def _studies(journal: Path | None) -> list[Study]:
    try:
        return [] if journal is None else open_studies(journal)
    except JournalError:
        return []
