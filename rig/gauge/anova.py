"""The components of a study by analysis of variance: units and levels crossed, both taken as drawn from many.

Montgomery, Design and Analysis of Experiments, two-factor random effects (from memory); AIAG, Measurement Systems
Analysis, 4th edition, appendix A.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from rig.gauge.values import Values

POOLED_ABOVE = 0.25
"""A share of chance above which units and levels are said to do nothing together (Bancroft 1964, from memory)."""


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table; `f` against what was expected by chance, `chance` how often as much comes by chance."""

    name: str
    squares: float
    freedom: int
    f: float | None = None
    chance: float | None = None

    @property
    def mean(self) -> float:
        """Mean square."""
        return self.squares / self.freedom


@dataclass(frozen=True, slots=True)
class Anova:
    """The table and what follows from it.

    Attributes:
        error: repeats, and where `pooled` what units and levels do together as well, which is chance then.

    """

    units: Row
    levels: Row
    interaction: Row
    repeats: Row
    error: Row
    pooled: bool
    shape: tuple[int, int, int]

    @property
    def against(self) -> Row:
        """What units and levels are held against: what they do together, or the pooled chance."""
        return self.error if self.pooled else self.interaction

    @property
    def raw(self) -> dict[str, float]:
        """Variances as they come out, below zero where chance has it so."""
        units, levels, repeats = self.shape
        chance = self.against.mean
        return {
            "repeatability": self.error.mean,
            "level": (self.levels.mean - chance) / (units * repeats),
            "interaction": 0.0 if self.pooled else (self.interaction.mean - self.error.mean) / repeats,
            "unit": (self.units.mean - chance) / (levels * repeats),
        }


def analyse(values: Values, *, pooled: bool | None = None) -> Anova:
    """The analysis of a study; `pooled` None: as the test of what units and levels do together says."""
    units, levels, repeats = values.units, values.levels, values.repeats
    mean, cells = values.mean, values.cell_means
    of_units = levels * repeats * _squares(values.unit_means, mean)
    of_levels = units * repeats * _squares(values.level_means, mean)
    of_cells = repeats * _squares((one for row in cells for one in row), mean)
    of_repeats = math.fsum(
        _squares(cell, cells[unit][level])
        for unit, row in enumerate(values.by)
        for level, cell in enumerate(row)
    )
    together = max(0.0, of_cells - of_units - of_levels)
    repeat_row = Row("repeats", of_repeats, units * levels * (repeats - 1))
    interaction = _tested(Row("both together", together, (units - 1) * (levels - 1)), repeat_row)
    if pooled is None:
        pooled = interaction.chance is not None and interaction.chance > POOLED_ABOVE
    error = repeat_row
    if pooled:
        error = Row("pooled", together + of_repeats, interaction.freedom + repeat_row.freedom)
    against = error if pooled else interaction
    return Anova(
        _tested(Row("units", of_units, units - 1), against),
        _tested(Row("levels", of_levels, levels - 1), against),
        interaction,
        repeat_row,
        error,
        pooled,
        (units, levels, repeats),
    )


def _squares(values: Iterable[float], about: float) -> float:
    return math.fsum((value - about) ** 2 for value in values)


def _tested(row: Row, against: Row) -> Row:
    if against.squares <= 0:
        return row  # values without any scatter: nothing can be held against it
    f = row.mean / against.mean
    return Row(row.name, row.squares, row.freedom, f, chance_of(f, row.freedom, against.freedom))


def chance_of(f: float, freedom: int, against: int) -> float:
    """How often an F as large comes by chance."""
    # Only here: its import takes longer than all the rest.
    from scipy.special import fdtrc

    return float(fdtrc(freedom, against, f))
