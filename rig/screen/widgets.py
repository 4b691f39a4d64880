"""The two widgets that the screens are made of: lines of text, and a field for a line of input.

Both paint only the rows that have changed, which keeps a slow line quiet.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, cast

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from rig.papers.label_code import EOT, GS, HEAD, RS
from rig.screen.looks import Look
from rig.screen.view.lines import Line, Role, Span, columns, cut, fitted, line, printable

if TYPE_CHECKING:
    from rig.screen.app import BenchApp

_LONGEST_INPUT = 200
# What a scanner sends between the data of a label's code, as the library that reads keys calls them.
_SEPARATORS = {"ctrl+right_square_bracket": GS, "ctrl+circumflex_accent": RS, "ctrl+d": EOT}
_BESIDE_TEXT = 6


class LinesView(Widget):
    """Shows lines; a fill covers the whole of it."""

    DEFAULT_CSS = "LinesView { height: 1; width: 100%; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  (the name that the library gives it)
        super().__init__(id=id)
        self.lines: Sequence[Line] = ()
        self.fill: Role | None = None
        self._styles: dict[tuple[str, Role, Role | None], Style] = {}

    def show(self, lines: Sequence[Line], fill: Role | None = None) -> None:
        """Show other lines; only the rows that differ are painted."""
        old, self.lines = self.lines, tuple(lines)
        if fill is not self.fill:
            self.fill = fill
            self.refresh()
            return
        changed = [y for y, (was, now) in enumerate(zip_longest(old, self.lines)) if was != now]
        if changed:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def take_columns(self, columns: int) -> None:
        """Be as wide as that."""
        if self.styles.width is None or self.styles.width.value != columns:
            self.styles.width = columns

    def take_rows(self, rows: int) -> None:
        """Be as high as that."""
        if self.styles.height is None or self.styles.height.value != rows:
            self.styles.height = rows

    def render_line(self, y: int) -> Strip:
        """One row, as wide as the widget."""
        width = self.size.width
        spans = fitted(self.lines[y] if y < len(self.lines) else (), width)
        return Strip([Segment(span.text, self._style(span.role)) for span in spans], width)

    def _style(self, role: Role) -> Style:
        look = cast("BenchApp", self.app).look
        key = (look.name, role, self.fill)
        if key not in self._styles:
            self._styles[key] = _style_of(look, role, self.fill)
        return self._styles[key]

    def on_click(self, event: events.Click) -> None:
        """Do the command of what was clicked."""
        if event.y < len(self.lines):
            left = 0
            for span in self.lines[event.y]:
                left += columns(span.text)
                if event.x < left:
                    if span.command:
                        cast("BenchApp", self.app).action_command(span.command)
                    return


def _style_of(look: Look, role: Role, fill: Role | None) -> Style:
    if fill is None:
        return look.paints[role].style(look.ground)
    paint = look.fills.get(fill, look.fills[Role.PLAIN])
    return paint.style(look.ground)


class Entry(LinesView, can_focus=True):
    """A field for one line of input, with its label and what is said about it.

    Args:
        id: its name on the screen.
        label: stands before it.
        text: what is in it at first.
        clears: whether it is empty after Enter at once: the next line may come before anybody has looked at this one.

    """

    class Said(Message):
        """What was said in the field; `at_s` is when its key was pressed, however late that is looked at."""

        def __init__(self, entry: Entry, text: str) -> None:
            super().__init__()
            self.entry = entry
            self.text = text
            self.at_s = entry.pressed_s

        @property
        def control(self) -> Entry:
            """The field, so that a handler can name it."""
            return self.entry

    class Entered(Said):
        """A line was ended with Enter."""

    class Changed(Said):
        """The text has changed."""

    def __init__(
        self,
        *,
        id: str | None = None,  # noqa: A002
        label: str = "",
        text: str = "",
        clears: bool = False,
    ) -> None:
        super().__init__(id=id)
        self._clears = clears
        self.label = label
        self.text = text
        self.pressed_s = 0.0
        self.remark = ""
        self.remark_role = Role.DIM

    def on_mount(self) -> None:
        """Show what there is from the start."""
        self._show()

    def say(self, remark: str, role: Role = Role.DIM) -> None:
        """Say something beside what is typed."""
        self.remark, self.remark_role = remark, role
        self._show()

    def relabel(self, label: str) -> None:
        """Give it another label."""
        if label != self.label:
            self.label = label
            self._show()

    def put(self, text: str) -> None:
        """Put another text into it."""
        if text != self.text:
            self.text = text
            self._show()
            self.post_message(self.Changed(self, text))

    def on_key(self, event: events.Key) -> None:
        """Take printable characters in, whatever they spell; leave every other key to the screen."""
        self.pressed_s = event.time
        if event.key == "enter":
            self._end_line()
        elif event.key == "backspace":
            self.put(self.text[:-1])
        elif event.is_printable and event.character is not None:
            self._type(event.character)
        elif event.key in _SEPARATORS and self.text.startswith(HEAD):
            self._type(_SEPARATORS[event.key])
        else:
            return
        event.stop()
        event.prevent_default()

    def enter(self) -> None:
        """End the line now, as Enter does."""
        self.pressed_s = time.monotonic()
        self._end_line()

    def _end_line(self) -> None:
        if self.text and not printable(self.text).strip():
            self.put("")  # a code of blanks: Enter alone says 'done', and no scan may
        else:
            self.post_message(self.Entered(self, self.text))
            if self._clears:
                self.put("")

    def _type(self, text: str) -> None:
        self.put((self.text + text)[:_LONGEST_INPUT])

    def on_paste(self, event: events.Paste) -> None:
        """Take the first line of what is pasted."""
        event.stop()
        self._type(event.text.replace("\r", "\n").partition("\n")[0])

    def on_focus(self) -> None:
        """Show the cursor."""
        self._show()

    def on_blur(self) -> None:
        """Hide the cursor."""
        self._show()

    def on_resize(self) -> None:
        """Fit the remark to the new width."""
        self._show()

    def _show(self) -> None:
        cursor = Span(" ", Role.CHOSEN) if self.has_focus else Span(" ")
        # Of a long text the end is seen, where one types.
        shown = printable(self.text)[-max(1, self.size.width - len(self.label) - _BESIDE_TEXT) :]
        before = line(
            Span(f" {self.label} ", Role.STRONG), Span("> ", Role.DIM), Span(shown, Role.STRONG), cursor
        )
        room = self.size.width - sum(columns(span.text) for span in before) - 2
        said = Span(f"  {cut(self.remark, room)}", self.remark_role) if room > 0 and self.remark else Span("")
        self.show([line(*before, said)])
