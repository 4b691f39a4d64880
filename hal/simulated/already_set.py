"""Units that a shop has set before, some of which may have drifted since: what `verify` finds on a simulated bench."""

from __future__ import annotations

from collections.abc import Sequence

from hal.simulated.air import TRIM_M_S, speed_of_sound_m_s
from hal.simulated.benchfile import Arrival, BenchFile, UnitRow
from hal.simulated.faults import UnitFaultKind
from wiring.terms import DetectionMode, OutputFunction

_MOVES = (UnitFaultKind.DRIFTED, UnitFaultKind.STORES_WRONGLY)


def already_set(
    bench_file: BenchFile, mode: DetectionMode, function: OutputFunction, points_mm: Sequence[float]
) -> BenchFile:
    """The same bench, with units that come set to `mode` where their row does not say how they come.

    `points_mm` are the set points on the bench, nearest first. A unit that stores wrongly or drifts has done so
    before it comes. Every row has to name its kind.
    """
    air = bench_file.air
    sound_m_s = speed_of_sound_m_s(air.temperature_c, air.humidity_percent, air.pressure_kpa)
    rows = tuple(_set(bench_file, row, mode, function, points_mm, sound_m_s) for row in bench_file.unit)
    return bench_file.model_copy(update={"unit": rows})


def _set(
    bench_file: BenchFile,
    row: UnitRow,
    mode: DetectionMode,
    function: OutputFunction,
    points_mm: Sequence[float],
    sound_m_s: float,
) -> UnitRow:
    if row.arrives is not None:
        return row
    assert row.kind is not None, "the rows are filled in before"
    residual = row.change.residual
    if residual is None:
        residual = bench_file.kinds()[row.kind].residual
    own = 1.0 + residual * (TRIM_M_S / sound_m_s - 1.0)
    offset_mm, inverse = 0.0, False
    for fault in row.faults:
        if fault.kind in _MOVES:
            # Who reads too far switches too near; who stores too far, too far.
            sign = -1.0 if fault.kind is UnitFaultKind.DRIFTED else 1.0
            offset_mm += sign * (fault.offset_mm or 0.0)
            inverse = inverse or bool(fault.inverse)
    keys = ("near_mm", "far_mm")
    at_mm = {key: max(at_mm * own + offset_mm, 1.0) for key, at_mm in zip(keys, points_mm, strict=False)}
    other = OutputFunction.NO if function is OutputFunction.NC else OutputFunction.NC
    arrives = Arrival(mode=mode, output_function=other if inverse else function, **at_mm)
    return row.model_copy(update={"arrives": arrives})
