"""How an order stands: what is known of each of its units, from the record and from what happens now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from rig.events import Stamped, UnitJudged, UnitRemoved, UnitStarted, Verdict
from rig.sequencer.findings import Reason

_INTERRUPTED = frozenset({Reason.INTERRUPTED, Reason.BENCH_TRIPPED})
# The pace is that of the last units: the middle one, so that a pause for lunch does not count.
_PACE_UNITS = 20


@dataclass(slots=True)
class UnitStanding:
    """What is known of one unit: all that an order holds in memory of each, so no more than is asked for again.

    Attributes:
        words: why it is not good; of a good one nobody asks, and the record has it.
        utc: of its verdict, or of its start before that.
        in_nest: from its start until it is taken out or the order begins anew.

    """

    verdict: Verdict | None = None
    reason: str = ""
    words: str = ""
    utc: str = ""
    in_nest: bool = False

    @property
    def interrupted(self) -> bool:
        """Whether its last attempt was broken off: it has to be set again from the start."""
        return self.reason in _INTERRUPTED

    @property
    def open(self) -> bool:
        """Whether it is still to be done."""
        return self.verdict is None or self.interrupted


class Standing:
    """Folds events into what is known of the units of one order; feed it every event in order."""

    def __init__(self, serials: Sequence[str]) -> None:
        self.units = {serial: UnitStanding() for serial in serials}
        self._took_s: list[float] = []
        self._open: tuple[str, ...] | None = None  # a long order is not gone through for every picture
        self._last_s: float | None = None

    def take(self, stamped: Stamped) -> None:
        """Take one event in; events of other units are none of ours."""
        unit = self.units.get(stamped.serial)
        if unit is None:
            return
        match stamped.event:
            case UnitStarted():
                self._open = None
                self.units[stamped.serial] = UnitStanding(in_nest=True, utc=stamped.utc)
                self._last_s = stamped.at_s if self._last_s is None else self._last_s
            case UnitJudged() as judged:
                unit.verdict, unit.reason, unit.utc = judged.verdict, judged.reason, stamped.utc
                unit.words = "" if judged.verdict is Verdict.GOOD else judged.words
                self._open = None
                self._note_pace(unit, stamped.at_s)
            case UnitRemoved():
                unit.in_nest = False

    def take_all(self, events: Iterable[Stamped]) -> Standing:
        """Take events of earlier runs in: they say nothing of today's pace."""
        for stamped in events:
            self.take(stamped)
        self._took_s, self._last_s = [], None
        return self

    def count(self, verdict: Verdict) -> int:
        """How many units have a verdict that stands."""
        return sum(unit.verdict is verdict and not unit.open for unit in self.units.values())

    @property
    def open_serials(self) -> tuple[str, ...]:
        """The units that are still to be done, in their order."""
        if self._open is None:
            self._open = tuple(serial for serial, unit in self.units.items() if unit.open)
        return self._open

    @property
    def to_put_aside(self) -> tuple[str, ...]:
        """Units that were judged, are not good, and of which nobody has said that they are put aside."""
        return tuple(
            serial
            for serial, unit in self.units.items()
            if unit.in_nest and unit.verdict not in (None, Verdict.GOOD) and not unit.open
        )

    @property
    def seconds_a_unit(self) -> float | None:
        """From verdict to verdict, the middle of the last units; None before the first."""
        return median(self._took_s[-_PACE_UNITS:]) if self._took_s else None

    @property
    def left_s(self) -> float | None:
        """How long the units that are left will take at this pace."""
        pace_s = self.seconds_a_unit
        return None if pace_s is None else pace_s * len(self.open_serials)

    def _note_pace(self, unit: UnitStanding, at_s: float) -> None:
        if unit.interrupted:
            self._last_s = None
            return
        if self._last_s is not None:
            self._took_s = [*self._took_s[-_PACE_UNITS:], at_s - self._last_s]
        self._last_s = at_s
