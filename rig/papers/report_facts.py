"""What a report says of an order: what became of every unit, where they switch, what was wrong, how long it took.

Taken from the record alone. The last attempt at a unit is the one that counts; the earlier ones are told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from rig.events import OrderInputs, Purpose, Verdict
from rig.papers.control_part import ControlFacts, control_of
from rig.papers.counts import Fault, Histogram, Sides, Times, faults, histograms, sides, times
from rig.papers.setting_facts import SettingFacts, setting_facts
from rig.papers.tries import Try, try_of
from rig.recount.attempt import Attempt, NotRebuilt


class NoReport(ValueError):
    """Of this order nothing can be reported; its text says why."""


_NO_ORDERS = {
    Purpose.RECEIVE: "is a lot; allowed: teachrig lot papers {number}",
    Purpose.STUDY: "is a gauge study; allowed: teachrig study gauge show {number} --out DIR",
    Purpose.SURVEY: "is a survey, which judges no unit; allowed: an order",
}


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """A unit by its last attempt.

    `number` is its place in the order of work; `tries` counts its attempts; `first` is its first verdict.
    """

    number: int
    last: Try
    tries: int
    first: Verdict | None


@dataclass(frozen=True, slots=True)
class RunFacts:
    """One run of the program at the order."""

    run: str
    began_utc: str
    purpose: Purpose
    rig: str
    software: str
    simulated: bool
    tries: int


@dataclass(frozen=True, slots=True)
class ByHand:
    """What persons have decided of a unit that the bench is undecided about."""

    serial: str
    verdict: Verdict
    words: str


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """All that stands in the report on an order.

    Attributes:
        setting: by the data of the last run; None where it cannot be rebuilt from the record.
        tries: every attempt, in order of work.
        not_begun: serials of the order that were never put into a nest.
        other_data: serials whose last attempt was made by other order data than the last run.
        by_hand: the decisions that stand beside the bench's verdict on the last attempt at a unit.

    """

    order: str
    customer: str
    quantity: int
    simulated: bool
    setting: SettingFacts | None
    not_rebuilt: str
    units: tuple[UnitFacts, ...]
    tries: tuple[Try, ...]
    not_begun: tuple[str, ...]
    other_data: tuple[str, ...]
    by_hand: tuple[ByHand, ...]
    histograms: tuple[Histogram, ...]
    sides: tuple[Sides, ...]
    faults: tuple[Fault, ...]
    times: Times | None
    runs: tuple[RunFacts, ...]
    control: ControlFacts

    def count(self, verdict: Verdict | None) -> int:
        """How many units have this verdict; None: none."""
        return sum(unit.last.verdict is verdict for unit in self.units)

    def count_by_hand(self, verdict: Verdict) -> int:
        """How many units that the bench is undecided about have this verdict by hand."""
        return sum(one.verdict is verdict for one in self.by_hand)

    @property
    def judged(self) -> int:
        """How many units have a verdict."""
        return len(self.units) - self.count(None)

    @property
    def good_share(self) -> float | None:
        """Good units over units with a verdict."""
        return self.count(Verdict.GOOD) / self.judged if self.judged else None

    @property
    def first_pass_share(self) -> float | None:
        """Units that were good at their first verdict, over units with a verdict."""
        first = sum(unit.first is Verdict.GOOD for unit in self.units if unit.last.verdict is not None)
        return first / self.judged if self.judged else None


def report_of(
    number: str, attempts: Iterable[Attempt], by_hand: Callable[[str], ByHand | None] = lambda _: None
) -> ReportFacts:
    """What a report says of an order, from its attempts in order of work; raises NoReport.

    `by_hand` says what was decided by hand of the last attempt at a unit.
    """
    known = tuple(attempts)
    if not known:
        raise NoReport(f"the record holds no unit of order {number}")
    last = known[-1]
    if last.started is not None and last.started.purpose in _NO_ORDERS:
        raise NoReport(f"{number} {_NO_ORDERS[last.started.purpose].format(number=number)}")
    setting, serials, gap = _of_the_order(last)
    tries = tuple(map(try_of, known))
    units = _units(tries)
    started = last.started
    lasts = [unit.last for unit in units]
    tolerance_mm = None if setting is None else setting.tolerance_mm
    return ReportFacts(
        order=number,
        customer="" if started is None else started.customer,
        quantity=len(units) if started is None else started.quantity,
        simulated=any(one.started is not None and one.started.simulated for one in known),
        setting=setting,
        not_rebuilt=gap,
        units=units,
        tries=tries,
        not_begun=tuple(_missing(serials, units)),
        other_data=tuple(_by_other_data(known, last.inputs)),
        by_hand=tuple(_decided(lasts, by_hand)),
        histograms=() if tolerance_mm is None else tuple(histograms(lasts, tolerance_mm)),
        sides=tuple(sides(lasts)),
        faults=tuple(faults(lasts)),
        times=times(tries),
        runs=tuple(_runs(known)),
        control=control_of(lasts, tolerance_mm),
    )


def _of_the_order(last: Attempt) -> tuple[SettingFacts | None, tuple[str, ...], str]:
    """Setting and serials by the data of the last run, or why they are not known."""
    try:
        planned = last.planned
    except NotRebuilt as gap:
        return None, (), str(gap)
    return setting_facts(planned), planned.case.order.unit_serials(), ""


def _units(tries: Sequence[Try]) -> tuple[UnitFacts, ...]:
    by_serial: dict[str, list[Try]] = {}
    for one in tries:
        by_serial.setdefault(one.serial, []).append(one)
    return tuple(
        UnitFacts(
            number=number,
            last=own[-1],
            tries=len(own),
            first=next((one.verdict for one in own if one.verdict is not None), None),
        )
        for number, own in enumerate(by_serial.values(), start=1)
    )


def _missing(serials: Sequence[str], units: Sequence[UnitFacts]) -> Iterator[str]:
    begun = {unit.last.serial for unit in units}
    return (serial for serial in serials if serial not in begun)


def _decided(lasts: Sequence[Try], by_hand: Callable[[str], ByHand | None]) -> Iterator[ByHand]:
    for one in lasts:
        decided = by_hand(one.serial) if one.verdict is Verdict.UNDECIDED else None
        if decided is not None:
            yield decided


def _by_other_data(attempts: Sequence[Attempt], inputs: OrderInputs | None) -> Iterator[str]:
    """Serials whose last attempt was for another setting, another type or by other checks than the last run."""
    now = _asked(inputs)
    last_of = {one.begin.serial: one for one in attempts}
    same: dict[str, bool] = {}
    for serial, attempt in last_of.items():
        if attempt.run not in same:
            same[attempt.run] = _asked(attempt.inputs) == now
        if not same[attempt.run]:
            yield serial


def _asked(inputs: OrderInputs | None) -> object:
    if inputs is None:
        return None
    return [inputs.order.get(key) for key in ("setting", "need", "checks")], inputs.sensor_type


def _runs(attempts: Sequence[Attempt]) -> Iterator[RunFacts]:
    tries = Counter(one.run for one in attempts)
    firsts = {one.run: one for one in reversed(attempts)}
    for run, first in reversed(firsts.items()):
        started = first.started
        if started is not None:
            yield RunFacts(
                run,
                first.begin.utc,
                started.purpose,
                started.rig,
                started.software,
                started.simulated,
                tries[run],
            )
