"""What the sequencer does with its hands: supply, target, contact, reading, each with its event."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from math import inf

from hal.bench import Bench
from hal.errors import NoAnswer
from hal.led import LedPattern
from hal.nest import Nest, OutputLevel
from hal.operator import Request, RequestKind
from rig.chronicle import Chronicle
from rig.events import (
    AirMeasured,
    ContactDue,
    Event,
    OutputRead,
    PauseEnded,
    SupplyMeasured,
    SupplySwitched,
    TargetMoved,
)
from rig.planning.plan import Answer, MakeContact, Plan
from rig.sequencer.answers import LIT, confirmed, contact_ended, lit, shows
from rig.sequencer.any_work import CONFIRMATION, WITHOUT_SUPPLY, ContactMade, Moment, led_seen
from rig.sequencer.output_type import is_on, telling_load
from wiring.parts import AirProfile
from wiring.saying import say
from wiring.terms import LedKind, Rail

# A wire that no unit drives follows its load at once; the inputs' own filters are quicker than this.
_WIRE_SETTLES_S = 0.05
# From rail to rail: one input lets go, the other comes on. A target that has come makes one change, no more.
_EDGES_OF_ONE_CHANGE = 2
# An output that does not come at once is looked at again after this time.
_LOOK_AGAIN_S = 0.02


@dataclass
class Work:
    """One unit in one nest: `AnyWork` at the bench.

    Attributes:
        led_proven: the LED has given an expected answer, so that its silence would mean something.
        beam_is_clear: the target is known to be out of the beam; nobody has to be asked for it again.
        powered_at_s: engine time from which the unit has had its supply.
        led_sign: what the LED flashed or blinked last while an answer was waited for, if it did.
        contact_at_s: engine time at which its last contact closed; None before the first since power-up.
        opened_at_s: engine time at which its last contact opened.

    """

    bench: Bench
    nest: Nest
    plan: Plan
    chronicle: Chronicle
    led_proven: bool = False
    led_sign: LedPattern | None = None
    beam_is_clear: bool = False
    powered_at_s: float = inf
    contact_at_s: float | None = None
    opened_at_s: float = inf

    @property
    def supply_v(self) -> float:
        """Voltage that the bench supply is set to."""
        return self.bench.profile.supply.voltage_v

    @property
    def load_a(self) -> float:
        """Current of an output that is on into its load."""
        return self.supply_v / self.nest.profile.load_resistor_ohm

    @property
    def planned_air(self) -> AirProfile:
        """The air at the bench that the plan was made for, and how far it may be off."""
        return self.bench.profile.air

    @property
    def led_fitted(self) -> bool:
        """Whether a pick-up sees the LED; else the person looks."""
        return self.nest.led is not None

    def by_plan(self, plan: Plan) -> Work:
        """The same unit in the same hands, by another plan; neither goes by what the other knows of the target."""
        self.beam_is_clear = False
        return replace(self, plan=plan)

    def note(self, event: Event) -> None:
        """Record what follows from what was read."""
        self.chronicle.note(event)

    async def durable(self) -> None:
        """Return once the record so far is on the disk."""
        await self.chronicle.durable()

    async def rest(self, seconds: float) -> None:
        """Leave everything as it is for a time."""
        await self.bench.waits.sleep(seconds)

    async def power_on(self) -> float:
        """Give the unit its supply and wait until it is available; returns the loop time at which it got it."""
        await self.chronicle.durable()
        self.powered_at_s, self.contact_at_s = asyncio.get_running_loop().time(), None
        supplied_at_s = await self.nest.power_on()
        self.chronicle.note(SupplySwitched(on=True))
        await self.bench.waits.sleep(self.plan.inspection.availability_s)
        return supplied_at_s

    async def power_off(self) -> None:
        """Take the supply away."""
        await self.nest.power_off()
        self.chronicle.note(SupplySwitched(on=False))

    async def measure_supply(self) -> SupplyMeasured:
        """Current and voltage of the unit, as far as the bench can tell."""
        supply, inspection = self.bench.supply, self.plan.inspection
        current_a = await supply.current_a()
        most_a = inspection.current_max_a + self.load_a
        if current_a is not None and not inspection.current_min_a <= current_a <= most_a:
            # SCPI has no check sum: a unit is blamed only for what is read again.
            current_a = await supply.current_a()
        measured = SupplyMeasured(current_a, await supply.voltage_v())
        self.chronicle.note(measured)
        return measured

    async def measure_air(self) -> AirMeasured | None:
        """The air at the bench now; None where no probe is fitted."""
        if self.planned_air.probe is None:
            return None
        air = await self.bench.air.read()
        measured = AirMeasured(air.temperature_c, air.humidity_percent, air.pressure_kpa, air.source)
        self.chronicle.note(measured)
        return measured

    async def clear_beam(self) -> None:
        """Take the target out of the beam."""
        if not self.beam_is_clear:
            await self.bench.target.clear()
            self.beam_is_clear = True
            self.chronicle.note(TargetMoved("clear", None))

    async def cover_face(self) -> None:
        """Bring the target to the face."""
        self.beam_is_clear = False
        await self.bench.target.cover()
        self.chronicle.note(TargetMoved("cover", 0.0))

    async def place(self, where: str, position_mm: float) -> None:
        """Put the target at a position."""
        self.beam_is_clear = False
        await self.bench.target.move_to(position_mm)
        self.chronicle.note(TargetMoved(where, position_mm))

    async def read(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """Read the output of a unit that has supply, and whether it kept still while it was watched."""
        return await self._read(where, position_mm, load, self.plan.settle_s, self.plan.watch_s)

    async def glance(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """The same as soon as the output has had time to answer: it is not watched."""
        return await self._read(where, position_mm, load, self.plan.settle_s, 0.0)

    async def read_both_ways(self, where: str, position_mm: float | None) -> dict[Rail, OutputRead]:
        """Read the output under both load directions."""
        return {load: await self.read(where, position_mm, load) for load in Rail}

    async def read_unfed(self) -> dict[Rail, OutputRead]:
        """Read the output wire under both load directions while the unit has no supply."""
        settle_s = _WIRE_SETTLES_S
        return {load: await self._read(WITHOUT_SUPPLY, None, load, settle_s, settle_s) for load in Rail}

    async def _read(
        self, where: str, position_mm: float | None, load: Rail, settle_s: float, watch_s: float
    ) -> OutputRead:
        await self.nest.pull_output(load)
        changes_before = self.nest.output_changes
        await self.bench.waits.sleep(settle_s)
        level, changes = self.nest.output(), self.nest.output_changes
        await self.bench.waits.sleep(watch_s)
        once = changes - changes_before <= _EDGES_OF_ONE_CHANGE
        steady = once and self.nest.output_changes == changes and self.nest.output() is level
        reading = OutputRead(where, position_mm, load, str(level), steady)
        self.chronicle.note(reading)
        return reading

    async def await_output(self, on: bool, within_s: float) -> OutputRead:
        """Wait until the output is on or off; returns the last reading."""
        loop = asyncio.get_running_loop()
        output_type = self.plan.inspection.output_type
        load = telling_load(output_type)
        await self.nest.pull_output(load)
        end_s = loop.time() + within_s
        while is_on(output_type, level := await self.nest.settled_output(within_s)) is not on:
            if loop.time() >= end_s:
                break
            await self.rest(_LOOK_AGAIN_S)
        reading = OutputRead(CONFIRMATION, None, load, str(level), level is not OutputLevel.UNSTEADY)
        self.note(reading)
        return reading

    def contact_due(self) -> ContactDue:
        """How long the unit has waited for the contact that comes now.

        It is noted with the contact, or by whoever calls it off: noted before, it would have to be waited for.
        """
        now_s = asyncio.get_running_loop().time()
        since_contact_s = None if self.contact_at_s is None else round(now_s - self.contact_at_s, 6)
        return ContactDue(round(now_s - self.powered_at_s, 6), since_contact_s)

    async def pause(self, gap_s: float) -> None:
        """Wait until the teach wire has been open for a time."""
        await self.rest(max(0.0, self.opened_at_s + gap_s - asyncio.get_running_loop().time()))

    async def contact(self, step: MakeContact, due: ContactDue, *, after_pause: bool) -> ContactMade:
        """Make one contact and open it at the answer or after its time."""
        await self.durable()
        closed_at_s = await self.nest.hold_teach(
            step.rail, longest_s=step.longest_s, release_after_s=step.for_s
        )
        self.contact_at_s = closed_at_s
        self.note(due)
        seen = None
        if step.until is not None:
            seen = await self._await_end_of_contact(step, step.until, closed_at_s)
            self.nest.release_teach()
        record = await self.nest.teach_released()
        pause_s = round(record.closed_at_s - self.opened_at_s, 6) if after_pause else None
        self.opened_at_s = record.opened_at_s
        if pause_s is not None:
            self.note(PauseEnded(pause_s))
        self.led_proven = self.led_proven or confirmed(step, seen)
        made = ContactMade(round(record.length_s, 6), pause_s, seen)
        self.note(contact_ended(step, made))
        return made

    async def _await_end_of_contact(
        self, step: MakeContact, until: Answer, closed_at_s: float
    ) -> LedPattern | None:
        loop = asyncio.get_running_loop()
        last_s = closed_at_s + step.longest_s - self.nest.release_margin_s
        seen = await self.await_led(until, last_s - loop.time())
        if seen is not None and shows(seen, until):
            await self.bench.waits.sleep(max(0.0, closed_at_s + step.shortest_s - loop.time()))
        return seen

    async def await_led(self, answer: Answer, within_s: float) -> LedPattern | None:
        """Wait for the LED to show `answer` or a refusal; None when neither came in time.

        Where no pick-up is fitted the person looks, and says 'done' at the answer.
        """
        self.led_sign = None
        seen = await self._look_out_for(answer, within_s)
        self.note(led_seen(Moment.ANSWER, seen))
        if seen is None:
            self.note(led_seen(Moment.ON_THE_WAY, self.led_sign))
        return seen

    async def _look_out_for(self, answer: Answer, within_s: float) -> LedPattern | None:
        if self.nest.led is None:
            return await self._ask_for_led(answer, within_s)

        def is_answer(pattern: LedPattern) -> bool:
            if pattern.kind in (LedKind.FLASHING, LedKind.BLINKS):
                self.led_sign = pattern
            return shows(pattern, answer) or shows(pattern, self.plan.refused)

        return await self.nest.led.wait_for(is_answer, within_s)

    async def _ask_for_led(self, answer: Answer, within_s: float) -> LedPattern | None:
        text = say(
            "Say done as soon as the LED in nest {name} shows {words}.",
            name=self.nest.name,
            words=answer.words,
        )
        try:
            await self.bench.operator.ask(Request(RequestKind.CONFIRM, text), timeout_s=within_s)
        except NoAnswer:
            return None
        return LedPattern(answer.kind, answer.rate_hz, answer.count)

    def led_now(self, moment: Moment = Moment.NOW) -> LedPattern:
        """What the LED does now; unclear where no pick-up is fitted."""
        pattern = LedPattern(LedKind.UNCLEAR) if self.nest.led is None else self.nest.led.pattern
        self.note(led_seen(moment, pattern))
        return pattern

    async def led_at_rest(self, within_s: float) -> bool | None:
        """Whether the LED stays lit or dark; None when it does neither, or no pick-up is fitted."""
        pattern = None
        if self.nest.led is not None:
            pattern = await self.nest.led.wait_for(lambda pattern: pattern.kind in LIT, within_s)
        self.note(led_seen(Moment.AT_REST, pattern))
        return lit(pattern)
