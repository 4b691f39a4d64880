"""Another instrument at the port than the one that should be there, told by how it answers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

WHO_ARE_YOU: Final = ("*IDN?", "WHO")
"""Questions that do no harm anywhere, to hear who is there: IEEE 488.2 for a supply, ours for a gauge.

A stage's controller says of both that it does not understand.
"""

_SIGNS = {
    "gauge": re.compile(r"GAUGE .*|POS .*|WHAT"),
    "supply": re.compile(r'[^,]+(,[^,]*){3,}|[+-]?\d+,".*"'),
    "stage": re.compile(r"(ok|error|alarm)\b.*|X: ?-?\d.*", re.IGNORECASE),
}


def sounds_like(line: str) -> str | None:
    """What kind of instrument says such a line: gauge, supply or stage; None if it may be anything."""
    return next((kind for kind, sign in _SIGNS.items() if sign.fullmatch(line)), None)


def foreign_kind(lines: Sequence[str], own: str) -> str | None:
    """Another kind of instrument than `own` that the lines sound like."""
    heard = {kind for line in lines if (kind := sounds_like(line)) is not None}
    return None if own in heard else next(iter(sorted(heard)), None)


def only_echo(question: str, lines: Sequence[str]) -> bool:
    """Whether nothing came back but what was sent."""
    return bool(lines) and all(line == question for line in lines)
