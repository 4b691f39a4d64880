"""Large letters out of half blocks, readable from two metres; every terminal and text console has them."""

from __future__ import annotations

from rig.screen.view.lines import columns

_HEIGHT = 5
# Five rows of a letter from the top; # is ink.
_PATTERNS = {
    "A": " ## /#  #/####/#  #/#  #", "B": "### /#  #/### /#  #/### ", "C": " ###/#   /#   /#   / ###",
    "D": "### /#  #/#  #/#  #/### ", "E": "####/#   /### /#   /####", "F": "####/#   /### /#   /#   ",
    "G": " ###/#   /# ##/#  #/ ###", "H": "#  #/#  #/####/#  #/#  #", "I": "#/#/#/#/#",
    "J": "   #/   #/   #/#  #/ ## ", "K": "#  #/# # /##  /# # /#  #", "L": "#   /#   /#   /#   /####",
    "M": "#   #/## ##/# # #/#   #/#   #", "N": "#   #/##  #/# # #/#  ##/#   #", "O": " ## /#  #/#  #/#  #/ ## ",
    "P": "### /#  #/### /#   /#   ", "Q": " ## /#  #/#  #/# ##/ ###", "R": "### /#  #/### /# # /#  #",
    "S": " ###/#   / ## /   #/### ", "T": "#####/  #  /  #  /  #  /  #  ", "U": "#  #/#  #/#  #/#  #/ ## ",
    "V": "#   #/#   #/#   #/ # # /  #  ", "W": "#   #/#   #/# # #/## ##/#   #", "X": "#   #/ # # /  #  / # # /#   #",
    "Y": "#   #/ # # /  #  /  #  /  #  ", "Z": "####/  # / #  /#   /####",
    "\u00c4": "#  #/ ## /#  #/####/#  #", "\u00d6": "#  #/ ## /#  #/#  #/ ## ", "\u00dc": "#  #/    /#  #/#  #/ ## ",
    "0": " ## /#  #/#  #/#  #/ ## ", "1": " #/##/ #/ #/ #", "2": "### /   #/ ## /#   /####",
    "3": "### /   #/ ## /   #/### ", "4": "#  #/#  #/####/   #/   #", "5": "####/#   /### /   #/### ",
    "6": " ## /#   /### /#  #/ ## ", "7": "####/   #/  # / #  / #  ", "8": " ## /#  #/ ## /#  #/ ## ",
    "9": " ## /#  #/ ###/   #/ ## ", "m": "     /     /#### /# # #/# # #", " ": "  /  /  /  /  ",
    "-": "   /   /###/   /   ", "+": "   / # /###/ # /   ", ".": " / / / /#", ",": "  /  /  / #/# ",
    ":": " /#/ /#/ ", "?": "### /   #/ ## /    / #  ", "!": "#/#/#/ /#", "/": "   #/  # / #  /#   /    ",
    "'": "#/#/ / / ", "=": "   /###/   /###/   ", "_": "    /    /    /    /####", "x": "   /   /# #/ # /# #",
}  # fmt: skip


def large(text: str, width: int, rows: int) -> list[str]:
    """The text as large as it fits into so many columns and rows, centred in them; itself where it does not fit.

    Three rows are the least; letters that there is no pattern for are left out.
    """
    for across, down in ((4, 4), (2, 2), (1, 1)):
        drawn = _drawn(text, across, down)
        if len(drawn) <= rows and len(drawn[0]) <= width:
            return _centred(drawn, width, rows)
    return _centred([text[:width]], width, rows)


def _drawn(text: str, across: int, down: int) -> list[str]:
    """Each dot `across` columns wide and `down` half rows high."""
    letters = [_PATTERNS[one].split("/") for one in text if one in _PATTERNS]
    dots = [" ".join(letter[row] for letter in letters) for row in range(_HEIGHT)]
    wide = ["".join(dot * across for dot in row) for row in dots]
    high = [row for row in wide for _ in range(down)]
    if len(high) % 2:
        high.append(" " * len(wide[0]))
    return ["".join(map(_half, *pair)) for pair in zip(high[::2], high[1::2], strict=True)]


def _half(upper: str, lower: str) -> str:
    return {"  ": " ", "# ": "\u2580", " #": "\u2584", "##": "\u2588"}[upper + lower]


def _centred(drawn: list[str], width: int, rows: int) -> list[str]:
    above = (rows - len(drawn)) // 2
    blank = " " * width
    body = [row.center(width) if columns(row) == len(row) else row for row in drawn]
    return [*[blank] * above, *body, *[blank] * (rows - above - len(drawn))]
