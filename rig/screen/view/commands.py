"""Every command with its key: one table for keys, footer and the list of all keys.

Function keys only, so that what a scanner types is never a command, and none that a usual terminal keeps for
itself (F10 opens menus, F11 fills the screen).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from types import MappingProxyType

from rig.screen.view.lines import Line, Role, Span, joined, line
from rig.screen.view.wording import Words


@dataclass(frozen=True, slots=True)
class Command:
    """One thing that a key does.

    Attributes:
        name: how the program calls it, and its key in the catalogue.
        key: the key in the words of the library that reads keys.
        shown: the key as the footer names it.
        energises: whether something may be energised by it: it takes two steps then.

    """

    name: str
    key: str
    shown: str
    energises: bool = False


STOP = Command("stop", "f8", "F8")

COMMANDS: Mapping[str, Command] = MappingProxyType(
    {
        one.name: one
        for one in (
            Command("help", "f1", "F1"),
            Command("begin", "f2", "F2", energises=True),
            Command("orders", "f3", "F3"),
            Command("units", "f4", "F4"),
            Command("rig", "f5", "F5"),
            Command("all", "f6", "F6"),
            Command("aside", "f7", "F7"),
            STOP,
            Command("hands", "f9", "F9"),
            Command("leave", "f12", "F12"),
            Command("back", "escape", "Esc"),
            Command("who", "insert", "Ins"),
        )
    }
)


EVERYWHERE = ("back", "help", "orders", "units", "rig", "all", "who", "leave")
"""What leads to other screens: it keeps its own row, so that it is found without looking for it."""


ROW = "row/"
"""Begins the command of each row that can be chosen, which the mouse gives; the key of the row follows."""

PRESS = "press/"
"""Begins the command that stands for a key which the screen itself reads, so that it can be clicked."""

_READ_BY_SCREENS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "arrows": ("up", "down"),
        "pages": ("pageup", "pagedown"),
        "ends": ("home", "end"),
        "sides": ("left", "right"),
        "end": ("end",),
        "tab": ("tab",),
    }
)


def key_of(name: str, words: Words) -> str:
    """The key of a command as it stands on the keyboard."""
    return words.of("keyname", name) if words.has(f"keyname.{name}") else COMMANDS[name].shown


def footer(commands: Mapping[str, str], words: Words, width: int) -> tuple[Line, Line]:
    """The keys that work now, by command name with the catalogue key of what each does.

    First stop and what belongs to this moment, below it what leads elsewhere. Some names are of keys that the screen
    itself reads. What has no room is left out from the end; F6 lists all.
    """
    stop = line(Span(f" {STOP.shown} {words('key.stop')} ", Role.STOP_KEY, "stop"))
    here = [stop, *_groups({name: key for name, key in commands.items() if name not in EVERYWHERE}, words)]
    elsewhere = _groups({name: key for name, key in commands.items() if name in EVERYWHERE}, words)
    room = width - 1
    gap = "  " if len(joined(elsewhere, "  ", room)) == len(joined(elsewhere, " ", room)) else " "
    return joined(here, "  ", width), (Span(" "), *joined(elsewhere, gap, room))


def _groups(commands: Mapping[str, str], words: Words) -> list[Line]:
    """Keys with what they do; those that do the same stand together."""
    return [
        line(*_keys(names, words), Span(f" {words(f'key.{key}')}", Role.PLAIN, _clicked(names[-1])))
        for key, names in _by_what_they_do(commands)
    ]


def _by_what_they_do(commands: Mapping[str, str]) -> list[tuple[str, list[str]]]:
    return [(key, [name for name, _ in some]) for key, some in groupby(commands.items(), itemgetter(1))]


def _keys(names: Sequence[str], words: Words) -> Iterator[Span]:
    for number, name in enumerate(names):
        if number:
            yield Span(" ")
        pressed = [f"{PRESS}{key}" for key in _READ_BY_SCREENS.get(name, ())] or [name]
        shown = key_of(name, words).split("/") if len(pressed) > 1 else [key_of(name, words)]
        for place, (text, command) in enumerate(zip(shown, pressed, strict=True)):
            yield Span(f"/{text}" if place else text, Role.KEY, command)


def _clicked(name: str) -> str:
    """What a click on the words beside a key does: nothing where it would have to choose between two keys."""
    keys = _READ_BY_SCREENS.get(name, ())
    return (f"{PRESS}{keys[0]}" if len(keys) == 1 else "") if keys else name
