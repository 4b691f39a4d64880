"""Work on a unit that is only in the record: every question of a stage is answered as it was answered then."""

from __future__ import annotations

import copy
from collections import deque
from collections.abc import Iterable
from dataclasses import asdict
from math import inf
from typing import Self, TypeVar

from hal.errors import NoAnswer
from hal.led import LedPattern
from rig.events import (
    AirMeasured,
    Asked,
    BenchTripped,
    ContactDue,
    ContactEnded,
    Event,
    LedSeen,
    OutputRead,
    PauseEnded,
    PersonSilent,
    Stamped,
    SupplyMeasured,
    SupplySwitched,
    TargetMoved,
)
from rig.planning.plan import Answer, MakeContact, Plan
from rig.sequencer.answers import confirmed, contact_ended, lit
from rig.sequencer.any_work import CONFIRMATION, WITHOUT_SUPPLY, ContactMade, Moment, pattern_of
from rig.sequencer.output_type import telling_load
from wiring.nest import NestProfile
from wiring.profile import RigProfile
from wiring.terms import LedKind, Rail

_E = TypeVar("_E", bound=Event)


class RecordEnds(Exception):
    """The record ends where a stage asks for more."""


class CutShort(Exception):
    """The interlock opened where a stage asks for more."""

    def __init__(self, tripped: BenchTripped) -> None:
        super().__init__(tripped.words)
        self.tripped = tripped


class Departed(Exception):
    """The record goes another way than this program would, and cannot be followed any further."""


