"""The target plate: where it really is, how fast it goes, and whether it is in the beam."""

from __future__ import annotations

import random
from collections.abc import Callable

from hal.simulated.clock import NS
from hal.simulated.timeline import Event, Timeline


class Path:
    """A straight move at even speed; before and after it the plate stands still."""

    __slots__ = ("_from_mm", "_to_mm", "end_ns", "mm_per_ns", "start_ns")

    def __init__(self, from_mm: float, to_mm: float, start_ns: int, end_ns: int) -> None:
        self._from_mm, self._to_mm = from_mm, to_mm
        self.start_ns, self.end_ns = start_ns, end_ns
        self.mm_per_ns = (to_mm - from_mm) / (end_ns - start_ns) if end_ns > start_ns else 0.0

    def at_mm(self, now_ns: int) -> float:
        """The position at a time."""
        if now_ns >= self.end_ns:
            return self._to_mm
        return self._from_mm + self.mm_per_ns * max(0, now_ns - self.start_ns)


class Target:
    """The plate on its stage, on its scale, or in a hand.

    `position_mm` is where the stage believes it stands; `true_mm` differs by the placement error, drawn anew
    for every move, by zero and stretch of the scale, and by `misplaced_mm`, which a fault sets. So do these:
    `reaches` is the share of each way after which the stage halts, `lost_mm` what it falls short of each place,
    `late_s` how late it answers; a target that `stays_in` no longer leaves the beam. By `seated_mm` the unit sits
    further away in its nest than it should, this time; no scale sees that.
    """

    def __init__(
        self,
        timeline: Timeline,
        draw: random.Random,
        *,
        start_mm: float,
        placement_mm: float,
        side_mm: float,
        swing_s: float,
        in_beam: bool,
        zero_mm: float = 0.0,
        stretch: float = 1.0,
    ) -> None:
        self.in_beam = in_beam
        self.side_mm = side_mm
        self.misplaced_mm = 0.0
        self.seated_mm = 0.0
        self.stays_in = False
        self.reaches = 1.0
        self.lost_mm = 0.0
        self.late_s = 0.0
        self.on_change: list[Callable[[], None]] = []
        self._timeline = timeline
        self._draw = draw
        self._placement_mm = placement_mm
        self._zero_mm = zero_mm
        self._stretch = stretch
        self._swing_ns = round(swing_s * NS)
        self._swinging: Event | None = None
        self._arrival: Event | None = None
        self._believed = Path(start_mm, start_mm, 0, 0)
        self._true = Path(start_mm, start_mm, 0, 0)

    def position_mm(self) -> float:
        """Where the stage believes the plate is now."""
        return self._believed.at_mm(self._timeline.now_ns)

    @property
    def true_mm(self) -> float:
        """Where the plate really is, measured from the sensing face (test-only truth)."""
        return self._true.at_mm(self._timeline.now_ns)

    @property
    def shown_mm(self) -> float:
        """What the scale beside it shows now."""
        return (self.true_mm - self.misplaced_mm - self.seated_mm - self._zero_mm) / self._stretch

    @property
    def path(self) -> Path:
        """The true path it is on, or was on last."""
        return self._true

    @property
    def moving(self) -> bool:
        """Whether it is on its way."""
        return self._timeline.now_ns < self._believed.end_ns

    def start_move(self, to_mm: float, speed_mm_s: float, *, placement_mm: float | None = None) -> None:
        """Start towards `to_mm`; it ends up there, give or take the placement error."""
        error_mm = self._placement_mm if placement_mm is None else placement_mm
        with self._timeline as timeline:
            now_ns = timeline.now_ns
            from_mm, true_mm = self.position_mm(), self.true_mm
            to_mm = from_mm + self.reaches * (max(0.0, to_mm - self.lost_mm) - from_mm)
            end_ns = now_ns + round(abs(to_mm - from_mm) / speed_mm_s * NS)
            meant_mm = to_mm * self._stretch + self._zero_mm
            off_mm = self.misplaced_mm + self.seated_mm
            there_mm = max(0.0, meant_mm + self._draw.uniform(-error_mm, error_mm) + off_mm)
            self._believed = Path(from_mm, to_mm, now_ns, end_ns)
            self._true = Path(true_mm, there_mm, now_ns, end_ns)
            self._expect_arrival(end_ns)

    def slide(self, to_mm: float, speed_mm_s: float) -> None:
        """Start towards `to_mm` as a hand pushes it: what it was placed wrong by, it stays wrong by."""
        with self._timeline as timeline:
            now_ns = timeline.now_ns
            from_mm, true_mm = self.position_mm(), self.true_mm
            end_ns = now_ns + round(abs(to_mm - from_mm) / speed_mm_s * NS)
            self._believed = Path(from_mm, to_mm, now_ns, end_ns)
            self._true = Path(true_mm, max(0.0, true_mm + (to_mm - from_mm) * self._stretch), now_ns, end_ns)
            self._expect_arrival(end_ns)

    def stop(self) -> None:
        """Stop where it is now."""
        with self._timeline as timeline:
            now_ns = timeline.now_ns
            here_mm, true_mm = self.position_mm(), self.true_mm
            self._believed = Path(here_mm, here_mm, now_ns, now_ns)
            self._true = Path(true_mm, true_mm, now_ns, now_ns)
            self._expect_arrival(now_ns)

    def swing(self, out: bool) -> None:
        """Swing out of the beam or into it; half-way it leaves or enters the beam."""
        with self._timeline as timeline:
            if self._swinging is not None:
                self._swinging.cancel()
            self._swinging = timeline.after(
                self._swing_ns // 2, lambda: self.put_in_beam(self.stays_in or not out)
            )

    def seat(self, seated_mm: float) -> None:
        """Let the unit that looks at it sit otherwise in its nest: at once it is that much further away, or nearer."""
        with self._timeline as timeline:
            now_ns, there_mm = timeline.now_ns, max(0.0, self.true_mm + seated_mm - self.seated_mm)
            self.seated_mm = seated_mm
            self._true = Path(there_mm, there_mm, now_ns, now_ns)
            self._tell()

    def put_in_beam(self, in_beam: bool) -> None:
        """Put the plate in the beam or take it out, at once."""
        with self._timeline:
            self.in_beam = in_beam
            self._tell()

    def _expect_arrival(self, end_ns: int) -> None:
        if self._arrival is not None:
            self._arrival.cancel()
        self._arrival = self._timeline.at(end_ns, self._tell)
        self._tell()

    def _tell(self) -> None:
        for tell in self.on_change:
            tell()
