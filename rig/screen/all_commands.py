"""Every command in one list, with its key: what works now can be taken, by arrow and Enter or by a few letters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rig.screen.base import BenchScreen
from rig.screen.extras import EXTRAS
from rig.screen.listing import ListScreen, Row
from rig.screen.view.commands import COMMANDS, key_of
from rig.screen.view.lines import Line, Role, Span, line, wrapped


class AllCommands(ListScreen):
    """What the screen below it could do, and what works everywhere."""

    LIST_SHARE = 0.6

    def __init__(self, below: BenchScreen) -> None:
        super().__init__()
        self._below = below

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('all.title')}", Role.STRONG))

    def commands(self) -> Mapping[str, str]:
        """Those of a list."""
        return {"enter": "take", "arrows": "choose", **self.bench.everywhere()}

    def rows(self) -> Sequence[Row]:
        """First what works where one comes from, then the rest."""
        works = {name for name in self._below.commands() if name in COMMANDS} | {"stop"}
        ordered = sorted(COMMANDS.values(), key=lambda one: one.name not in works)
        rows = [self._row_of(one.name, works=one.name in works) for one in ordered if one.name != "all"]
        extra = [Row(f"extra/{name}", line(self.words(f"command.{name}"))) for name in EXTRAS]
        return [*rows, *extra]

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """What the command does."""
        name = key.rpartition("/")[2]
        about = f"about.{name}"
        text = self.words(about) if self.words.has(about) else self.words(f"command.{name}")
        return [line(row) for row in wrapped(text, width - 1, rows)]

    def take(self, key: str) -> None:
        """Go back to the screen below and do it there."""
        kind, _, name = key.partition("/")
        self.bench.go_back()
        if kind == "extra":
            EXTRAS[name](self.bench)
        else:
            self.bench.call_later(self.bench.action_command, name)

    def _row_of(self, name: str, *, works: bool) -> Row:
        label = self._below.commands().get(name, name)
        text = self.words(f"command.{name}")
        if works and label != name and self.words.has(f"key.{label}"):
            text = f"{text} ({self.words(f'key.{label}')})"
        role = Role.PLAIN if works else Role.OFF_KEY
        off = "" if works else f"{self.words('all.not-now')} "
        return Row(f"key/{name}", line(Span(f"{key_of(name, self.words):>5}  {off}{text}", role)))
