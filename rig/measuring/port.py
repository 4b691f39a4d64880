"""What measuring needs of a bench: a target that goes where it is told, and a unit that answers.

Everything that a figure is worked out from passes here, and is recorded here: whoever answers from the record instead
makes the same code come to the same figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from rig.events import EdgePassed, EdgeRead, EdgeSlid, Event, PoweredUp, SupplyMeasured
from rig.planning.plan import Check
from rig.sequencer.findings import Finding
from wiring.profile import RigProfile, TargetProfile


@dataclass(frozen=True, slots=True)
class Setup:
    """What measuring has to know of the bench.

    Attributes:
        load_settle_s: after so long a change of the load is over.

    """

    target: TargetProfile
    load_settle_s: float

    @classmethod
    def of(cls, rig: RigProfile) -> Setup:
        """That of a rig's first nest."""
        return cls(rig.target, rig.nest[0].load.settle_s)


class Port(Protocol):
    """The bench under the hands of measuring; every call may raise what the bench raises.

    A unit `detects` when its output says so, whatever its output function.
    """

    @property
    def setup(self) -> Setup:
        """What is known of the bench."""

    def time_s(self) -> float:
        """The clock of the bench, in seconds."""

    def note(self, event: Event) -> None:
        """Put something that was found on record."""

    async def place(self, where: str, position_mm: float) -> None:
        """Put the target at a position, in the beam."""

    async def clear(self) -> None:
        """Take the target out of the beam."""

    async def look(self, where: str, position_mm: float | None) -> EdgeRead:
        """What the unit says as soon as its output has had time to answer."""

    async def read(self, where: str, position_mm: float | None) -> EdgeRead:
        """The same, watched for a while."""

    async def go_past(self, start_mm: float, end_mm: float, *, detected: bool) -> EdgePassed:
        """Move at constant speed from where the target stands; the output should end as `detected`."""

    async def slide(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """Have a person slide the target slowly from where it stands; the output should change to `detected`.

        With `stop_at_edge` the slide need not go on to its end. `hint` goes before the words that ask for it.
        """

    async def output_stage(self) -> Finding | None:
        """What is wrong with output type or function, with the target inside the zone and with a clear beam."""

    async def position(self, check: Check) -> Finding | None:
        """What is wrong at a check position."""

    async def supply(self, *, detected: bool) -> SupplyMeasured:
        """Current and voltage while the target is detected, or the beam clear."""

    async def power_up(self, *, detected: bool) -> PoweredUp:
        """Take the supply away and give it back while the target is detected, or the beam clear."""
