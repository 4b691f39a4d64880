"""Help: how to work with the screen, every key, and the cautions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from textual import events
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.view.commands import COMMANDS
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import LinesView

_PARTS = ("cautions", "work", "devices", "marks")
_STEPS = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}


class HelpScreen(BenchScreen):
    """A page that scrolls."""

    DEFAULT_CSS = "HelpScreen #page { height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._first = 0

    def body(self) -> Iterator[Widget]:
        """The page."""
        yield LinesView(id="page")
        yield LinesView(id="note")

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('help.title')}", Role.STRONG))

    def commands(self) -> Mapping[str, str]:
        """Scroll and leave."""
        return {"arrows": "scroll", **self.bench.everywhere()}

    def on_key(self, event: events.Key) -> None:
        """Scroll."""
        if event.key in _STEPS:
            event.stop()
            self._first = max(0, self._first + _STEPS[event.key])
            self.paint()

    def paint(self) -> None:
        """Paint the part of the page that is in view."""
        super().paint()
        if not self.can_paint:
            return
        page = self.query_one("#page", LinesView)
        lines = list(self._page(min(self.size.width - 2, 100)))
        rows = page.size.height or self.size.height - 3
        self._first = min(self._first, max(0, len(lines) - rows))
        page.show(lines[self._first : self._first + rows])

    def _page(self, width: int) -> Iterator[Line]:
        words = self.words
        for part in _PARTS:
            role = Role.WARN if part == "cautions" else Role.STRONG
            yield line(Span(f" {words(f'help.{part}')}", role))
            for sentence in words(f"help.{part}-text").split("\n"):
                yield from (line(f"  {text}") for text in wrapped(sentence, width - 3, 6))
            yield line()
        yield line(Span(f" {words('help.keys')}", Role.STRONG))
        for command in COMMANDS.values():
            what = words(f"command.{command.name}")
            yield line("  ", Span(f"{command.shown:>4}", Role.KEY), f"  {what}")