class RecordedWork:
    """`AnyWork` on the evidence of one unit.

    Attributes:
        departures: where the record says something else than what this program would have done or found.

    """

    def __init__(self, plan: Plan, rig: RigProfile, nest: NestProfile, evidence: Iterable[Stamped]) -> None:
        self.plan = plan
        self.led_proven = False
        self.led_sign: LedPattern | None = None
        self.supply_v = rig.supply.voltage_v
        self.load_a = self.supply_v / nest.load_resistor_ohm
        self.planned_air = rig.air
        self.led_fitted = nest.led is not None
        self.departures: list[str] = []
        # A person is asked by whoever moves the target or looks at the LED; here, both have been done.
        self._left = deque(one for one in evidence if not isinstance(one.event, Asked))
        self._beam_is_clear = False

    def by_plan(self, plan: Plan) -> Self:
        """The same record, asked by another plan; neither goes by what the other knows of the target."""
        self._beam_is_clear = False
        other = copy.copy(self)
        other.plan = plan
        return other

    # -- the record ------------------------------------------------------------------------------------------

    @property
    def left(self) -> Stamped | None:
        """What comes next in the record; None at its end."""
        return self._left[0] if self._left else None

    def note(self, event: Event) -> None:
        """Compare what follows from what was read with what was recorded."""
        recorded = self._take(type(event))
        if recorded.event != event:
            self._depart(recorded, event)

    def answer(self, kind: type[_E], **known: object) -> _E:
        """The next event, which has to be of a kind; `known` is what this program would have asked for."""
        if self.left is not None and isinstance(self.left.event, PersonSilent):
            raise NoAnswer(self.left.event.words)
        recorded = self._take(kind)
        assert isinstance(recorded.event, kind)
        asked_for = asdict(recorded.event) | known
        if asked_for != asdict(recorded.event):
            self._depart(recorded, kind(**asked_for))
        return recorded.event

    def _take(self, kind: type[Event]) -> Stamped:
        if self.left is None:
            raise RecordEnds
        if isinstance(self.left.event, BenchTripped):
            tripped = self.left.event
            self._left.popleft()
            raise CutShort(tripped)
        if not isinstance(self.left.event, kind):
            raise Departed(
                f"entry {self.left.number} is {self.left.event.kind} where this program has {kind.kind}"
            )
        return self._left.popleft()

    def _depart(self, recorded: Stamped, event: Event) -> None:
        said, found = asdict(recorded.event), asdict(event)
        different = [
            f"{name} {_shown(said[name])} instead of {_shown(found[name])}"
            for name in said
            if said[name] != found[name]
        ]
        self.departures.append(f"entry {recorded.number}, {event.kind}: {', '.join(different)}")

    # -- what a stage asks for -------------------------------------------------------------------------------

    async def durable(self) -> None:
        """It is."""

    async def rest(self, seconds: float) -> None:
        """That time has passed."""

    async def pause(self, gap_s: float) -> None:
        """That time has passed; how long it really was comes with the contact."""

    async def power_on(self) -> None:
        """The supply was switched on."""
        self.answer(SupplySwitched, on=True)

    async def power_off(self) -> None:
        """The supply was switched off."""
        self.answer(SupplySwitched, on=False)

    async def measure_supply(self) -> SupplyMeasured:
        """What was measured."""
        return self.answer(SupplyMeasured)

    async def measure_air(self) -> AirMeasured | None:
        """What was measured, where a probe was fitted."""
        return None if self.planned_air.probe is None else self.answer(AirMeasured)

    async def clear_beam(self) -> None:
        """The target left the beam, if it was in it."""
        if not self._beam_is_clear:
            self.answer(TargetMoved, where="clear", position_mm=None)
            self._beam_is_clear = True

    async def cover_face(self) -> None:
        """The target came to the face."""
        await self.place("cover", 0.0)

    async def place(self, where: str, position_mm: float) -> None:
        """The target came to a position."""
        self._beam_is_clear = False
        self.answer(TargetMoved, where=where, position_mm=position_mm)

    async def read(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """What was read."""
        return self.answer(OutputRead, where=where, position_mm=position_mm, load=load)

    async def glance(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """The same."""
        return await self.read(where, position_mm, load)

    async def read_both_ways(self, where: str, position_mm: float | None) -> dict[Rail, OutputRead]:
        """What was read under both loads."""
        return {load: await self.read(where, position_mm, load) for load in Rail}

    async def read_unfed(self) -> dict[Rail, OutputRead]:
        """What was read without supply."""
        return await self.read_both_ways(WITHOUT_SUPPLY, None)

    async def await_output(self, on: bool, within_s: float) -> OutputRead:  # noqa: ARG002
        """The last reading."""
        return await self.read(CONFIRMATION, None, telling_load(self.plan.inspection.output_type))

    def contact_due(self) -> ContactDue:
        """How long the unit had waited; whoever takes it up or calls it off notes it."""
        if self.left is not None and isinstance(self.left.event, ContactDue):
            return self.left.event
        return self.answer(ContactDue)

    async def contact(self, step: MakeContact, due: ContactDue, *, after_pause: bool) -> ContactMade:
        """The contact as it was read back, and what ended it."""
        self.note(due)
        seen = None if step.until is None else await self.await_led(step.until, inf)
        pause_s = self.answer(PauseEnded).length_s if after_pause else None
        ended = self._take(ContactEnded)
        assert isinstance(ended.event, ContactEnded)
        made = ContactMade(ended.event.length_s, pause_s, seen)
        if ended.event != contact_ended(step, made):
            self._depart(ended, contact_ended(step, made))
        self.led_proven = self.led_proven or confirmed(step, seen)
        return made

    async def await_led(self, answer: Answer, within_s: float) -> LedPattern | None:  # noqa: ARG002
        """What was seen of an answer."""
        self.led_sign = None
        seen = self._look(Moment.ANSWER)
        if seen is None:
            self.led_sign = self._look(Moment.ON_THE_WAY)
        return seen

    def led_now(self, moment: Moment = Moment.NOW) -> LedPattern:
        """What was seen."""
        return self._look(moment) or LedPattern(LedKind.UNCLEAR)

    async def led_at_rest(self, within_s: float) -> bool | None:  # noqa: ARG002
        """What was seen."""
        return lit(self._look(Moment.AT_REST))

    def _look(self, moment: Moment) -> LedPattern | None:
        seen = self.answer(LedSeen, moment=moment)
        try:
            return pattern_of(seen)
        except ValueError:
            raise Departed(f"the record has a LED that is {seen.led}, which is no pattern") from None


def _shown(value: object) -> str:
    return "nothing" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
