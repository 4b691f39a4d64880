"""Reads the formulas of a printed plan back, with nothing but the printed text."""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Printed:
    """One formula as it stands on the terminal."""

    symbol: str
    formula: str
    numbers: str
    result: str


_BEGIN = re.compile(r"    (\w+) = (.*)")
_RESULT = re.compile(r"(-?[0-9.]+(?:e-?[0-9]+)?)(?: \S.*)?")


def printed_formulas(text: str) -> list[Printed]:
    """Every formula behind the heading of the explanation; the lines of each are put together again."""
    lines = text.partition("worked out, with the figures")[2].splitlines()
    found = []
    for index, line in enumerate(lines):
        begin = _BEGIN.fullmatch(line)
        if begin is None:
            continue
        whole, further = begin[2], iter(lines[index + 1 :])
        while whole.count(" = ") < 2:
            whole += " " + next(further).strip()
        formula, numbers, result = whole.split(" = ")
        number = _RESULT.fullmatch(result)
        assert number, result
        found.append(Printed(begin[1], formula, numbers, number[1]))
    return found
