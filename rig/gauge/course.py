"""How far a study has come, folded from its events: the same at the bench and from the record; pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from rig.events import (
    EdgeMeasured,
    Stamped,
    StudyConcluded,
    StudyOpened,
    TrialBegun,
    TrialSetAside,
    UnitJudged,
    Verdict,
)
from rig.gauge.design import Design, Trial
from rig.gauge.values import Values, values_of

NEEDED = (TrialBegun, EdgeMeasured, UnitJudged)
"""What a course is folded from."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a trial came to: the value, its stated expanded uncertainty, and when."""

    value_mm: float
    expanded_mm: float
    utc: str


class Course:
    """Feed it every event of the study in order; a trial counts once its unit was measured to the end.

    Attributes:
        readings: the trials that are done.
        failed: how often a trial could not be measured, and `why` the last time.

    """

    def __init__(self, design: Design) -> None:
        self.design = design
        self.readings: dict[Trial, Reading] = {}
        self.failed: Counter[Trial] = Counter()
        self.why = ""
        self._trial: Trial | None = None
        self._edge: EdgeMeasured | None = None

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        match stamped.event:
            case TrialBegun(study=study, trial=number) if study == self.design.study:
                self._trial, self._edge = self.design.trials[number - 1], None
            case EdgeMeasured(edge=edge) as measured if edge == self.design.edge:
                self._edge = measured
            case UnitJudged() as judged if self._trial is not None:
                self._judged(self._trial, judged, stamped.utc)
                self._trial = None

    def take_all(self, events: Iterable[Stamped]) -> Course:
        """Take the events of earlier runs in."""
        for stamped in events:
            self.take(stamped)
        return self

    def _judged(self, trial: Trial, judged: UnitJudged, utc: str) -> None:
        if judged.verdict is Verdict.GOOD and self._edge is not None:
            self.readings[trial] = Reading(self._edge.operate_mm, self._edge.operate_u_mm, utc)
        else:
            self.failed[trial] += 1
            self.why = f"trial {trial.number}, unit {trial.unit}: {judged.words}"

    def set_aside(self, told: TrialSetAside) -> None:
        """Leave a value out, if it is the one that counts for its trial."""
        trial = self.design.trials[told.trial - 1]
        reading = self.readings.get(trial)
        if reading is not None and (reading.value_mm, reading.utc) == (told.value_mm, told.measured_utc):
            del self.readings[trial]

    def twin(self) -> Course:
        """One that has come as far, to be fed in another thread."""
        other = Course(self.design)
        other.readings, other.failed, other.why = dict(self.readings), Counter(self.failed), self.why
        return other

    @property
    def left(self) -> tuple[Trial, ...]:
        """The trials that are still to be done, in their order."""
        return tuple(trial for trial in self.design.trials if trial not in self.readings)

    @property
    def values(self) -> Values | None:
        """All values; None while one is missing."""
        return values_of(self.design, {trial: one.value_mm for trial, one in self.readings.items()})


@dataclass(frozen=True)
class Study:
    """A study as the record holds it.

    Attributes:
        opened: when and how it was laid out.
        simulated: whether it was done on the simulated bench.
        concluded: what it was said to come to, of the values that count now; None where nothing was said yet.
        set_aside: the values that do not count, by whom and why.

    """

    opened: Stamped
    course: Course
    simulated: bool
    software: str
    concluded: Stamped | None
    set_aside: tuple[TrialSetAside, ...] = ()

    @property
    def design(self) -> Design:
        """How it was laid out."""
        return self.course.design


def design_in(opened: StudyOpened) -> Design:
    """The design of the record; raises ValueError for one that this program cannot read."""
    try:
        return Design.from_content(opened.design)
    except (KeyError, TypeError, ValueError) as misfit:
        raise ValueError(f"the recorded study {opened.study} cannot be read: {misfit}") from None


def noted_of(events: Iterable[Stamped], study: str) -> tuple[Stamped | None, tuple[TrialSetAside, ...]]:
    """The conclusion of a study that still stands, and its values that were set aside; `events` in order."""
    concluded: Stamped | None = None
    aside: list[TrialSetAside] = []
    for stamped in events:
        match stamped.event:
            case StudyConcluded(study=of) if of == study:
                concluded = stamped
            case TrialSetAside(study=of) as told if of == study:
                concluded, aside = None, [*aside, told]
    return concluded, tuple(aside)
