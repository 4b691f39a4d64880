"""A target on a linear stage, with a swing that takes it out of the beam."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from hal.errors import InstrumentError, Refused, TripCause, Tripped
from hal.instruments.stage import StageDrive
from hal.interlock.interlock import Interlock
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Condition, Job
from hal.target.target import check_reach
from hal.waits import Waits
from wiring.profile import TargetProfile

_SWING = OutputId(Job.SWING)


def _as_it_is(position_mm: float) -> float:
    return position_mm


class StageTarget:
    """Moves by itself, only while the interlock is armed; a trip stops it. Swing energised = out of the beam.

    `correction` turns a distance from the sensing face into the one that the drive is sent to, by its calibration.
    """

    def __init__(self, profile: TargetProfile, drive: StageDrive, interlock: Interlock, waits: Waits) -> None:
        assert profile.swing is not None, "the profile model demands a swing for a stage"
        self.reach_mm = (profile.nearest_mm, profile.farthest_mm)
        self.position_mm: float | None = None
        self._profile = profile
        self._drive = drive
        self._interlock = interlock
        self._waits = waits
        self.correction: Callable[[float], float] = _as_it_is
        self._out = True  # unknown at first, so the first move waits for the swing
        self._swing_takes_s = profile.swing.settle_s + profile.swing_s
        interlock.on_trip.append(self._tripped)

    async def move_to(self, position_mm: float) -> None:
        """Move, swing in if need be, and wait until the plate is still.

        A target that is out of the beam moves outside it: the unit must not see it on its way, or hysteresis
        would make the answer depend on where it came from.

        Raises OutOfReach, Tripped, InstrumentError, and Refused (with a trip) while hands may be in the nest.
        """
        check_reach(self._profile, position_mm)
        self._demand_armed()
        self.position_mm = None
        try:
            await self._drive.move_to(self._sent_mm(position_mm))
        except InstrumentError:
            if self._interlock.causes:
                raise Tripped(self._interlock.causes[0]) from None
            raise
        in_at_s = self._swing(out=False)
        await self._waits.sleep_until(max(in_at_s, self._now_s() + self._profile.settle_s))
        self.position_mm = position_mm

    async def clear(self) -> None:
        """Swing out of the beam; raises Tripped, and Refused (with a trip) while hands may be in the nest."""
        self.position_mm = None
        await self._waits.sleep_until(self._swing(out=True))

    async def cover(self) -> None:
        """Move to the nearest position; raises what `move_to` raises."""
        await self.move_to(self._profile.nearest_mm)

    def _sent_mm(self, position_mm: float) -> float:
        """Where the drive is sent: the calibration accounts for what the ends of its way cut off."""
        near_mm, far_mm = self.reach_mm
        return min(max(self.correction(position_mm), near_mm), far_mm)

    def close(self) -> None:
        """Stop the stage."""
        self._drive.stop()

    def _swing(self, *, out: bool) -> float:
        """Command the swing; return the loop time at which it is at rest."""
        if not (out or self._out):
            return self._now_s()
        self._interlock.command(_SWING, out)
        self._out = out
        return self._now_s() + self._swing_takes_s

    def _demand_armed(self) -> None:
        if self._interlock.causes:
            raise Tripped(self._interlock.causes[0])
        if self._interlock.condition is not Condition.ARMED:
            error = Refused("the stage was not moved: hands may be in the nest")
            self._interlock.fault(error)
            raise error

    def _tripped(self, _: TripCause) -> None:
        self.position_mm = None
        self._drive.stop()

    @staticmethod
    def _now_s() -> float:
        return asyncio.get_running_loop().time()
