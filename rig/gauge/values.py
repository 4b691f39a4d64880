"""The values of a study: by unit, by level, by repeat; whole, or not worked out at all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import fsum

from rig.gauge.design import Design, Trial


@dataclass(frozen=True, slots=True)
class Values:
    """`by[unit][level]` are the repeats of one unit at one level, in the order in which they were taken."""

    by: tuple[tuple[tuple[float, ...], ...], ...]

    def __post_init__(self) -> None:
        shapes = {(len(unit), *{len(cell) for cell in unit}) for unit in self.by}
        if len(self.by) < 2 or len(shapes) != 1 or len(next(iter(shapes))) != 2:
            raise ValueError("a study needs every unit at every level equally often")
        if self.levels < 2 or self.repeats < 2:
            raise ValueError(f"{self.levels} levels, {self.repeats} repeats; allowed: 2 or more of each")

    @property
    def units(self) -> int:
        """How many units."""
        return len(self.by)

    @property
    def levels(self) -> int:
        """How many people, or settings."""
        return len(self.by[0])

    @property
    def repeats(self) -> int:
        """How often each unit by each."""
        return len(self.by[0][0])

    @property
    def mean(self) -> float:
        """Of all."""
        return _mean(value for unit in self.by for cell in unit for value in cell)

    @property
    def unit_means(self) -> tuple[float, ...]:
        """Of each unit, over all levels."""
        return tuple(_mean(value for cell in unit for value in cell) for unit in self.by)

    @property
    def level_means(self) -> tuple[float, ...]:
        """Of each level, over all units."""
        return tuple(
            _mean(value for unit in self.by for value in unit[level]) for level in range(self.levels)
        )

    @property
    def cell_means(self) -> tuple[tuple[float, ...], ...]:
        """Of each unit at each level."""
        return tuple(tuple(_mean(cell) for cell in unit) for unit in self.by)

    @property
    def cell_ranges(self) -> tuple[tuple[float, ...], ...]:
        """Largest less smallest of each unit at each level."""
        return tuple(tuple(max(cell) - min(cell) for cell in unit) for unit in self.by)


def values_of(design: Design, measured: Mapping[Trial, float]) -> Values | None:
    """The values of a study that has all of them; None while one is missing."""
    if any(trial not in measured for trial in design.trials):
        return None
    cells: dict[tuple[str, str], list[float]] = {}
    for trial in design.trials:
        cells.setdefault((trial.unit, trial.level), []).append(measured[trial])
    return Values(tuple(tuple(tuple(cells[unit, level]) for level in design.levels) for unit in design.units))


def _mean(values: Iterable[float]) -> float:
    held = list(values)
    return fsum(held) / len(held)
