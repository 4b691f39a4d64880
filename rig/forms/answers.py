"""Makes values of what a person types: numbers with a comma or a point, yes and no, one of several words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from rig.forms.interview import NotUnderstood
from wiring.plainwords import near_miss, shown

_NUMBER = re.compile(r"([+-]?[0-9]{1,12}(?:[.,][0-9]{1,12})?)\s*([^\s0-9]\S*)?")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_UNITS = {
    "mm": "mm",
    "s": "s",
    "hz": "Hz",
    "khz": "kHz",
    "c": "C",
    "percent": "%",
    "v": "V",
    "a": "A",
    "deg": "deg",
}
_YES, _NO = ("y", "yes", "true"), ("n", "no", "false")


def number(key: str, typed: str) -> float:
    """Return a number, with a decimal comma or point and perhaps the unit of `key` behind it; whole ones as int."""
    found = _NUMBER.fullmatch(typed)
    if found is None:
        raise NotUnderstood(f"{shown(typed)} is no number; allowed: digits, such as 400 or 0.5")
    figure, unit = found[1], _UNITS.get(key.rpartition("_")[2], "")
    if found[2] and found[2].casefold() != unit.casefold():
        raise NotUnderstood(
            f"{shown(typed)} is not in the unit asked for; allowed: a number {unit and 'in ' + unit}"
        )
    if _THOUSANDS.fullmatch(figure):
        point, none = figure.replace(",", "."), figure.replace(",", "")
        raise NotUnderstood(f"{figure} may be {point} or {none}; write it with a point, or without a comma")
    value = float(figure.replace(",", "."))
    return int(value) if value.is_integer() else value


def text(typed: str) -> str:
    """Return what was typed; bytes of another encoding reach Python as lone surrogates."""
    if any("\ud800" <= letter <= "\udfff" for letter in typed):
        raise NotUnderstood("that is not UTF-8 text; allowed: letters as the terminal sends them in UTF-8")
    return typed


def texts(typed: str) -> list[str]:
    """Return what was typed between commas."""
    return [word.strip() for word in text(typed).split(",") if word.strip()]


def yes_or_no(typed: str) -> bool:
    """Return whether the answer is yes."""
    word = typed.casefold()
    if word not in _YES + _NO:
        raise NotUnderstood(f"{shown(typed)} is neither; allowed: y or n")
    return word in _YES


def show_yes_or_no(value: bool) -> str:
    """Return what a person would type."""
    return "y" if value else "n"


def one_of(choices: Sequence[str], typed: str) -> str:
    """Return the choice that was typed as itself, in small or capital letters, or by its number from 1."""
    if typed.isascii() and typed.isdigit() and 1 <= int(typed[:4]) <= len(choices):
        return choices[int(typed) - 1]
    for choice in choices:
        if choice.casefold() == typed.casefold():
            return choice
    raise NotUnderstood(
        f"{shown(typed)} is not among these{near_miss(typed, choices)}; allowed: {', '.join(choices)}"
    )


def some_of(choices: Sequence[str], typed: str) -> list[str]:
    """Return the choices that were typed, with commas or spaces between them."""
    return [one_of(choices, word) for word in re.split(r"[,\s]+", typed) if word]


def gpio_line(typed: str) -> str:
    """Return the name of a line: `17` and `gpio17` mean `GPIO17`."""
    word = typed.upper()
    return f"GPIO{word}" if word.isdigit() else word


def show_figure(value: Any) -> str:
    """Return a figure without a needless decimal point."""
    return f"{value:g}" if isinstance(value, float) else str(value)
