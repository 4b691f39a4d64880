"""Every command in one list, with its key: what works now can be taken, by arrow and Enter or by a few letters."""

from __future__ import annotations

import math
from collections.abc import Sequence

from textual import on

from rig.screen.base import BenchScreen
from rig.screen.extras import EXTRAS
from rig.screen.listing import ListScreen, Row
from rig.screen.view.commands import COMMANDS, key_of
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import Entry

_TYPED_S = 0.3
"""From the last letter to Enter; whoever is quicker is asked for Enter once more."""


class AllCommands(ListScreen):
    """What the screen below it could do, and what works everywhere."""

    LIST_SHARE = 0.7

    def __init__(self, below: BenchScreen) -> None:
        super().__init__()
        self._below = below
        self._typed_s = -math.inf

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('all.title')}", Role.STRONG))

    def rows(self) -> Sequence[Row]:
        """First what works where one comes from, then the rest, and last the keys that can only be pressed there."""
        works = self._works
        ordered = sorted(COMMANDS.values(), key=lambda one: one.name not in works)
        rows = [self._row_of(one.name, works=one.name in works) for one in ordered if one.name != "all"]
        extra = [Row(f"extra/{name}", line(f"{'':>5}  {self.words(f'command.{name}')}")) for name in EXTRAS]
        there = self._below.commands().items()
        keys = [Row("", self._pressed_there(name, does)) for name, does in there if name not in COMMANDS]
        return [*rows, *extra, *keys]

    @property
    def _works(self) -> frozenset[str]:
        return frozenset({*self._below.commands(), "stop"})

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """What the command does."""
        name = key.rpartition("/")[2]
        about = f"about.{name}"
        text = self.words(about) if self.words.has(about) else self.words(f"command.{name}")
        return [line(row) for row in wrapped(text, width - 1, rows)]

    @on(Entry.Changed, "#search")
    def _typed(self, message: Entry.Changed) -> None:
        self._typed_s = message.at_s

    def end_line(self, at_s: float, /) -> None:
        """A scanner's Enter comes with its letters: it finds a command, but only a person's Enter takes it."""
        if at_s - self._typed_s >= _TYPED_S:
            self.do("enter")
        elif self.chosen:
            what = self.words(f"command.{self.chosen.rpartition('/')[2]}")
            self.say(self.words("say.again", key=key_of("enter", self.words), what=what), Role.WISH)

    def take(self, key: str) -> None:
        """Go back to the screen below and do it there; what does not work there now is only said."""
        kind, _, name = key.partition("/")
        if kind == "key" and name not in self._works:
            self.say(self.words("all.not-now"), Role.WARN)
            return
        self.bench.go_back()
        if kind == "extra":
            EXTRAS[name](self.bench)
        else:
            self.bench.call_later(self.bench.action_command, name)

    def _pressed_there(self, name: str, does: str) -> Line:
        shown = f"{key_of(name, self.words):>5}  {self.words(f'key.{does}')}"
        return line(Span(f"  {shown}", Role.DIM))

    def _row_of(self, name: str, *, works: bool) -> Row:
        label = self._below.commands().get(name, name)
        text = self.words(f"command.{name}")
        if works and label != name and self.words.has(f"key.{label}"):
            text = f"{text} ({self.words(f'key.{label}')})"
        role = Role.PLAIN if works else Role.OFF_KEY
        off = "" if works else f"{self.words('all.not-now')} "
        return Row(f"key/{name}", line(Span(f"{key_of(name, self.words):>5}  {off}{text}", role)))
