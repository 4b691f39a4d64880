"""A self-check from its files to its result: opens the bench on the engine's thread, and closes it again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hal.bench import Bench
from hal.errors import BenchError, InstrumentError
from hal.simulated.benchfile import BenchFile
from rig.chronicle import Chronicle
from rig.selfcheck.history import run_name
from rig.selfcheck.run import Result, SelfCheckRun, not_opened
from rig.selfcheck.work import Earlier
from rig.session import BenchSession
from rig.software import software_version
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench


@dataclass(frozen=True)
class SelfCheckSession(BenchSession[Result]):
    """One self-check on one bench; the fields are those of `rig.session.Session`."""

    profile: RigProfile
    bench_file: BenchFile | None
    real_time: bool
    journal: Path | None
    earlier: Earlier
    notice: Callable[[str], object] = lambda _: None
    hands: Callable[[SimulatedBench, Bench], object] | None = None
    speed: float = 1.0

    async def work(self, bench: Bench, chronicle: Chronicle) -> Result:
        """Every check."""
        return await SelfCheckRun(bench, chronicle, self.earlier, software_version()).run()

    async def not_opened(self, failure: BenchError, chronicle: Chronicle) -> Result:
        """A rig whose instruments do not answer has failed; a board that is missing or in use says nothing of it."""
        if not isinstance(failure, InstrumentError):
            raise failure
        return await not_opened(self.profile, chronicle, software_version(), failure)

    def run_name(self) -> str:
        """Named after the rig, so that the next one finds it."""
        return run_name(self.profile.name)
