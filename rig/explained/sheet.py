"""A sheet of formulas, each with its numbers put in, its result, and where numbers and formula come from."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field

from rig.explained.calculator import worked_out

_NAME = re.compile(r"(?<![\w.])[A-Za-z]\w*")


@dataclass(frozen=True, slots=True)
class Given:
    """A number as it is printed, and where it comes from; without `source` it was worked out above."""

    text: str
    source: str = ""

    @property
    def value(self) -> float:
        """The number."""
        return float(self.text)


@dataclass(frozen=True, slots=True)
class Worked:
    """One formula with its numbers.

    Attributes:
        what: what is worked out, in words.
        symbol: its name in formulas further down.
        formula: the formula in names.
        numbers: the same with the numbers put in; `rig.explained.calculator` can work it out.
        result: what that gives, rounded as printed.
        inputs: names, numbers and sources of what does not come from a formula above.
        source: where the formula comes from.
        then: what is made of the result, in words.

    """

    what: str
    symbol: str
    formula: str
    numbers: str
    result: str
    unit: str
    inputs: tuple[tuple[str, Given], ...]
    source: str
    then: str = ""


@dataclass(frozen=True, slots=True)
class Chapter:
    """Formulas that belong together."""

    title: str
    formulas: tuple[Worked, ...]


def given(value: float, source: str) -> Given:
    """A number from a file or a standard."""
    return Given(f"{value:.10g}", source)


@dataclass(slots=True)
class Sheet:
    """Collects formulas in chapters; a result goes into later formulas exactly as it is printed."""

    _chapters: list[tuple[str, list[Worked]]] = field(default_factory=list)
    _known: dict[Hashable, Given] = field(default_factory=dict)

    def begin(self, title: str) -> None:
        """Begin a chapter."""
        self._chapters.append((title, []))

    def chapters(self) -> tuple[Chapter, ...]:
        """Every chapter that holds a formula."""
        return tuple(Chapter(title, tuple(formulas)) for title, formulas in self._chapters if formulas)

    def once(self, key: Hashable, work: Callable[[], Given]) -> Given:
        """The result of `work`, done only for the first to ask for `key`."""
        if key not in self._known:
            self._known[key] = work()
        return self._known[key]

    def work(
        self,
        what: str,
        formula: str,
        numbers: Mapping[str, Given],
        unit: str,
        source: str = "",
        *,
        digits: int = 6,
        then: str = "",
    ) -> Given:
        """Work out `symbol = formula` and return the result, rounded to so many significant digits."""
        symbol, names = (part.strip() for part in formula.split("=", 1))
        line = _NAME.sub(lambda name: _put_in(name[0], numbers), names)
        result = f"{worked_out(line):.{digits}g}"
        inputs = tuple((name, number) for name, number in numbers.items() if number.source)
        self._chapters[-1][1].append(Worked(what, symbol, names, line, result, unit, inputs, source, then))
        return Given(result)


def _put_in(name: str, numbers: Mapping[str, Given]) -> str:
    number = numbers.get(name)
    if number is None:
        return name
    return f"({number.text})" if number.text.startswith("-") else number.text
