"""A sheet of formulas whose results have limits."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from rig.explained.sheet import Given, Sheet, Worked, given

_NAME = re.compile(r"[A-Za-z]\w*")
_SMALL = {"A": "mA", "s": "ms"}


@dataclass(frozen=True, slots=True)
class Limited:
    """One result and what it is held to.

    Attributes:
        worked: the formula with its numbers.
        least: it must not be less; None where that has no limit.
        most: it must not be more.
        limit_source: where the limit comes from.

    """

    worked: Worked
    least: float | None
    most: float | None
    limit_source: str

    @property
    def within(self) -> bool:
        """Whether the result, as printed, keeps its limits."""
        value = float(self.worked.result)
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)

    @property
    def limit(self) -> str:
        """The limits in words."""
        return self._limit(1.0, self.worked.unit)

    def as_metered(self) -> tuple[str, str]:
        """Result and limits as a meter shows them: in mA and ms where all of them are below 1 A or 1 s."""
        value, unit = float(self.worked.result), self.worked.unit
        if unit not in _SMALL or any(abs(one) >= 1.0 for one in (value, self.least or 0.0, self.most or 0.0)):
            return f"{self.worked.result} {unit}", self.limit
        return f"{1000 * value:.4g} {_SMALL[unit]}", self._limit(1000.0, _SMALL[unit])

    def _limit(self, factor: float, unit: str) -> str:
        least, most = (None if one is None else f"{factor * one:.6g}" for one in (self.least, self.most))
        if least is None:
            return f"at most {most} {unit}"
        return f"at least {least} {unit}" if most is None else f"{least} to {most} {unit}"


@dataclass(slots=True)
class LimitSheet:
    """Collects results with their limits, chapter by chapter."""

    _sheet: Sheet = field(default_factory=Sheet)
    _results: list[tuple[str, list[Limited]]] = field(default_factory=list)

    def begin(self, title: str) -> None:
        """Begin a chapter."""
        self._sheet.begin(title)
        self._results.append((title, []))

    def chapters(self) -> tuple[tuple[str, tuple[Limited, ...]], ...]:
        """Title and results of every chapter."""
        return tuple((title, tuple(results)) for title, results in self._results)

    def hold(
        self,
        what: str,
        formula: str,
        numbers: Mapping[str, Given],
        unit: str,
        limit_source: str,
        *,
        least: float | None = None,
        most: float | None = None,
    ) -> Given:
        """Work out `symbol = formula` to four digits, and hold the result to its limits.

        Of `numbers` only those are kept that the formula names.
        """
        named = set(_NAME.findall(formula.partition("=")[2]))
        used = {name: number for name, number in numbers.items() if name in named}
        result = self._sheet.work(what, formula, used, unit, digits=4)
        worked = self._sheet.chapters()[-1].formulas[-1]
        self._results[-1][1].append(Limited(worked, least, most, limit_source))
        return result


PROFILE = "rig profile"
MEMORY = "from memory"
PRACTICE = "common practice, no source"


def stated(value: float) -> Given:
    """A number of the rig profile."""
    return given(value, PROFILE)
