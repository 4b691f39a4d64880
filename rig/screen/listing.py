"""A screen with a list to choose from, a field that narrows it down, and a panel about what is chosen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from textual import events, on
from textual.containers import Horizontal
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.view.commands import ROW
from rig.screen.view.lines import Line, Role, Span, line, text_of
from rig.screen.view.serials import read_scan
from rig.screen.widgets import Entry, LinesView

_STEPS = {"up": -1, "down": 1}


@dataclass(frozen=True, slots=True)
class Row:
    """One thing to choose; `key` names it to the screen, an empty one is a heading."""

    key: str
    line: Line


class ListScreen(BenchScreen):
    """Up and Down choose, Enter takes; whatever is typed narrows the list down."""

    DEFAULT_CSS = """
    ListScreen #both { height: 1fr; }
    ListScreen #list { height: 100%; width: 1fr; }
    ListScreen #side { height: 100%; width: 1fr; margin-left: 1; }
    """
    LIST_SHARE = 0.5

    def __init__(self) -> None:
        super().__init__()
        self._listed: Sequence[Row] = ()
        self.chosen = ""

    def body(self) -> Iterator[Widget]:
        """The field, the list and the panel."""
        yield Entry(id="search", label=self.words("key.search"))
        yield Horizontal(LinesView(id="list"), LinesView(id="side"), id="both")
        yield LinesView(id="note")

    # What a screen says of itself.

    def rows(self) -> Sequence[Row]:
        """Everything that there is to choose from."""
        raise NotImplementedError

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """The panel about what is chosen."""
        raise NotImplementedError

    def take(self, key: str) -> None:
        """Do what Enter means."""

    # What all of them do.

    def on_mount(self) -> None:
        """Let the field have the focus: a scan ends up in it."""
        self.query_one("#search", Entry).focus()
        self.look_again()

    def commands(self) -> Mapping[str, str]:
        """Take, choose, back, and the other screens."""
        return {**({"enter": "take"} if self.chosen else {}), **self.choosing(), **self.bench.everywhere()}

    def choosing(self) -> dict[str, str]:
        """The keys that choose another row, where there is another."""
        several = sum(bool(row.key) for row in self._listed) > 1
        return {"arrows": "choose", "pages": "choose"} if several else {}

    def do(self, name: str) -> None:
        """Take what is chosen."""
        if name == "enter" and self.chosen:
            self.take(self.chosen)

    def look_again(self) -> None:
        """Make the list anew."""
        wanted = read_scan(self.query_one("#search", Entry).text).text.casefold().split()
        everything = self.rows()
        self._listed = [
            row
            for row in everything
            if not wanted or (row.key and all(one in text_of(row.line).casefold() for one in wanted))
        ]
        keys = [row.key for row in self._listed if row.key]
        if self.chosen not in keys:
            self.chosen = keys[0] if keys else ""
        self.paint()

    @on(Entry.Changed, "#search")
    def _narrowed(self) -> None:
        self.look_again()

    @on(Entry.Entered, "#search")
    def _entered(self, message: Entry.Entered) -> None:
        self.end_line(message.at_s)

    def end_line(self, _at_s: float, /) -> None:
        """Take what is chosen: Enter was pressed then, or sent by a scanner."""
        self.do("enter")

    def on_key(self, event: events.Key) -> None:
        """Choose another row."""
        page = max(1, self.query_one("#list").size.height - 1)
        step = {**_STEPS, "pageup": -page, "pagedown": page}.get(event.key)
        if step is not None:
            event.stop()
            self._choose(step)

    def on_mouse_scroll_up(self) -> None:
        """Choose the row above."""
        self._choose(-1)

    def on_mouse_scroll_down(self) -> None:
        """Choose the row below."""
        self._choose(1)

    def pick(self, key: str) -> None:
        """Choose a row by the mouse; a second click takes it."""
        if key == self.chosen:
            self.take(key)
        else:
            self.chosen = key
            self.paint()

    def _choose(self, step: int) -> None:
        keys = [row.key for row in self._listed if row.key]
        if keys:
            at = keys.index(self.chosen) if self.chosen in keys else 0
            self.chosen = keys[min(max(at + step, 0), len(keys) - 1)]
            self.paint()

    def paint(self) -> None:
        """Paint the part of the list around what is chosen, and the panel."""
        super().paint()
        if not self.can_paint:
            return
        view, side = self.query_one("#list", LinesView), self.query_one("#side", LinesView)
        width = round(self.size.width * self.LIST_SHARE)
        view.take_columns(width)
        height = view.size.height or self.size.height - 4
        at = next((i for i, row in enumerate(self._listed) if row.key == self.chosen), 0)
        first = max(0, min(at - height // 2, len(self._listed) - height))
        view.show([self._row(row) for row in self._listed[first : first + height]])
        panel = self.side(self.chosen, self.size.width - width - 2, height) if self.chosen else ()
        side.show(panel)

    def _row(self, row: Row) -> Line:
        if not row.key:
            return row.line
        chosen = row.key == self.chosen
        command = f"{ROW}{row.key}"
        spans = (
            span._replace(command=command, role=Role.CHOSEN if chosen else span.role) for span in row.line
        )
        return line(Span("> " if chosen else "  ", Role.CHOSEN if chosen else Role.PLAIN, command), *spans)
