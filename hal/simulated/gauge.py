"""A distance gauge at the target: it sees the plate a bit late, with an error and some noise."""

from __future__ import annotations

import random
from collections import deque

from hal.simulated.benchfile import BenchFile
from hal.simulated.clock import NS
from hal.simulated.target import Path, Target
from hal.simulated.timeline import Timeline

_REMEMBERED = 64  # paths; a hand that slides begins a new one some twice a second


class Gauge:
    """Sees the plate as it was some time ago, again and again, with an error and some noise.

    `silent` and `stick` are its faults: it answers no more, or shows for ever what it showed last.
    """

    def __init__(self, timeline: Timeline, target: Target, bench_file: BenchFile) -> None:
        self.silent = False
        self._truth = bench_file.gauge
        self._draw = random.Random(f"{bench_file.seed}/gauge")
        self._timeline = timeline
        self._target = target
        self._paths: deque[Path] = deque((target.path,), maxlen=_REMEMBERED)
        self._stuck_mm: float | None = None
        target.on_change.append(self._moved)

    def seen_mm(self) -> float:
        """The distance that it shows now."""
        if self._stuck_mm is not None:
            return self._stuck_mm
        with self._timeline as timeline:
            interval_ns = round(self._truth.interval_s * NS)
            taken_ns = timeline.now_ns // interval_ns * interval_ns
            was_mm = self._was_mm(taken_ns - round(self._truth.lag_s * NS))
        # Mounted beside the target, it knows nothing of how the unit sits.
        return (
            was_mm
            - self._target.seated_mm
            + self._truth.error_mm
            + self._draw.gauss(0.0, self._truth.noise_mm)
        )

    def stick(self, stuck: bool) -> None:
        """Show for ever what is shown now, or no longer."""
        self._stuck_mm = None
        if stuck:
            self._stuck_mm = self.seen_mm()

    def _was_mm(self, at_ns: int) -> float:
        for path in reversed(self._paths):
            if path.start_ns <= at_ns:
                return path.at_mm(at_ns)
        return self._paths[0].at_mm(at_ns)

    def _moved(self) -> None:
        if self._target.path is not self._paths[-1]:
            self._paths.append(self._target.path)
