"""CSV that a spreadsheet takes as it is meant: RFC 4180, decimal points, no text that is worked out or acted upon."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from wiring.plainwords import printable

# What makes a spreadsheet take a text for a formula; an apostrophe before it keeps it a text. After OWASP, "CSV
# Injection" (owasp.org/www-community/attacks/CSV_Injection): = + - @, tab, carriage return, line feed, and the
# first four as full-width letters.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def csv_lines(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield a header line, then a line for each row; None is an empty cell, true and false are 1 and 0."""
    for row in chain((header,), rows):
        line = io.StringIO()
        csv.writer(line).writerow([_cell(value) for value in row])
        yield line.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, str):
        return harmless(value)
    if isinstance(value, bool):
        return int(value)
    return value


def harmless(text: str) -> str:
    """Text that no spreadsheet works out, and that no terminal acts upon: control characters as in `\\x1b`."""
    guard = "'" if text.startswith(_FORMULA_SIGNS) else ""
    return guard + printable(text, longest=len(text) * 10)
