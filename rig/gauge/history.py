"""The studies of the record: how each was laid out, how far it came, what it was said to come to."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rig.events import OrderInputs, OrderStarted, Stamped, StudyConcluded, StudyOpened
from rig.gauge.course import NEEDED, Course, Study, concluded_by, design_in
from rig.gauge.design import Design
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.noting import note
from rig.store.database import Database, SqliteDatabase
from rig.store.events import event_rows

# Each of them is noted in a run of its own, which holds nothing else.
_TOLD = (
    f"SELECT {', '.join(f'e.{one}' for one in STAMPED_COLUMNS.split(', '))} FROM run r "
    "JOIN entry e ON e.bench = r.bench AND e.number = r.first AND e.run = r.id "
    "WHERE r.name LIKE :name AND e.kind = :kind ORDER BY e.bench, e.number"
)
_RUN = "gauge-study"


def open_study(path: Path, design: Design, inputs: OrderInputs) -> None:
    """Enter a study that begins; raises JournalError."""
    _note(path, design.study, StudyOpened(design.study, design.content(), inputs.body()))


def conclude_study(path: Path, conclusion: StudyConcluded) -> None:
    """Enter what a study comes to; raises JournalError."""
    _note(path, conclusion.study, conclusion)


def _note(path: Path, study: str, event: StudyOpened | StudyConcluded) -> None:
    note(path, _RUN, [(study, "", event)])


def study_named(path: Path, number: str | None) -> Study | None:
    """The study of a number, or the last one opened; None if there is none. Raises JournalError."""
    if not path.is_file():
        return None
    with reading(path) as connection:
        database = SqliteDatabase(connection)
        opened = [one for one in _told(database, StudyOpened.kind) if number in (None, one.order)]
        return None if not opened else _study(database, opened[-1])


def open_studies(path: Path) -> list[Study]:
    """The studies that have trials left, the one opened last first. Raises JournalError."""
    if not path.is_file():
        return []
    with reading(path) as connection:
        database = SqliteDatabase(connection)
        studies = [_study(database, one) for one in _told(database, StudyOpened.kind)]
    return [one for one in reversed(studies) if one.course.left]


def _study(database: Database, opened: Stamped) -> Study:
    assert isinstance(opened.event, StudyOpened), "asked for this kind"
    design = design_in(opened.event)
    kinds = [kind.kind for kind in (*NEEDED, OrderStarted)]
    events = [stamped_from(*row) for row in event_rows(database, kinds, order=design.study)]
    started = [one.event for one in events if isinstance(one.event, OrderStarted)]
    return Study(
        opened,
        Course(design).take_all(events),
        any(one.simulated for one in started),
        started[-1].software if started else "",
        concluded_by(_told(database, StudyConcluded.kind), design.study),
    )


def _told(database: Database, kind: str) -> Iterator[Stamped]:
    rows = database.rows(_TOLD, {"name": f"%-{_RUN}", "kind": kind})
    return (stamped_from(*row) for row in list(rows))
