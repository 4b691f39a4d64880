"""How the working screen shares out its rows and columns, from a small terminal to one that is read from far."""

from __future__ import annotations

from dataclasses import dataclass

from rig.screen.view.lines import Line, Role, Span, line, wrapped

_SAID, _MOST_SAID = 3, 5
_MOST_MORE = 4


@dataclass(frozen=True, slots=True)
class Arrangement:
    """How the rows of a screen are shared out; `close` of those of the ruler are for a close look."""

    large: int
    said: int
    ruler: int
    close: int
    states: int

    @classmethod
    def of(cls, width: int, height: int, said: int = _SAID) -> Arrangement:
        """The arrangement for a size; where more rows have to be said, a small ruler makes room."""
        if height >= 50 and width >= 150:
            return cls(10, 3, 17, 7, 46)
        if height >= 34:
            return cls(5, 3, 15, 6, 42)
        said = min(max(_SAID, said), _MOST_SAID)
        return cls(3, said, 10 - said, 0, 34)


def said_rows(sentence: str, more: str, width: int) -> list[Line]:
    """The sentence of an instruction and what to know about it, on as few rows as they take."""
    plain = wrapped(more, width, _MOST_MORE) if more else []
    strong = wrapped(sentence, width, _MOST_SAID - len(plain))
    return [
        *(line(Span(f" {text}", Role.STRONG)) for text in strong),
        *(line(Span(f" {text}", Role.PLAIN)) for text in plain),
    ]
