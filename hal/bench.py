"""The bench, opened: everything that the application may touch, and the one way to close it."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Mapping
from contextlib import AbstractAsyncContextManager, AsyncExitStack, contextmanager, suppress
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from gpiozero.exc import GPIOPinInUse, GPIOZeroError
from gpiozero.pins import Factory

from hal.air import Air
from hal.errors import BenchError, BenchInUse, InstrumentError, TripCause, TripKind, Tripped
from hal.inputs import Input, QuietInput
from hal.instruments.codes import CodeReader, start_code_reader
from hal.instruments.distance import DistanceGauge, start_gauge
from hal.instruments.probe import start_air
from hal.instruments.supply import BenchSupply, start_supply
from hal.instruments.wire import Wire
from hal.interlock import causes
from hal.interlock.interlock import Interlock
from hal.interlock.rules import Condition
from hal.nest import Nest, NestState
from hal.operator import Operator
from hal.supply_watch import watched
from hal.target import Target, open_target
from hal.waits import Waits
from wiring.profile import RigProfile
from wiring.saying import say

FOOT_QUIET_S = 0.03
"""A foot switch bounces less than this (common practice, no source)."""

_SUPPLY_OFF_S = 2.0


@dataclass(frozen=True, slots=True)
class BenchState:
    """What the bench's lines say at one moment, for whoever shows it; reading them switches nothing.

    Attributes:
        at_s: the moment, in loop time.
        target_mm: where the target was last confirmed; None when it is out of the beam, or on its way.

    """

    at_s: float
    condition: Condition
    causes: tuple[TripCause, ...]
    stop_pressed: bool
    coils_supplied: bool | None
    target_mm: float | None
    nests: tuple[NestState, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """One bench, open; made by `open_bench`. `async with bench:` leaves it off and released, whatever happens.

    The supply is on while the bench is open; nothing reaches a unit before the interlock is armed. `gauge` and
    `code_reader` are None where none is fitted.
    """

    profile: RigProfile
    interlock: Interlock
    nests: tuple[Nest, ...]
    target: Target
    supply: BenchSupply
    operator: Operator
    air: Air
    waits: Waits
    gauge: DistanceGauge | None
    code_reader: CodeReader | None
    _closing: AsyncExitStack

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    def state(self) -> BenchState:
        """The bench now; on the loop's thread."""
        interlock = self.interlock
        return BenchState(
            asyncio.get_running_loop().time(),
            interlock.condition,
            interlock.causes,
            interlock.stop_pressed,
            interlock.coils_supplied,
            self.target.position_mm,
            tuple(nest.state() for nest in self.nests),
        )

    def watched(self) -> AbstractAsyncContextManager[None]:
        """Look after the supply while the block runs: over-current, or a supply that falls silent, is a trip."""
        return watched(self.supply, self.profile.supply.current_limit_a, self.interlock)

    async def close(self) -> None:
        """Switch every output off, then the supply, then give every line and port back; safe to call twice."""
        await self._closing.aclose()


async def open_bench(
    profile: RigProfile, pin_factory: Factory, wires: Mapping[str, Wire], *, wake_early_s: float = 0.0
) -> Bench:
    """Open the bench that `profile` describes, every output off, and switch its supply on.

    The bench owns `pin_factory` and `wires` from here on. `wake_early_s` is how late the loop may wake without
    making a contact longer (`Waits.call_exactly`). Raises `BenchInUse` when a line belongs to another program
    and `InstrumentError` when the supply does not answer; everything is given back then.
    """
    loop = asyncio.get_running_loop()
    waits = Waits(loop, wake_early_s)
    operator = Operator()
    async with AsyncExitStack() as closing:
        closing.callback(pin_factory.close)
        for wire in wires.values():
            closing.callback(wire.close)
        with _lines_told_in_words():
            interlock = Interlock(profile, pin_factory, loop, waits)
            closing.callback(interlock.release)
            nests = tuple(Nest(nest, interlock, waits, pin_factory, loop) for nest in profile.nest)
            foot = _watch_foot_switch(profile, pin_factory, interlock, waits, operator)
        for close in (*(nest.close for nest in nests), *(() if foot is None else (foot.close,))):
            closing.callback(close)
        _trip_on_lost_wires(profile, wires, interlock)
        _wake_operator_on_trip(interlock, operator)
        supply = await start_supply(profile.supply, wires)
        closing.push_async_callback(_switch_off, supply)
        gauge = await start_gauge(profile.target, wires)
        air = await start_air(profile.air, wires)
        codes = start_code_reader(profile.code_reader, wires)
        target = await open_target(
            profile.target,
            operator=operator,
            interlock=interlock,
            waits=waits,
            pin_factory=pin_factory,
            wires=wires,
        )
        closing.callback(target.close)
        closing.callback(interlock.rest)
        _cut_supply_on_trip(interlock, supply)
        await supply.on()
        kept_open = closing.pop_all()
    return Bench(profile, interlock, nests, target, supply, operator, air, waits, gauge, codes, kept_open)


@contextmanager
def _lines_told_in_words() -> Iterator[None]:
    try:
        yield
    except GPIOPinInUse as fault:
        raise BenchInUse(say("a GPIO line is in use: {fault}", fault=fault)) from fault
    except (GPIOZeroError, OSError) as fault:
        raise BenchError(
            say("a GPIO line cannot be used: {fault}", fault=fault),
            check="Compare the rig profile with the board's header.",
        ) from fault


def _watch_foot_switch(
    profile: RigProfile, pin_factory: Factory, interlock: Interlock, waits: Waits, operator: Operator
) -> Input | None:
    if profile.foot_switch is None:
        return None
    loop = asyncio.get_running_loop()
    foot = Input(profile.foot_switch, pin_factory, loop, on_error=interlock.fault)

    def pressed(active: bool, _at_s: float) -> None:
        if active:
            operator.done()

    QuietInput(foot, loop, waits, quiet_s=FOOT_QUIET_S).on_change.append(pressed)
    return foot


def _trip_on_lost_wires(profile: RigProfile, wires: Mapping[str, Wire], interlock: Interlock) -> None:
    def lost(error: InstrumentError) -> None:
        interlock.trip(causes.instrument_lost(error))

    for port in profile.ports():
        if port.must_stay:
            wires[port.name].on_lost.append(lost)


# What the relays alone cannot take the unit's supply away from.
_RELAYS_DO_NOT_CUT = frozenset({TripKind.SUPPLY_WELDED, TripKind.OUTPUT_FAILED})


def _cut_supply_on_trip(interlock: Interlock, supply: BenchSupply) -> None:
    def cut(cause: TripCause) -> None:
        if cause.kind in _RELAYS_DO_NOT_CUT:
            supply.off_now()

    interlock.on_cause.append(cut)


def _wake_operator_on_trip(interlock: Interlock, operator: Operator) -> None:
    def wake(cause: TripCause) -> None:
        operator.give_up(Tripped(cause))

    interlock.on_trip.append(wake)


async def _switch_off(supply: BenchSupply) -> None:
    with suppress(BenchError, TimeoutError):
        async with asyncio.timeout(_SUPPLY_OFF_S):
            await supply.off()
