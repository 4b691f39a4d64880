"""What every target can do, whoever moves it."""

from __future__ import annotations

from typing import Protocol

from wiring.profile import TargetProfile

PATIENCE_S = 600.0
"""Whoever has not answered for so long has gone away, and relays are not held for them."""


class OutOfReach(ValueError):
    """A position that this target cannot take."""


class Target(Protocol):
    """The target plate; positions are distances from the sensing face in millimetres.

    `move_to`, `clear` and `cover` return when the target is there and still. They raise NoAnswer when the
    person stays away, InstrumentError when the stage fails and Tripped when the bench trips meanwhile.
    """

    @property
    def reach_mm(self) -> tuple[float, float]:
        """The nearest and the farthest position."""

    @property
    def position_mm(self) -> float | None:
        """Where the target was last confirmed; None when it is out of the beam, or on its way."""

    async def move_to(self, position_mm: float) -> None:
        """Put the target into the beam at this position; raises OutOfReach, moving nothing, if it cannot."""

    async def clear(self) -> None:
        """Take the target out of the beam."""

    async def cover(self) -> None:
        """Bring the target to the sensing face."""

    def close(self) -> None:
        """Give lines back; safe to call twice."""


def check_reach(profile: TargetProfile, position_mm: float) -> None:
    """Raise OutOfReach unless the position lies within the reach; not-a-number never does."""
    if not profile.nearest_mm <= position_mm <= profile.farthest_mm:
        raise OutOfReach(
            f"the target reaches from {profile.nearest_mm:g} to {profile.farthest_mm:g} mm, not {position_mm:g} mm"
        )
