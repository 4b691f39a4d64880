"""A person hands the units over one by one, puts bad ones aside and resets the bench after a trip."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any

from hal.bench import Bench
from hal.errors import TripCause, TripKind, Tripped
from hal.simulated.bench import SimulatedBench
from hal.simulated.faults import BenchFault, UnitFault
from hal.waits import Waits
from rig.events import (
    Asked,
    BenchReset,
    BenchTripped,
    PersonSignedIn,
    Stamped,
    UnitJudged,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.sequencer.findings import Finding, Reason
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through

POINT = SETTINGS["18 point"]
STOP = TripCause(TripKind.ASKED, "the stop key was pressed", "Look, then reset.")


class Someone:
    """Hands over what is left, again what was interrupted, and resets as often as told."""

    patience_s = None
    signed_in: PersonSignedIn | None = None

    def __init__(self, serials: Sequence[str], resets: int = 3) -> None:
        self.serials = serials
        self.aside: list[tuple[str, Verdict]] = []
        self.tripped: list[tuple[TripKind, str | None]] = []
        self.bench: SimulatedBench | None = None
        self._left = list(serials)
        self._resets = resets

    async def next_serial(self, _: Waits, /) -> str | None:
        return self._left.pop(0) if self._left else None

    async def put_aside(self, serial: str, finding: Finding, _: Waits, /) -> None:
        self.aside.append((serial, finding.verdict))

    async def wants_reset(self, cause: TripCause, in_work: str | None, /) -> bool:
        await asyncio.sleep(1.0)  # nobody is quicker than the relays
        if self.tripped and self.bench is not None:
            self.bench.world.coils.press_stop(False)
        self.tripped.append((cause.kind, in_work))
        if in_work is not None and in_work not in self._left:
            self._left.insert(0, in_work)
        self._resets -= 1
        return self._resets >= 0


def _sees(desk: Someone) -> Any:
    def opened(simulated: SimulatedBench, _: Bench) -> None:
        desk.bench = simulated

    return opened


def serials_of(shift: Shift, kind: type) -> list[str]:
    return [one.serial for one in shift.events if isinstance(one.event, kind)]


def test_a_unit_interrupted_by_a_trip_is_taught_again_from_the_start_after_the_reset() -> None:
    desk = Someone(["QOC-1", "QOC-2"])
    fault = BenchFault(kind="stop-pressed", after_contacts=1)
    shift = work_through(POINT, bench=[fault], units=2, desk=desk, opened=_sees(desk))
    # The first wish to reset comes too early: the button is still pressed.
    assert desk.tripped == [(TripKind.STOP_PRESSED, "QOC-1")] * 2
    assert [*shift.order.verdicts.values()] == [Verdict.GOOD, Verdict.GOOD]
    judged = [(one.serial, one.event.reason) for one in shift.events if isinstance(one.event, UnitJudged)]
    assert judged == [
        ("QOC-1", Reason.BENCH_TRIPPED),
        ("QOC-1", Reason.PROVEN),
        ("QOC-2", Reason.PROVEN),
    ]
    assert serials_of(shift, UnitStarted) == ["QOC-1", "QOC-1", "QOC-2"]
    assert len(shift.noted(BenchTripped)) == len(shift.noted(BenchReset)) == 1
    assert shift.order.trip is None
    assert shift.order.left == 0
    shift.assert_safe()


def test_without_a_wish_to_reset_the_order_ends_with_the_trip() -> None:
    desk = Someone(["QOC-1", "QOC-2"], resets=0)
    fault = BenchFault(kind="stop-pressed", after_contacts=1)
    shift = work_through(POINT, bench=[fault], units=2, desk=desk)
    assert shift.order.trip is not None
    assert shift.order.trip.kind is TripKind.STOP_PRESSED
    assert shift.order.left == 1
    shift.assert_safe()


def test_only_units_that_are_not_good_are_put_aside() -> None:
    desk = Someone(["QOC-1", "QOC-2"])
    assert work_through(POINT, units=2, desk=desk).order.left == 0
    assert desk.aside == []
    desk = Someone(["QOC-1", "QOC-2"])
    work_through(POINT, faults=[UnitFault(kind="refuses-teach")], units=2, desk=desk)
    assert desk.aside == [("QOC-1", Verdict.BAD), ("QOC-2", Verdict.BAD)]


class Pulls(Someone):
    """Trips the bench once while a bad unit is waiting to be put aside."""

    def __init__(self, serials: Sequence[str]) -> None:
        super().__init__(serials)
        self.interlock: Any = None

    async def put_aside(self, serial: str, finding: Finding, waits: Waits, /) -> None:
        if not self.tripped:
            self.interlock.trip(STOP)
            raise Tripped(STOP)
        await super().put_aside(serial, finding, waits)


def test_a_bad_unit_is_put_aside_even_if_a_trip_comes_between() -> None:
    desk = Pulls(["QOC-1", "QOC-2"])

    def opened(_: SimulatedBench, bench: Bench) -> None:
        desk.interlock = bench.interlock

    fault = UnitFault(kind="over-current", current_a=0.2)
    shift = work_through(POINT, faults=[fault], units=2, desk=desk, opened=opened)
    assert desk.tripped == [(TripKind.ASKED, None)]
    assert [serial for serial, _ in desk.aside] == ["QOC-1", "QOC-2"]
    assert serials_of(shift, UnitStarted) == ["QOC-1", "QOC-2"]
    assert serials_of(shift, UnitRemoved) == ["QOC-1", "QOC-2"]


def test_an_interrupted_unit_is_the_same_piece_when_it_is_set_again() -> None:
    """The simulated person leaves it in the nest: its fault is found at the second attempt."""
    from hal.simulated.benchfile import BenchFile, UnitRow

    furnished = BenchFile(
        title="test",
        unit=(UnitRow(faults=(UnitFault(kind="refuses-teach"),)), UnitRow()),
        fault=(BenchFault(kind="stop-pressed", after_contacts=1),),
    )
    desk = Someone(["QOC-1", "QOC-2"])
    shift = work_through(POINT, furnished=furnished, units=2, desk=desk, opened=_sees(desk))
    assert [*shift.order.verdicts.values()] == [Verdict.BAD, Verdict.GOOD]


def test_a_request_waits_as_long_as_the_desk_does() -> None:
    """Someone who hands units over may go for lunch; relays are off meanwhile."""
    seen: list[float] = []

    def look(stamped: Stamped, simulated: SimulatedBench, bench: Bench) -> None:
        if isinstance(stamped.event, UnitStarted):
            simulated.world.person_silent = False
        if isinstance(stamped.event, Asked) and stamped.event.request == "fit-unit":
            simulated.world.person_silent = True
            loop = bench.waits._loop
            loop.call_later(3 * 3600.0, bench.operator.done)
            seen.append(loop.time())
            simulated.next_unit()

    desk = Someone(["QOC-1"])
    shift = work_through(POINT, desk=desk, look=look)
    started = next(one for one in shift.events if isinstance(one.event, UnitStarted))
    assert started.at_s - seen[0] >= 3 * 3600.0


class Relieved(Someone):
    """Another person takes over while the first unit is in work, and nobody signs out."""

    signed_in = PersonSignedIn("Maren", "bench screen")

    async def next_serial(self, waits: Waits, /) -> str | None:
        if len(self._left) < len(self.serials):
            self.signed_in = PersonSignedIn("Tobias", "bench screen")
        return await super().next_serial(waits)


def test_who_has_signed_in_is_noted_once_before_the_unit_from_which_on_it_holds() -> None:
    shift = work_through(POINT, units=3, desk=Relieved(["QOC-1", "QOC-2", "QOC-3"]))
    told = [
        one.event.person if isinstance(one.event, PersonSignedIn) else one.serial
        for one in shift.events
        if isinstance(one.event, PersonSignedIn | UnitStarted)
    ]
    assert told == ["Maren", "QOC-1", "Tobias", "QOC-2", "QOC-3"]
    assert serials_of(shift, PersonSignedIn) == ["", ""]
