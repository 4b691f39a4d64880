"""A screen with a page of text that scrolls."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from textual import events
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.view.lines import Line, Role, Span, beside, line
from rig.screen.widgets import LinesView

_WIDEST = 100
_SIDES = 2
_WHEEL = 3
_STEPS = {"up": -1, "down": 1, "home": -100_000, "end": 100_000}


class PageScreen(BenchScreen):
    """Up and Down, PgUp and PgDn scroll; the head tells how far it goes on."""

    DEFAULT_CSS = "PageScreen #page { height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._first = 0
        self._made: tuple[int, Sequence[Line]] = (0, ())

    def page(self, width: int, /) -> Iterator[Line]:
        """All that there is to read, in so many columns."""
        raise NotImplementedError

    def body(self) -> Iterator[Widget]:
        """The page."""
        yield LinesView(id="page")
        yield LinesView(id="note")

    def head(self, width: int, /) -> Line:
        """What this is, and which lines of how many are in view."""
        lines, rows = self._lines, self._rows
        if len(lines) <= rows:
            return self.heading()
        last = min(self._first + rows, len(lines))
        where = self.words("page.where", first=self._first + 1, last=last, all=len(lines))
        return beside(self.heading(), line(Span(f" {where} ", Role.DIM)), width)

    def commands(self) -> Mapping[str, str]:
        """Scroll and leave."""
        return {**self.scrolling(), **self.bench.everywhere()}

    def scrolling(self) -> dict[str, str]:
        """The keys that scroll, where there is more than is in view."""
        more = self.is_attached and len(self._lines) > self._rows
        return {"arrows": "scroll", "pages": "scroll", "ends": "scroll"} if more else {}

    def on_key(self, event: events.Key) -> None:
        """Scroll."""
        step = {**_STEPS, "pageup": 1 - self._rows, "pagedown": self._rows - 1}.get(event.key)
        if step is not None:
            event.stop()
            self.scroll(step)

    def on_mouse_scroll_up(self) -> None:
        """Scroll by the wheel."""
        self.scroll(-_WHEEL)

    def on_mouse_scroll_down(self) -> None:
        """Scroll by the wheel."""
        self.scroll(_WHEEL)

    def scroll(self, rows: int) -> None:
        """Let other lines come into view."""
        self._first += rows
        self.paint()

    def paint(self) -> None:
        """Paint the part of the page that is in view."""
        if not self.can_paint:
            return
        self._first = max(0, min(self._first, len(self._lines) - self._rows))
        super().paint()
        shown = self._lines[self._first : self._first + self._rows]
        self.query_one("#page", LinesView).show([line(" ", *one) for one in shown])

    def made_anew(self) -> None:
        """Let the page be made once more: there is something else to read."""
        self._made = (0, ())

    @property
    def _rows(self) -> int:
        return self.query_one("#page", LinesView).size.height or 1

    @property
    def _lines(self) -> Sequence[Line]:
        width = min(self.size.width - _SIDES, _WIDEST)
        if self._made[0] != width:
            self._made = (width, tuple(self.page(width)))
        return self._made[1]
