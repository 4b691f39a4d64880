"""A calibration from its files to its result: opens the bench on the engine's thread, and closes it again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hal.bench import Bench
from hal.simulated.benchfile import BenchFile
from rig.calibration.calibration import Calibration
from rig.calibration.history import run_name
from rig.calibration.run import Wanted, calibrate
from rig.chronicle import Chronicle
from rig.session import BenchSession
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench


@dataclass(frozen=True)
class CalibrationSession(BenchSession[Calibration]):
    """One calibration on one bench; the fields are those of `rig.session.Session`."""

    profile: RigProfile
    bench_file: BenchFile | None
    real_time: bool
    journal: Path | None
    wanted: Wanted
    notice: Callable[[str], object] = lambda _: None
    hands: Callable[[SimulatedBench, Bench], object] | None = None
    speed: float = 1.0

    async def work(self, bench: Bench, chronicle: Chronicle) -> Calibration:
        """Every place, then the fit."""
        return await calibrate(bench, chronicle, self.wanted)

    def run_name(self) -> str:
        """Named after the rig, so that its work finds it."""
        return run_name(self.profile.name)
