"""How a unit hears its target: echo, noise, thresholds with hysteresis.

Nothing is polled. While the plate stands clear of every threshold nothing happens at all; a plate on its way
is looked at when it reaches a threshold; only within five standard deviations of one is reading after reading
drawn.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from hal.simulated.air import TRIM_M_S, Air
from hal.simulated.clock import NS
from hal.simulated.kind import UnitKind
from hal.simulated.target import Target
from hal.simulated.timeline import Event, Timeline

_SIGMAS = 5.0
_REACH = 1.15  # a standard plate is heard this far beyond the end of the range


class Sensing:
    """Turns the plate's distance into 'detected' or not.

    Distances are the unit's own: what it takes the distance to be, in the air as it is. `offset_mm` is added
    to every reading (drift). `on_flip` is called when `detected` changes.
    """

    def __init__(
        self,
        timeline: Timeline,
        kind: UnitKind,
        air: Air,
        target: Target,
        draw: random.Random,
        on_flip: Callable[[], None],
    ) -> None:
        self.detected = False
        self.offset_mm = 0.0
        self.noise_factor = 1.0
        self.hysteresis_factor = draw.uniform(0.8, 1.2)
        self._timeline = timeline
        self._kind = kind
        self._air = air
        self._target = target
        self._draw = draw
        self._on_flip = on_flip
        self._cycle_ns = round(kind.response_s / 2 * NS)
        self._awake = False
        self._next: Event | None = None
        self._noise_min_mm = kind.noise_min_mm
        self._noise_share = kind.noise_percent / 100
        self._edges_mm = self._margins_mm = ((0.0, 0.0), (0.0, 0.0))
        small = min(1.0, target.side_mm / kind.standard_target_mm)
        self._reach_mm = kind.range_mm * _REACH * math.sqrt(small)

    def wake(self, zone: tuple[float, float]) -> None:
        """Begin to listen, with the zone of distances that count as detected."""
        self._awake = True
        self.detected = False
        self.set_zone(zone)

    def sleep(self) -> None:
        """Stop listening; nothing is detected."""
        self._awake = False
        self.detected = False
        if self._next is not None:
            self._next.cancel()

    def set_zone(self, zone: tuple[float, float]) -> None:
        """Take other thresholds."""
        self._edges_mm = self._edges_of(zone)
        undetected, detected = self._edges_mm
        self._margins_mm = self._margins_of(undetected), self._margins_of(detected)
        self.look()

    def read_mm(self) -> float | None:
        """Take one reading of the distance; None without an echo."""
        exact_mm = self._exact_mm()
        return None if exact_mm is None else self._draw.gauss(exact_mm, self._sigma_mm(exact_mm))

    def look(self) -> None:
        """Decide anew whether the plate is detected, and when that must be asked again."""
        if not self._awake:
            return
        exact_mm = self._exact_mm()
        close = exact_mm is not None and self._is_close(exact_mm)
        if self._decide(exact_mm, close) is not self.detected:
            self.detected = not self.detected
            close = exact_mm is not None and self._is_close(exact_mm)
            self._on_flip()
        self._look_again(close)

    def true_edges_mm(self, detected: bool) -> tuple[float, float]:
        """Where the ends of the zone really are in the present air, for a plate that is detected or not."""
        return self.true_ends_mm(self._edges_mm[0], detected)

    def true_ends_mm(
        self, zone: tuple[float, float], detected: bool, sound_m_s: float | None = None
    ) -> tuple[float, float]:
        """The same for any zone, listening or not, in the present air or in one with another speed of sound."""
        low_mm, high_mm = self._edges_of(zone)[detected]
        return self._true_mm(low_mm, sound_m_s), self._true_mm(high_mm, sound_m_s)

    def true_sigma_mm(self, distance_mm: float) -> float:
        """Standard deviation of one reading of a distance."""
        return self._sigma_mm(distance_mm)

    def _exact_mm(self) -> float | None:
        if not self._target.in_beam or (true_mm := self._target.true_mm) > self._reach_mm:
            return None
        return true_mm * self._scale() + self.offset_mm

    def _edges_of(self, zone: tuple[float, float]) -> tuple[tuple[float, float], tuple[float, float]]:
        low_mm, high_mm = zone
        return zone, (low_mm - self._hysteresis_mm(low_mm), high_mm + self._hysteresis_mm(high_mm))

    def _margins_of(self, ends_mm: tuple[float, float]) -> tuple[float, float]:
        low_mm, high_mm = ends_mm
        return _SIGMAS * self._sigma_mm(low_mm), _SIGMAS * self._sigma_mm(high_mm)

    def _scale(self, sound_m_s: float | None = None) -> float:
        # An echo that comes back sooner, as in warm air, looks like a shorter distance.
        return 1.0 + self._kind.residual * (TRIM_M_S / (sound_m_s or self._air.speed_m_s) - 1.0)

    def _true_mm(self, own_mm: float, sound_m_s: float | None = None) -> float:
        return (own_mm - self.offset_mm) / self._scale(sound_m_s)

    def _sigma_mm(self, distance_mm: float) -> float:
        return self.noise_factor * max(self._noise_min_mm, self._noise_share * distance_mm)

    def _hysteresis_mm(self, distance_mm: float) -> float:
        kind = self._kind
        own_mm = self.hysteresis_factor * kind.hysteresis_percent / 100 * distance_mm
        return max(kind.hysteresis_min_mm, own_mm)

    def _is_close(self, exact_mm: float) -> bool:
        # As wide as the marks at which a moving plate is looked at, or the first look would come too soon to count.
        low_mm, high_mm = self._edges_mm[self.detected]
        low_margin_mm, high_margin_mm = self._margins_mm[self.detected]
        return abs(exact_mm - low_mm) < low_margin_mm or abs(exact_mm - high_mm) < high_margin_mm

    def _decide(self, exact_mm: float | None, close: bool) -> bool:
        if exact_mm is None:
            return False
        reading_mm = self._draw.gauss(exact_mm, self._sigma_mm(exact_mm)) if close else exact_mm
        low_mm, high_mm = self._edges_mm[self.detected]
        return low_mm <= reading_mm <= high_mm

    def _look_again(self, close: bool) -> None:
        if self._next is not None:
            self._next.cancel()
        wait_ns = self._cycle_ns if close else None
        if self._target.in_beam and self._timeline.now_ns < self._target.path.end_ns:
            wait_ns = self._next_mark_ns(wait_ns)
        self._next = None if wait_ns is None else self._timeline.after(wait_ns, self.look)

    def _next_mark_ns(self, nearest_ns: int | None) -> int | None:
        """Time until the moving plate comes to a place where something may change, if sooner than given."""
        path = self._target.path
        here_mm, mm_per_ns = path.at_mm(self._timeline.now_ns), path.mm_per_ns
        for mark_mm in self._marks_mm():
            way_ns = (mark_mm - here_mm) / mm_per_ns if mm_per_ns else 0.0
            if way_ns > 0 and (nearest_ns is None or way_ns < nearest_ns):
                nearest_ns = int(way_ns) + 1
        return nearest_ns

    def _marks_mm(self) -> list[float]:
        scale, marks = self._scale(), [self._reach_mm]
        for edge_mm, margin_mm in zip(
            self._edges_mm[self.detected], self._margins_mm[self.detected], strict=True
        ):
            edge_mm -= self.offset_mm
            marks += ((edge_mm - margin_mm) / scale, (edge_mm + margin_mm) / scale)
        return marks
