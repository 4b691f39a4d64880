"""What a unit keeps when its supply is off."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hal.simulated.kind import UnitKind
from wiring.terms import DetectionMode, OutputFunction


@dataclass(frozen=True, slots=True)
class Memory:
    """A setting; distances are the unit's own, taken in the air of the moment it was taught.

    A single point is kept in `near_mm`: the unit does not know yet whether a far end will follow.
    """

    mode: DetectionMode = DetectionMode.FULL_RANGE
    function: OutputFunction = OutputFunction.NO
    near_mm: float | None = None
    far_mm: float | None = None

    def zone_mm(self, kind: UnitKind) -> tuple[float, float]:
        """The distances that count as detected."""
        low_mm, high_mm = kind.blind_zone_mm, kind.range_mm
        if self.mode is DetectionMode.SINGLE_POINT and self.near_mm is not None:
            high_mm = min(high_mm, self.near_mm)
        elif self.mode is DetectionMode.WINDOW and self.near_mm is not None and self.far_mm is not None:
            low_mm, high_mm = self.near_mm, min(high_mm, self.far_mm)
        return low_mm, high_mm

    def full_range(self) -> Memory:
        """The same output function over the whole range."""
        return Memory(DetectionMode.FULL_RANGE, self.function)

    def single(self, point_mm: float) -> Memory:
        """The same output function with one switching point."""
        return Memory(DetectionMode.SINGLE_POINT, self.function, near_mm=point_mm)

    def window(self, near_mm: float, far_mm: float, kind: UnitKind) -> Memory | None:
        """The same output function with two switching points; None if they lie too close together."""
        if far_mm < near_mm + kind.smallest_window_mm:
            return None
        return Memory(DetectionMode.WINDOW, self.function, near_mm=near_mm, far_mm=far_mm)

    def with_function(self, function: OutputFunction) -> Memory:
        """The same zone with another output function."""
        return replace(self, function=function)
