"""How the working screen shares out its rows and columns, from a small terminal to one that is read from far."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Arrangement:
    """How the rows of a screen are shared out; `close` of those of the ruler are for a close look."""

    large: int
    said: int
    ruler: int
    close: int
    states: int

    @classmethod
    def of(cls, width: int, height: int) -> Arrangement:
        """The arrangement for a size."""
        if height >= 50 and width >= 150:
            return cls(10, 3, 17, 7, 46)
        if height >= 34:
            return cls(5, 3, 15, 6, 42)
        return cls(3, 3, 7, 0, 34)
