"""The units that lie ready beside the bench, made one by one as they are taken."""

from __future__ import annotations

import random
from collections.abc import Iterator

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.faults import UnitFaultKind
from hal.simulated.kind import UnitKind
from hal.simulated.unit import Surroundings, Unit


def units(bench_file: BenchFile, around: Surroundings) -> Iterator[Unit]:
    """Yield the units of all rows in order, over and over if the bench file is endless.

    Each unit draws its chances from the seed and its own number, so that what befalls one changes no other.
    """
    kinds = bench_file.kinds()
    number = 0
    while True:
        for row in bench_file.unit:
            for _ in range(row.count):
                number += 1
                yield _made(row, kinds, around, random.Random(f"{bench_file.seed}/{number}"))
        if not bench_file.endless:
            return


def unit_at(bench_file: BenchFile, around: Surroundings, place: int) -> Unit | None:
    """The unit at a place of the box, counted from 1 over all rows; None if the box has no such place."""
    number = 0
    for row in bench_file.unit:
        number += row.count
        if 1 <= place <= number:
            return _made(row, bench_file.kinds(), around, random.Random(f"{bench_file.seed}/{place}"))
    return None


def _made(row: UnitRow, kinds: dict[str, UnitKind], around: Surroundings, draw: random.Random) -> Unit:
    assert row.kind is not None, "the world refuses rows without a kind"
    changes = {key: value for key, value in row.change if value is not None}
    kind = kinds[row.kind].model_copy(update=changes)
    for fault in row.faults:
        if fault.kind is UnitFaultKind.WRONG_KIND:
            assert fault.actual is not None, "the fault model demands it"
            kind = kinds[fault.actual]
    memory = None if row.arrives is None else row.arrives.memory()
    return Unit(kind, around, draw, faults=row.faults, memory=memory)
