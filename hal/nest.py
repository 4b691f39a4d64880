"""One nest, in the bench's words: supply, teach wire, load and output of the unit that sits in it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from enum import StrEnum

from gpiozero.pins import Factory

from hal.errors import Refused
from hal.inputs import Input, QuietInput, RailPair
from hal.interlock import rules
from hal.interlock.interlock import Interlock
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Job, WireState
from hal.led import LedPattern, LedPickup
from hal.timing import GRAIN_S
from hal.waits import Waits
from wiring.lines import InputLine
from wiring.nest import NestProfile, Topology
from wiring.terms import Rail

OUTPUT_QUIET_S = 0.005
"""An output level counts once it has stood for this long (our choice: longer than relay and input bounce)."""


_RELEASE_SPARE_S = 0.02
"""What a loop may be late in releasing a contact before the interlock does."""


class OutputLevel(StrEnum):
    """Where the unit's output line is, as the two isolated inputs read it."""

    AT_PLUS = "at L+"
    AT_MINUS = "at L-"
    BETWEEN = "between the rails"
    BOTH = "at both rails"
    UNSTEADY = "unsteady"

    @classmethod
    def read(cls, at_plus: bool, at_minus: bool) -> OutputLevel:
        """Join the two inputs to one level."""
        return _OUTPUT_LEVELS[at_plus][at_minus]


_OUTPUT_LEVELS = (
    (OutputLevel.BETWEEN, OutputLevel.AT_MINUS),
    (OutputLevel.AT_PLUS, OutputLevel.BOTH),
)


@dataclass(frozen=True, slots=True)
class ContactRecord:
    """One contact as the read-back saw it: from the first make to the last break, in loop time."""

    rail: Rail
    closed_at_s: float
    opened_at_s: float

    @property
    def length_s(self) -> float:
        """How long the teach wire was at the rail, in seconds."""
        return self.opened_at_s - self.closed_at_s


@dataclass(frozen=True, slots=True)
class NestState:
    """What the lines of a nest say at one moment.

    Attributes:
        supplied: whether the unit has supply: as sensed, else as commanded.
        led: None where no pick-up is fitted.
        contact_s: for how long the teach contact has been closed, as read back; None while it is open.

    """

    name: str
    supplied: bool
    teach_wire: WireState
    output: OutputLevel
    led: LedPattern | None
    contact_s: float | None


class _Contact:
    """A contact under way."""

    def __init__(
        self, output: OutputId, rail: Rail, release_after_s: float | None, loop: asyncio.AbstractEventLoop
    ) -> None:
        self.output = output
        self.rail = rail
        self.release_after_s = release_after_s
        self.closed: asyncio.Future[float] = loop.create_future()
        self.opened: asyncio.Future[float] = loop.create_future()
        self.last_break_s = 0.0
        self.release_timer: asyncio.TimerHandle | None = None


