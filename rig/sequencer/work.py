"""What the sequencer does with its hands: supply, target, contact, reading, each with its event."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from hal.bench import Bench
from hal.errors import NoAnswer
from hal.led import LedPattern
from hal.nest import ContactRecord, Nest, OutputLevel
from hal.operator import Request, RequestKind
from rig.chronicle import Chronicle
from rig.events import ContactEnded, OutputRead, SupplyMeasured, SupplySwitched, TargetMoved
from rig.planning.plan import Answer, MakeContact, Plan
from rig.sequencer.output_type import Drive, drive
from wiring.terms import LedKind, Rail

# Flashing rates closer than this ratio are one pattern: units and pick-ups are not clocks. Its square is what
# sensor types must keep their signs apart by, so a rate between two signs is never taken for both.
_SAME_RATE = 1.18
# A wire that no unit drives follows its load at once; the inputs' own filters are quicker than this.
_WIRE_SETTLES_S = 0.05
# From rail to rail: one input lets go, the other comes on. A target that has come makes one change, no more.
_EDGES_OF_ONE_CHANGE = 2


@dataclass
class Work:
    """One unit in one nest.

    Attributes:
        led_proven: the LED has given an expected answer, so that its silence would mean something.
        beam_is_clear: the target is known to be out of the beam; nobody has to be asked for it again.
        powered_at_s: engine time from which the unit has had its supply.
        led_sign: what the LED flashed or blinked last while an answer was waited for, if it did.
        contact_at_s: engine time at which its last contact closed; None before the first since power-up.

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
        supply = self.bench.supply
        measured = SupplyMeasured(await supply.current_a(), await supply.voltage_v())
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

    async def read_both_ways(self, where: str, position_mm: float | None) -> dict[Rail, OutputRead]:
        """Read the output under both load directions."""
        return {load: await self.read(where, position_mm, load) for load in Rail}

    async def read_unfed(self) -> dict[Rail, OutputRead]:
        """Read the output wire under both load directions while the unit has no supply."""
        settle_s = _WIRE_SETTLES_S
        return {load: await self._read("without supply", None, load, settle_s, settle_s) for load in Rail}

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

    async def contact(self, step: MakeContact) -> tuple[ContactRecord, LedPattern | None]:
        """Make one contact and open it at the answer or after its time.

        Returns the contact as read back, and the LED pattern that ended it (None: it was timed,
        or nothing that could end it was seen).

        """
        await self.chronicle.durable()
        closed_at_s = await self.nest.hold_teach(
            step.rail, longest_s=step.longest_s, release_after_s=step.for_s
        )
        self.contact_at_s = closed_at_s
        seen = None
        if step.until is not None:
            seen = await self._await_end_of_contact(step, step.until, closed_at_s)
            self.nest.release_teach()
        record = await self.nest.teach_released()
        confirmed = seen is not None and shows(seen, step.until)
        self.led_proven = self.led_proven or confirmed
        answer = pattern_words(seen) if seen is not None else "timed" if step.for_s else "none"
        self.chronicle.note(ContactEnded(step.rail, round(record.length_s, 6), answer, confirmed))
        return record, seen

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
        if self.nest.led is None:
            return await self._ask_for_led(answer, within_s)

        def is_answer(pattern: LedPattern) -> bool:
            if pattern.kind in (LedKind.FLASHING, LedKind.BLINKS):
                self.led_sign = pattern
            return shows(pattern, answer) or shows(pattern, self.plan.refused)

        return await self.nest.led.wait_for(is_answer, within_s)

    async def _ask_for_led(self, answer: Answer, within_s: float) -> LedPattern | None:
        text = f"Say done as soon as the LED in nest {self.nest.name} shows {answer.words}."
        try:
            await self.bench.operator.ask(Request(RequestKind.CONFIRM, text), timeout_s=within_s)
        except NoAnswer:
            return None
        return LedPattern(answer.kind, answer.rate_hz, answer.count)

    def led_now(self) -> LedPattern:
        """What the LED does now; unclear where no pick-up is fitted."""
        return LedPattern(LedKind.UNCLEAR) if self.nest.led is None else self.nest.led.pattern

    async def led_at_rest(self, within_s: float) -> bool | None:
        """Whether the LED stays lit or dark; None when it does neither, or no pick-up is fitted."""
        if self.nest.led is None:
            return None
        lit = {LedKind.STEADY: True, LedKind.DARK: False}
        pattern = await self.nest.led.wait_for(lambda pattern: pattern.kind in lit, within_s)
        return None if pattern is None else lit[pattern.kind]


def drive_of(readings: Mapping[Rail, OutputRead]) -> Drive:
    """What an output does, from its readings under both loads; unsteady counts as unclear."""
    if not all(reading.steady for reading in readings.values()):
        return Drive.UNCLEAR
    return drive(*(OutputLevel(readings[load].level) for load in (Rail.MINUS, Rail.PLUS)))


def shows(pattern: LedPattern, answer: Answer | None) -> bool:
    """Whether a pattern, as picked up, is the answer of the sensor type."""
    if answer is None or pattern.kind is not answer.kind:
        return False
    if answer.rate_hz is not None and pattern.rate_hz is not None:
        return 1 / _SAME_RATE <= pattern.rate_hz / answer.rate_hz <= _SAME_RATE
    return pattern.count == answer.count


def pattern_words(pattern: LedPattern) -> str:
    """A pattern in the words of an answer."""
    return Answer("", pattern.kind, pattern.rate_hz, pattern.count).words
