"""Plans of ISO 2859-1, single sampling, normal and tightened, by lot size, inspection level and AQL.

The tables are data (`iso_2859_1.toml`, which names its source). Reduced inspection is not offered: its tables were not
at hand from a source that could be checked.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path

from rig.sampling.plan import NoSuchPlan, SinglePlan
from wiring.tomlfile import Contradiction, DataModel, load_toml_model

SMALLEST_LOT = 2
_FILE = Path(__file__).with_name("iso_2859_1.toml")
_CELL = re.compile(r"([1-9]\d*)/(\d+)")


class Severity(StrEnum):
    """How strictly lots of a supplier are inspected now."""

    NORMAL = "normal"
    TIGHTENED = "tightened"


class Level(StrEnum):
    """Inspection level: how far the sample grows with the lot. II unless agreed otherwise."""

    I = "I"  # noqa: E741  # as the standard writes it
    II = "II"
    III = "III"
    S1 = "S-1"
    S2 = "S-2"
    S3 = "S-3"
    S4 = "S-4"


class Tables(DataModel):
    """The tables as they stand in the file."""

    title: str
    source: str
    lots_up_to: tuple[int, ...]
    aql_percent: tuple[float, ...]
    letters: dict[Level, str]
    normal: dict[str, tuple[str, ...]]
    tightened: dict[str, tuple[str, ...]]

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield every row that is too short, and every cell that is no plan."""
        for level, row in self.letters.items():
            if len(row) != len(self.lots_up_to) + 1:
                yield Contradiction(("letters", level), "has not one letter for each lot size")
        for table in Severity:
            for letter, cells in self.of(table).items():
                if len(cells) != len(self.aql_percent) or not all(map(_CELL.fullmatch, cells)):
                    yield Contradiction((table, letter), "has not one plan, as 80/2, for each AQL")

    def of(self, severity: Severity) -> dict[str, tuple[str, ...]]:
        """The plans of one severity, by letter."""
        return self.normal if severity is Severity.NORMAL else self.tightened


@cache
def tables() -> Tables:
    """The tables, read once. Raises DataFileError where the file is damaged."""
    return load_toml_model(_FILE, Tables, what="sampling table")


@dataclass(frozen=True, slots=True)
class StandardPlan:
    """A plan of the standard, and how it was looked up.

    Attributes:
        letter: the sample size code letter of lot size and level.
        table: the plan as the table has it, arrows followed.
        plan: the same for this lot: no larger than it.

    """

    lot_size: int
    level: Level
    aql_percent: float
    severity: Severity
    letter: str
    table: SinglePlan
    plan: SinglePlan

    @property
    def letter_words(self) -> str:
        """The code letter, and whose plan it is where an arrow leads to another letter."""
        leads_to = _SIZES.get(self.table.sample_size, self.letter)
        return self.letter if leads_to == self.letter else f"{self.letter}, its arrow leads to {leads_to}"


_SIZES = dict(zip((2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800), "ABCDEFGHJKLMNP", strict=True))
"""The letter that has a sample of so many units (tables 2-A and 2-B)."""


def code_letter(lot_size: int, level: Level = Level.II) -> str:
    """The sample size code letter (table 1). Raises NoSuchPlan for a lot below 2."""
    if lot_size < SMALLEST_LOT:
        raise NoSuchPlan(
            f"a lot of {lot_size} has no plan in ISO 2859-1; allowed: {SMALLEST_LOT} or more; a single unit is tested"
        )
    return tables().letters[level][bisect_left(tables().lots_up_to, lot_size)]


def standard_plan(
    lot_size: int,
    aql_percent: float,
    *,
    level: Level = Level.II,
    severity: Severity = Severity.NORMAL,
) -> StandardPlan:
    """The plan of the standard for a lot (tables 2-A and 2-B).

    Raises NoSuchPlan for a lot below 2, an AQL that is not in the table, or a letter that is not (Q and R: lots above
    150,000 at level III, above 500,000 at level II).
    """
    letter = code_letter(lot_size, level)
    rows, known = tables().of(severity), tables().aql_percent
    if aql_percent not in known:
        allowed = ", ".join(f"{aql:g}" for aql in known)
        raise NoSuchPlan(f"AQL {aql_percent:g} % is not in the table; allowed: {allowed}")
    if letter not in rows:
        raise NoSuchPlan(
            f"a lot of {lot_size} at level {level} has code letter {letter}, which the table here does not have; "
            f"allowed: letters {min(rows)} to {max(rows)}; use a lower level or smaller lots"
        )
    sample_size, acceptance_number = map(int, rows[letter][known.index(aql_percent)].split("/"))
    table = SinglePlan(sample_size, acceptance_number)
    return StandardPlan(lot_size, level, aql_percent, severity, letter, table, table.for_lot(lot_size))
