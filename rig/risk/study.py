"""A study: so many units tried, chunk by chunk, on as many cores as there are; the same whatever their number."""

from __future__ import annotations

import gc
import hashlib
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from rig.risk.case import Case
from rig.risk.crew import shared_out
from rig.risk.draw import unit_seed
from rig.risk.state import Done, StateFile
from rig.risk.tally import Tally, tally_of
from rig.risk.trial import try_unit

CHUNK = 50
"""Units of a chunk: some half a second of work."""


class Source(Protocol):
    """Where the cases come from; picklable, and the same in every process."""

    def case_of(self, chunk: int) -> Case:
        """The case of all units of a chunk."""

    def subject(self) -> dict[str, Any]:
        """What tells this source from others, for the state file."""


@dataclass(frozen=True)
class OneCase:
    """One order, over and over."""

    case: Case

    def case_of(self, chunk: int) -> Case:  # noqa: ARG002
        """The case."""
        return self.case

    def subject(self) -> dict[str, Any]:
        """Order, type, rig and rates by their content: a study of another version of a file is another study."""
        models = (self.case.order, self.case.sensor_type, self.case.rig, self.case.rates)
        text = json.dumps([model.model_dump(mode="json") for model in models], sort_keys=True)
        return {"order": self.case.order.number, "files": hashlib.sha256(text.encode()).hexdigest()[:16]}


@dataclass(frozen=True)
class Study:
    """`units` units of a source, drawn from a seed."""

    source: Source
    seed: int
    units: int
    chunk_units: int = CHUNK

    def chunks(self) -> Iterator[int]:
        """The numbers of all chunks."""
        return iter(range(-(-self.units // self.chunk_units)))

    def units_of(self, chunk: int) -> range:
        """The numbers of the units in a chunk."""
        first = chunk * self.chunk_units
        return range(first, min(first + self.chunk_units, self.units))

    def do(self, chunk: int) -> Done:
        """Try the units of one chunk."""
        start_s = time.process_time()
        case, numbers = self.source.case_of(chunk), self.units_of(chunk)
        # What was there before is no rubbish of this chunk, and to look through it would take a unit's tenth.
        gc.freeze()
        tally = tally_of(try_unit(case, unit_seed(self.seed, number)) for number in numbers)
        gc.collect()
        gc.unfreeze()
        return Done(chunk, len(numbers), tally.as_dict(), time.process_time() - start_s)


@dataclass
class Progress:
    """What is known so far: a tally and the processor time that it took."""

    tally: Tally
    cpu_s: float = 0.0


def run_study(study: Study, *, cores: int, state: Path | None) -> Iterator[Progress]:
    """Do a study, or the rest of it; yields after every chunk what is known by then, first what was known before.

    Raises `DataFileError` for a state file of another study, OSError for one that cannot be written.
    """
    progress = Progress(Tally())
    kept = None if state is None else StateFile(state, {"seed": study.seed, **study.source.subject()})
    known = {} if kept is None else kept.done
    left = []
    for chunk in study.chunks():
        done = known.get(chunk)
        # A chunk that was the last of a shorter study may hold fewer units than are wanted now.
        if done is not None and done.units == len(study.units_of(chunk)):
            _take(progress, done)
        else:
            left.append(chunk)
    yield progress
    for _, done in shared_out(study.do, left, min(cores, max(1, len(left)))):
        try:
            if kept is not None:
                kept.add(done)
        finally:
            # A signal while it goes to the disk ends the study: what is told then is what is kept.
            _take(progress, done)
        yield progress


def _take(progress: Progress, done: Done) -> None:
    progress.tally.merge(Tally.from_dict(done.tally))
    progress.cpu_s += done.cpu_s
