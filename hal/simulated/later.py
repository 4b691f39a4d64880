"""The same simulated bench some shifts later: other noise, and whatever creeps has crept."""

from __future__ import annotations

from hal.simulated.benchfile import BenchFile

_LARGEST_PERCENT = 5.0


def shifts_later(bench_file: BenchFile, shifts: int) -> BenchFile:
    """The bench after so many shifts; its seed is as many more, so that no two shifts have the same noise."""
    truth = bench_file.target
    crept = max(0, shifts - truth.creep_from_shift)
    scale_percent = truth.scale_percent + crept * truth.creep_percent_per_shift
    limited = max(-_LARGEST_PERCENT, min(_LARGEST_PERCENT, scale_percent))
    target = truth.model_copy(update={"scale_percent": limited})
    return bench_file.model_copy(update={"seed": bench_file.seed + shifts, "target": target})
