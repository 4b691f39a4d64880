"""What all screens have in common: a head, a body, a footer that names the keys that work now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.screen import Screen
from textual.widget import Widget

from rig.screen.view.commands import footer
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.wording import Words
from rig.screen.widgets import LinesView

if TYPE_CHECKING:
    from rig.screen.app import BenchApp


_MOST_NOTED = 3


class BenchScreen(Screen[None]):
    """A screen of the bench; `tick` is called ten times a second while it is the one that is seen."""

    DEFAULT_CSS = """
    BenchScreen { layout: vertical; overflow: hidden; }
    BenchScreen #keys { height: 2; }
    """

    @property
    def bench(self) -> BenchApp:
        """The application."""
        return cast("BenchApp", self.app)

    @property
    def words(self) -> Words:
        """The words of its language."""
        return self.bench.words

    def compose(self) -> ComposeResult:
        """Head, body, footer."""
        yield LinesView(id="head")
        yield from self.body()
        yield LinesView(id="keys")

    def body(self) -> Iterator[Widget]:
        """The widgets between head and footer."""
        yield from ()

    def heading(self) -> Line:
        """What the screen is about."""
        return ()

    def head(self, _width: int, /) -> Line:
        """The first line."""
        return self.heading()

    def commands(self) -> Mapping[str, str]:
        """The commands that work now: name of the command, and the catalogue key of what it does here."""
        raise NotImplementedError

    def do(self, name: str) -> None:
        """Do one of these commands."""

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something above the footer, on as few rows as it takes."""
        note = self.query_one("#note", LinesView)
        rows = wrapped(words, self.size.width - 2, _MOST_NOTED)
        note.take_rows(len(rows))
        note.show([line(Span(f" {row}", role)) for row in rows])

    def pick(self, key: str) -> None:
        """Choose what was clicked, by its key."""

    def tick(self) -> None:
        """Follow what has happened."""

    @property
    def can_paint(self) -> bool:
        """Whether it is there to be seen: a screen that is being left may still be told to paint."""
        seen = self.is_mounted and self.is_attached and self.is_current and self.size.width > 0
        return seen and bool(self.query("#head")) and bool(self.query("#keys"))

    def paint(self) -> None:
        """Paint head and footer; a screen adds its own."""
        width = self.size.width
        if not self.can_paint:
            return
        self.query_one("#head", LinesView).show([self.head(width)])
        self.query_one("#keys", LinesView).show(footer(self.commands(), self.words, width))

    def on_resize(self) -> None:
        """Paint for the new size."""
        self.call_after_refresh(self.paint)

    def on_screen_resume(self) -> None:
        """Paint what may have changed behind another screen."""
        self.call_after_refresh(self.paint)
