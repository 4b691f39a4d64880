"""What a gauge study is: which units, by whom or in which settings of the rig, how often, in which order; pure."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

FEWEST_UNITS, FEWEST_LEVELS, FEWEST_REPEATS = 2, 2, 2
MOST_UNITS, MOST_LEVELS, MOST_REPEATS = 50, 10, 10
LONGEST_NAME = 80


class Factor(StrEnum):
    """What changes between the values of one unit, apart from chance."""

    PERSON = "person"
    SETTING = "setting"


@dataclass(frozen=True, slots=True)
class Trial:
    """One unit measured once.

    Attributes:
        number: its place in the order of work, from 1.
        level: the person, or the setting of the rig.
        repeat: the round in which it is done, from 1.

    """

    number: int
    unit: str
    level: str
    repeat: int


@dataclass(frozen=True, slots=True)
class Design:
    """A study as it was laid out before its first value.

    Attributes:
        study: the number under which it is recorded.
        order: number of the order whose units are studied; `edge` is what is measured of each.
        low_mm, high_mm: between these an edge lies within the tolerance of the order, on the bench.
        trials: unit, level and round of every trial, in the order of work drawn from `seed`.
        calibration: what was in force on the nest, as it is kept in the record; None where there was none.

    """

    study: str
    order: str
    sensor_type: str
    rig: str
    nest: str
    edge: str
    low_mm: float
    high_mm: float
    factor: Factor
    units: tuple[str, ...]
    levels: tuple[str, ...]
    repeats: int
    seed: int
    trials: tuple[Trial, ...]
    calibration: dict[str, Any] | None = None

    @property
    def tolerance_mm(self) -> float:
        """Width of the tolerance, from limit to limit."""
        return self.high_mm - self.low_mm

    def content(self) -> dict[str, Any]:
        """What is kept in the record."""
        rows = [[trial.unit, trial.level, trial.repeat] for trial in self.trials]
        lists = {"units": list(self.units), "levels": list(self.levels), "trials": rows}
        return {**asdict(self), **lists, "factor": str(self.factor)}

    @classmethod
    def from_content(cls, content: Mapping[str, Any]) -> Design:
        """The same, read back; raises KeyError, TypeError or ValueError for what is no design."""
        trials = tuple(Trial(number, *row) for number, row in enumerate(content["trials"], start=1))
        units, levels = tuple(content["units"]), tuple(content["levels"])
        more = {"factor": Factor(content["factor"]), "units": units, "levels": levels, "trials": trials}
        return cls(**{**content, **more})


def drawn_trials(units: Sequence[str], levels: Sequence[str], repeats: int, seed: int) -> tuple[Trial, ...]:
    """Every unit by every level so often, round by round: levels by lot in each round, units by lot in each of these.

    So nobody measures one unit twice in a row, and people change places three times a round, not at every unit.
    """
    draw = random.Random(f"gauge study {seed}")
    return tuple(_numbered(_rounds(draw, units, levels, repeats)))


def _numbered(rows: Iterator[tuple[str, str, int]]) -> Iterator[Trial]:
    for number, row in enumerate(rows, start=1):
        yield Trial(number, *row)


def _rounds(
    draw: random.Random, units: Sequence[str], levels: Sequence[str], repeats: int
) -> Iterator[tuple[str, str, int]]:
    for repeat in range(1, repeats + 1):
        for level in draw.sample(levels, len(levels)):
            for unit in draw.sample(units, len(units)):
                yield unit, level, repeat


def objections(units: Sequence[str], levels: Sequence[str], repeats: int) -> Iterator[str]:
    """What stands against a design, each with what is allowed."""
    yield from _count("unit", units, FEWEST_UNITS, MOST_UNITS)
    yield from _count("person or setting", levels, FEWEST_LEVELS, MOST_LEVELS)
    if not FEWEST_REPEATS <= repeats <= MOST_REPEATS:
        yield f"each unit {repeats} times; allowed: {FEWEST_REPEATS} to {MOST_REPEATS} times"


def _count(what: str, names: Sequence[str], fewest: int, most: int) -> Iterator[str]:
    if not fewest <= len(names) <= most:
        yield f"{len(names)} names ({what}); allowed: {fewest} to {most}"
    for name in names:
        if not name.isprintable() or len(name) > LONGEST_NAME:
            yield f"{what} {name[:LONGEST_NAME]!r}; allowed: up to {LONGEST_NAME} characters that can be printed"
    folded = [name.casefold() for name in names]
    for index, name in enumerate(names):
        if folded.index(name.casefold()) < index:
            yield f"{what} {name} is named twice; allowed: each once"
