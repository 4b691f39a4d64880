"""The desk of a study: hands the units over in the order of the trials, each only if it is the one that is wanted."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from hal.errors import TripCause
from hal.target.target import PATIENCE_S
from hal.waits import Waits
from rig.events import PersonSignedIn
from rig.gauge.course import Course
from rig.gauge.design import Design, Factor, Trial
from rig.sequencer.findings import Finding

# A unit that cannot be measured is tried once more; then a person has to look.
_MOST_FAILURES = 2


class Asks(StrEnum):
    """What is waited for before a trial."""

    LEVEL = "level"
    UNIT = "unit"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What has to be scanned or typed now, for which trial, of how many."""

    asks: Asks
    trial: Trial
    of: int
    factor: Factor

    @property
    def name(self) -> str:
        """The name that is wanted."""
        return self.trial.unit if self.asks is Asks.UNIT else self.trial.level

    @property
    def words(self) -> str:
        """What to do."""
        place = f"trial {self.trial.number} of {self.of}"
        if self.asks is Asks.UNIT:
            return f"{place}: {self.trial.level}, scan unit {self.trial.unit}"
        if self.factor is Factor.PERSON:
            return f"{place}: {self.trial.level} measures from here on; scan the badge, or type the name"
        return f"{place}: set the rig to '{self.trial.level}', then type that name"

    def refusal(self, given: str) -> str:
        """Why what was scanned or typed is not taken; empty if it is."""
        if given.strip().casefold() == self.name.casefold():
            return ""
        what = "unit" if self.asks is Asks.UNIT else str(self.factor)
        return f"{given.strip() or 'nothing'} is not the {what} that is wanted now: {self.words}"


class InHand:
    """The trial whose unit was handed over last, and who wants to know before it is put in."""

    def __init__(self) -> None:
        self.trial: Trial | None = None
        self.told: list[Callable[[Trial], object]] = []

    def take(self, trial: Trial) -> None:
        """Begin with a trial."""
        self.trial = trial
        for tell in self.told:
            tell(trial)


class StudyDesk:
    """Leads through the trials that are left.

    Args:
        course: how far the study has come; it has to be fed with every event.
        in_hand: takes every trial whose unit is handed over.
        tell: told what is wanted, on the engine's loop; None where nobody scans: then the units come by themselves.
        signed_in: who works at the bench where the levels are settings of the rig.

    Attributes:
        serials: the units of the trials that are left.
        wanted: what is waited for; None while a unit is in work.

    """

    patience_s: float | None

    def __init__(
        self,
        course: Course,
        in_hand: InHand,
        tell: Callable[[Wanted], object] | None = None,
        signed_in: PersonSignedIn | None = None,
    ) -> None:
        self.serials: Sequence[str] = tuple(dict.fromkeys(trial.unit for trial in course.left))
        self.signed_in = signed_in
        self.patience_s = PATIENCE_S if tell is None else None
        self.leaving = False
        self.wanted: Wanted | None = None
        self._course = course
        self._in_hand = in_hand
        self._tell = tell
        self._level = ""
        self._given: asyncio.Future[bool] | None = None
        self._failed_before = dict(course.failed)

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The unit of the next trial; None when none is left, or one cannot be measured."""
        left = self._course.left
        if self.leaving or not left or self._stuck(left[0]):
            return None
        trial = left[0]
        if not await self._ready(trial, waits):
            return None
        self.signed_in = signed_in_for(self._course.design, trial, self.signed_in)
        self._in_hand.take(trial)
        return trial.unit

    def _stuck(self, trial: Trial) -> bool:
        failed = self._course.failed[trial] - self._failed_before.get(trial, 0)
        return failed >= _MOST_FAILURES

    async def _ready(self, trial: Trial, waits: Waits) -> bool:
        if self._tell is None:
            return True
        asks = (Asks.UNIT,) if trial.level == self._level else (Asks.LEVEL, Asks.UNIT)
        for one in asks:
            self.wanted = Wanted(one, trial, len(self._course.design.trials), self._course.design.factor)
            self._given = asyncio.get_running_loop().create_future()
            self._tell(self.wanted)
            if not await waits.until(self._given):
                return False
        self._level, self.wanted = trial.level, None
        return True

    def give(self, text: str) -> str:
        """What was scanned or typed; tells why it is not taken, on the engine's loop; empty if it is."""
        if self.wanted is None or self._given is None or self._given.done():
            return ""
        refusal = self.wanted.refusal(text)
        if not refusal:
            self._given.set_result(True)
        return refusal

    def leave(self) -> None:
        """Hand no unit over any more."""
        self.leaving = True
        if self._given is not None and not self._given.done():
            self._given.set_result(False)

    async def put_aside(self, _serial: str, _finding: Finding, _waits: Waits, /) -> None:
        """Nothing: a unit that could not be measured is tried again."""

    async def wants_reset(self, _cause: TripCause, _in_work: str | None, /) -> bool:
        """Never: the study goes on from there when it is run again."""
        return False


def signed_in_for(design: Design, trial: Trial, before: PersonSignedIn | None) -> PersonSignedIn | None:
    """Who works on a trial: the person it is for, or whoever had signed in where settings are compared."""
    return PersonSignedIn(trial.level, "gauge study") if design.factor is Factor.PERSON else before
