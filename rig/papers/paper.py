"""What stands on a paper, in words that are final: whatever puts it on a page or a screen adds and works out nothing.

`rig.papers.paper_pdf` makes a PDF of it, `rig.papers.paper_html` one file for a browser. So both say the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rig.events import Verdict
from rig.papers.chart import Chart


class Tone(StrEnum):
    """How words are set off; the colour only underlines what the words say (IEC 60073)."""

    PLAIN = "plain"
    GOOD = "good"
    BAD = "bad"
    UNDECIDED = "undecided"
    WARNING = "warning"
    STRONG = "strong"


def tone_of(verdict: Verdict | None) -> Tone:
    """How a verdict is set off."""
    return Tone.PLAIN if verdict is None else Tone(verdict)


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table; `rank` is what it is sorted by, where that is not its words."""

    words: str
    tone: Tone = Tone.PLAIN
    rank: float | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; `weight` is its share of the width. The first column names the row."""

    title: str
    weight: float
    number: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table; by `filter_by` a reader may filter it, where it is long enough to want that."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    filter_by: str = ""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what belongs to each."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence or more."""

    words: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Stated:
    """What the whole paper comes to, in large letters, with a sentence below."""

    word: str
    sentence: str
    tone: Tone


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines for a person to sign on, by what each is signed for."""

    of: tuple[str, ...]


Block = Grid | Pairs | Said | Stated | Signatures | Chart


@dataclass(frozen=True, slots=True)
class Part:
    """A part under a heading; one without a title stands at the head of the paper."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Paper:
    """A whole paper.

    Attributes:
        kind: what paper it is, such as `Order report`.
        name: whose it is: a serial, or the number of an order.
        warning: what must be read before all else; empty where there is nothing.
        foot: what stands at the foot of every page.

    """

    kind: str
    name: str
    warning: str
    parts: tuple[Part, ...]
    foot: str
