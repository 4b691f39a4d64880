"""What a stage can do with a unit and read of it, whether the unit is in the nest or only in the record."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol, Self

from hal.led import LedPattern
from rig.events import AirMeasured, ContactDue, Event, LedSeen, OutputRead, SupplyMeasured
from rig.planning.plan import Answer, MakeContact, Plan
from wiring.parts import AirProfile
from wiring.terms import LedKind, Rail

WITHOUT_SUPPLY, CONFIRMATION = "without supply", "confirmation"
LEAVES = "does the target leave"
"""`OutputRead.where` of readings that no check position asks for."""
NOTHING = "nothing"
"""`LedSeen.led` where what was waited for did not come."""


class Moment(StrEnum):
    """When the LED was looked at."""

    ANSWER = "answer"
    ON_THE_WAY = "while the answer was waited for"
    NOW = "now"
    UNFED = "without supply"
    AT_REST = "at rest"


@dataclass(frozen=True, slots=True)
class ContactMade:
    """A contact that is over.

    Attributes:
        length_s: how long the teach wire was at the rail, as read back.
        pause_s: how long it was open before, if it is one of several contacts.
        seen: LED pattern that ended the contact; None if it was timed, or nothing that could end it was seen.

    """

    length_s: float
    pause_s: float | None
    seen: LedPattern | None


class AnyWork(Protocol):
    """One unit in a stage's hands. Everything that a stage learns of it comes from here, and is in the record.

    Stages that keep to this can be run once more on what was recorded, and come to the same finding.

    Attributes:
        led_proven: the LED has given an expected answer, so that its silence would mean something.
        led_sign: what the LED flashed or blinked last while an answer was waited for, if it did.

    """

    led_proven: bool
    led_sign: LedPattern | None

    @property
    def plan(self) -> Plan:
        """What is to be done."""

    @property
    def supply_v(self) -> float:
        """Voltage that the bench supply is set to."""

    @property
    def load_a(self) -> float:
        """Current of an output that is on into its load."""

    @property
    def planned_air(self) -> AirProfile:
        """The air at the bench that the plan was made for, and how far it may be off."""

    @property
    def led_fitted(self) -> bool:
        """Whether a pick-up sees the LED; else the person looks."""

    def by_plan(self, plan: Plan) -> Self:
        """The same unit in the same hands, by another plan; neither goes by what the other knows of the target."""

    def note(self, event: Event) -> None:
        """Record what follows from what was read."""

    async def durable(self) -> None:
        """Return once the record so far is on the disk."""

    async def rest(self, seconds: float) -> None:
        """Leave everything as it is for a time."""

    async def power_on(self) -> object:
        """Give the unit its supply and wait until it is available."""

    async def power_off(self) -> None:
        """Take the supply away."""

    async def measure_supply(self) -> SupplyMeasured:
        """Current and voltage of the unit, as far as the bench can tell."""

    async def measure_air(self) -> AirMeasured | None:
        """The air at the bench now; None where no probe is fitted."""

    async def clear_beam(self) -> None:
        """Take the target out of the beam."""

    async def cover_face(self) -> None:
        """Bring the target to the face."""

    async def place(self, where: str, position_mm: float) -> None:
        """Put the target at a position."""

    async def read(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """Read the output of a unit that has supply, and whether it kept still while it was watched."""

    async def glance(self, where: str, position_mm: float | None, load: Rail) -> OutputRead:
        """The same as soon as the output has had time to answer: it is not watched."""

    async def read_both_ways(self, where: str, position_mm: float | None) -> dict[Rail, OutputRead]:
        """Read the output under both load directions."""

    async def read_unfed(self) -> dict[Rail, OutputRead]:
        """Read the output wire under both load directions while the unit has no supply."""

    async def await_output(self, on: bool, within_s: float) -> OutputRead:
        """Wait until the output is on or off; returns the last reading."""

    def contact_due(self) -> ContactDue:
        """How long the unit has waited for the contact that comes now; noted with it, or by whoever calls it off."""

    async def pause(self, gap_s: float) -> None:
        """Wait until the teach wire has been open for a time."""

    async def contact(self, step: MakeContact, due: ContactDue, *, after_pause: bool) -> ContactMade:
        """Make one contact and open it at the answer or after its time."""

    async def await_led(self, answer: Answer, within_s: float) -> LedPattern | None:
        """Wait for the LED to show `answer` or a refusal; None when neither came in time."""

    def led_now(self, moment: Moment = Moment.NOW) -> LedPattern:
        """What the LED does now; unclear where no pick-up is fitted."""

    async def led_at_rest(self, within_s: float) -> bool | None:
        """Whether the LED stays lit or dark; None when it does neither, or no pick-up is fitted."""


def led_seen(moment: Moment, pattern: LedPattern | None) -> LedSeen:
    """A look at the LED, for the record."""
    if pattern is None:
        return LedSeen(moment, NOTHING, None, None, noisy=False)
    return LedSeen(moment, str(pattern.kind), pattern.rate_hz, pattern.count, pattern.noisy)


def pattern_of(seen: LedSeen) -> LedPattern | None:
    """The pattern of a recorded look; None where what was waited for did not come."""
    if seen.led == NOTHING:
        return None
    return LedPattern(LedKind(seen.led), seen.rate_hz, seen.count, seen.noisy)
