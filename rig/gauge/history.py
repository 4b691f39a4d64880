"""The studies of the record: how each was laid out, how far it came, what it was said to come to."""

from __future__ import annotations

from pathlib import Path

from rig.events import OrderInputs, OrderStarted, Stamped, StudyConcluded, StudyOpened, TrialSetAside
from rig.gauge.course import NEEDED, Course, Study, design_in, noted_of
from rig.gauge.design import Design
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.noting import note
from rig.store.database import Database, SqliteDatabase
from rig.store.events import event_rows

# Each of them is noted in a run of its own, which holds nothing else.
_TOLD = (
    f"SELECT {', '.join(f'e.{one}' for one in STAMPED_COLUMNS.split(', '))} FROM run r "
    "JOIN entry e ON e.bench = r.bench AND e.number = r.first AND e.run = r.id "
    "WHERE r.name LIKE :name AND e.kind IN ({kinds}) ORDER BY e.bench, e.number"
)
_RUN = "gauge-study"


def open_study(path: Path, design: Design, inputs: OrderInputs) -> None:
    """Enter a study that begins; raises JournalError."""
    note(path, _RUN, [(design.study, "", StudyOpened(design.study, design.content(), inputs.body()))])


def note_on_study(path: Path, event: StudyConcluded | TrialSetAside) -> None:
    """Enter what a study comes to, or that a value of it does not count; raises JournalError."""
    note(path, _RUN, [(event.study, "", event)])


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
    concluded, aside = noted_of(_told(database, StudyConcluded.kind, TrialSetAside.kind), design.study)
    course = Course(design).take_all(events)
    for one in aside:
        course.set_aside(one)
    simulated = any(one.simulated for one in started)
    return Study(opened, course, simulated, started[-1].software if started else "", concluded, aside)


def _told(database: Database, *kinds: str) -> list[Stamped]:
    """What was noted of studies, in order."""
    named = {f"kind{number}": kind for number, kind in enumerate(kinds)}
    question = _TOLD.format(kinds=", ".join(f":{name}" for name in named))
    return [stamped_from(*row) for row in list(database.rows(question, {"name": f"%-{_RUN}", **named}))]