class Nest:
    """One nest of the bench; every wait here raises `Tripped` once the interlock has tripped.

    `led` is None where no pick-up is fitted. `output_changes` counts the edges of the output channel.
    """

    def __init__(
        self,
        profile: NestProfile,
        interlock: Interlock,
        waits: Waits,
        pin_factory: Factory,
        loop: asyncio.AbstractEventLoop,
    ) -> None:
        def opened(line: InputLine) -> Input:
            return Input(line, pin_factory, loop, on_error=interlock.fault)

        self.name = profile.name
        self.profile = profile
        self.output_line = RailPair(opened(profile.output_at_plus), opened(profile.output_at_minus))
        self.output_changes = 0
        self.led = None if profile.led is None else LedPickup(opened(profile.led), loop, waits)
        self._interlock = interlock
        self._guard = interlock.guards[profile.name]
        self._waits = waits
        self._loop = loop
        self._contact: _Contact | None = None
        sense = self._guard.supply_sense
        self._sense = (
            None if sense is None else QuietInput(sense, loop, waits, quiet_s=profile.supply.bounce_s)
        )
        self._guard.teach_wire.on_edge.append(self._wire_edge)
        self._guard.on_checked.append(self._wire_checked)
        self.output_line.on_edge.append(self._output_edge)

    def state(self) -> NestState:
        """The nest now; on the loop's thread."""
        sense = self._guard.supply_sense
        return NestState(
            self.name,
            self._guard.supply.wanted if sense is None else sense.active,
            self._guard.wire,
            self.output(),
            None if self.led is None else self.led.pattern,
            self._closed_for_s(),
        )

    def _closed_for_s(self) -> float | None:
        contact = self._contact
        if contact is None or contact.opened.done() or not contact.closed.done():
            return None
        return self._loop.time() - contact.closed.result()

    # -- supply and output -----------------------------------------------------------------------------------

    async def power_on(self) -> float:
        """Give the unit its supply; returns, when it has it, since when (`NestProfile.supply_doubt_s`)."""
        return await self._switch_supply(True)

    async def power_off(self) -> None:
        """Take the unit's supply away; returns when it is gone."""
        await self._switch_supply(False)

    async def _switch_supply(self, on: bool) -> float:
        settle_s, began_s = self.profile.supply.settle_s, self._loop.time()
        self._interlock.command(OutputId(Job.SUPPLY, self.name), on)
        switched_at_s = None if self._sense is None else await self._sense.wait_for(on)
        if switched_at_s is not None:
            return switched_at_s
        await self._waits.sleep(settle_s)
        return began_s + settle_s / 2

    async def pull_output(self, rail: Rail) -> None:
        """Pull the unit's output to `rail` through the load resistor; returns when the relay is quiet."""
        if self._guard.load_on is not (rail is Rail.PLUS):
            self._interlock.command(OutputId(Job.LOAD, self.name), rail is Rail.PLUS)
        await self._waits.sleep_until(self._guard.load_quiet_s)

    def output(self) -> OutputLevel:
        """The output line as read now."""
        return OutputLevel.read(*self.output_line.levels)

    async def settled_output(self, within_s: float) -> OutputLevel:
        """The output line once it has stood still; `UNSTEADY` if it does not within `within_s` seconds."""
        give_up_s = self._loop.time() + within_s
        while (quiet_s := self.output_line.last_edge_s + OUTPUT_QUIET_S) > self._loop.time() + GRAIN_S:
            if quiet_s > give_up_s:
                await self._waits.sleep_until(give_up_s)
                return OutputLevel.UNSTEADY
            await self._waits.sleep_until(quiet_s)
        return self.output()

    def _output_edge(self, _at_plus: bool, _at_minus: bool, _at_s: float) -> None:
        self.output_changes += 1

    # -- teach wire ------------------------------------------------------------------------------------------

    @property
    def release_margin_s(self) -> float:
        """How long before the longest time a contact must be released, so that the interlock need not trip."""
        slowest_s = max(relay.operate_s + relay.released_s for relay in self.profile.teach_relays)
        return slowest_s + _RELEASE_SPARE_S

    def teach_wire(self) -> WireState:
        """The teach wire as read back now."""
        return self._guard.wire

    async def hold_teach(
        self, rail: Rail, *, longest_s: float, release_after_s: float | None = None
    ) -> float:
        """Put the teach wire on `rail`; returns the loop time of closing, as read back.

        The interlock opens the contact, and trips, after `longest_s` seconds. With `release_after_s` it is
        released that long after closing, by the loop's own timer. Raises `Tripped`, and `Refused` (with a
        trip) while the contact before is still closed.
        """
        if self._guard.path.closed_contact is not None:
            error = Refused(f"nest {self.name}: the contact before this one is still closed")
            self._interlock.fault(error)
            raise error
        job = await self._way_to(rail)
        await self._waits.sleep_until(rules.ready_s(self._guard.path, job))
        contact = _Contact(OutputId(job, self.name), rail, release_after_s, self._loop)
        self._contact = contact
        try:
            self._interlock.command(contact.output, True, longest_s=longest_s)
            return await self._read_back(contact.closed)
        except BaseException:
            self.release_teach()
            raise

    def release_teach(self) -> None:
        """Open the teach contact now; does nothing when none is closed."""
        contact = self._contact
        if contact is None:
            return
        if contact.release_timer is not None:
            contact.release_timer.cancel()
        self._interlock.command(contact.output, False)

    async def teach_released(self) -> ContactRecord:
        """Wait until the contact of the last `hold_teach` is open, and tell how long it was closed."""
        contact = self._contact
        if contact is None:
            raise ValueError("no contact was made")
        await self._read_back(contact.opened)
        bounce_s = self._guard.path.relay(contact.output.job).times.bounce_s
        while (quiet_s := contact.last_break_s + bounce_s) > self._loop.time() + GRAIN_S:
            await self._waits.sleep_until(quiet_s)
        self._contact = None
        return ContactRecord(contact.rail, await self._read_back(contact.closed), contact.last_break_s)

    async def _way_to(self, rail: Rail) -> Job:
        """Move the rail selector if there is one; returns the contact that leads to `rail`."""
        if self.profile.topology is Topology.TWO_RELAY:
            return Job.PLUS_CONTACT if rail is Rail.PLUS else Job.MINUS_CONTACT
        if self._guard.path.relay(Job.RAIL_SELECTOR).on is not (rail is Rail.PLUS):
            await self._waits.sleep_until(rules.earliest_s(self._guard.path, Job.RAIL_SELECTOR))
            self._interlock.command(OutputId(Job.RAIL_SELECTOR, self.name), rail is Rail.PLUS)
        return Job.TEACH_CONTACT

    async def _read_back(self, future: asyncio.Future[float]) -> float:
        at_s = await self._waits.until(future)
        assert at_s is not None, "without a time-out there is an answer or an error"
        return at_s

    def _wire_edge(self, at_plus: bool, at_minus: bool, at_s: float) -> None:
        if self._contact is not None:
            self._note_wire(self._contact, WireState.read(at_plus, at_minus), at_s)

    def _wire_checked(self, seen: WireState, at_s: float) -> None:
        # Edges that merged were not told; that the wire has followed is known all the same, if later.
        contact = self._contact
        if (
            contact is not None
            and not (contact.opened if seen is WireState.FLOATING else contact.closed).done()
        ):
            self._note_wire(contact, seen, at_s)

    def _note_wire(self, contact: _Contact, seen: WireState, at_s: float) -> None:
        if seen is WireState.at(contact.rail):
            if not contact.closed.done():
                contact.closed.set_result(at_s)
                self._time_release(contact, at_s)
            return
        contact.last_break_s = at_s
        if self._guard.path.closed_contact is None and not contact.opened.done():
            contact.opened.set_result(at_s)
            if not contact.closed.done():
                contact.closed.set_result(at_s)

    def _time_release(self, contact: _Contact, closed_at_s: float) -> None:
        if contact.release_after_s is not None:
            due_s = closed_at_s + contact.release_after_s
            contact.release_timer = self._waits.call_exactly(due_s, self.release_teach)

    def close(self) -> None:
        """Give the nest's own lines back."""
        self.output_line.close()
        if self.led is not None:
            self.led.close()
