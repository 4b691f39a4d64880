"""The self-check of the rig: what is asked for, and each check as it comes out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from textual import events, on
from textual.widget import Widget

from hal.errors import BenchError
from rig.screen.checkup import Checkup
from rig.screen.page import PageScreen
from rig.screen.view.checks import MARKS, ROLES
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import Entry, LinesView
from wiring.saying import said_by

_SAID_ROWS, _MOST_SAID = 3, 6
_IN_VIEW = 2


class SelfCheckScreen(PageScreen):
    """Follows the check in work, and shows the first that failed; leads elsewhere once the bench is closed."""

    DEFAULT_CSS = f"""
    SelfCheckScreen #said {{ height: {_SAID_ROWS}; }}
    SelfCheckScreen #note {{ display: none; }}
    """

    def __init__(self, checkup: Checkup) -> None:
        super().__init__()
        self.checkup = checkup
        self._scrolled = False
        self._ran = True
        self._matters = 0

    def body(self) -> Iterator[Widget]:
        """What is asked for, the checks, and the field that keeps a scanner from saying 'done'."""
        yield LinesView(id="said")
        yield from super().body()
        yield Entry(id="scan", clears=True, label=self.words("selfcheck.label"))

    def on_mount(self) -> None:
        """Let the field have the focus."""
        self.query_one("#scan", Entry).focus()

    def heading(self) -> Line:
        """Which rig, and how far it is."""
        title = self.words("selfcheck.title", name=self.checkup.profile.name)
        simulated = f"   {self.words('note.simulated')}" if self.checkup.simulated else ""
        done, total = self.checkup.board.counted
        return line(
            Span(f" {title}", Role.STRONG),
            f"   {self.words('tally.done', done=done, total=total)}{simulated}",
        )

    def commands(self) -> Mapping[str, str]:
        """While it runs, 'done' only, beside the stop key; then everything."""
        scroll = self.scrolling()
        if self.checkup.running:
            asked = self.checkup.board.request is not None and not self.checkup.simulated
            return {**({"enter": "done"} if asked else {}), **scroll, "leave": "leave"}
        return {**scroll, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Say 'done'."""
        if name == "enter":
            self.query_one("#scan", Entry).enter()

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something beside the field."""
        self.query_one("#scan", Entry).say(words, role)

    def on_key(self, event: events.Key) -> None:
        """Scroll; what is in work is not followed any more then."""
        before = self._first
        super().on_key(event)
        self._scrolled = self._scrolled or self._first != before

    @on(Entry.Entered, "#scan")
    def _entered(self, message: Entry.Entered) -> None:
        self._enter(message.text)

    def _enter(self, text: str) -> None:
        amiss = self.checkup.say(text.strip())
        self.say(self.words(amiss, text=text[:40]) if amiss else "", Role.WARN)

    def tick(self) -> None:
        """Follow."""
        came, ran, self._ran = self.checkup.pump(), self._ran, self.checkup.running
        if came or ran != self._ran:
            self.made_anew()
            if not self._scrolled and self._lines:
                self._first = self._matters - self._rows + _IN_VIEW
            self.paint()

    def page(self, width: int, /) -> Iterator[Line]:
        """Every check; the lines that matter now are kept in view."""
        for number, (one, matters) in enumerate(self.checkup.board.lines(self.words, width)):
            if matters:
                self._matters = number
            yield one

    def paint(self) -> None:
        """Paint what is asked for above the checks."""
        super().paint()
        if self.can_paint:
            width = self.size.width - 2
            texts, role = self._said()
            rows = [row for text in texts if text for row in wrapped(text, width, 4)]
            said = self.query_one("#said", LinesView)
            said.styles.height = max(_SAID_ROWS, min(len(rows), _MOST_SAID))
            said.show([line(f" {row}") for row in rows[:_MOST_SAID]], role)

    def _said(self) -> tuple[tuple[str, ...], Role]:
        """What is to be done, or how it came out; and what that means."""
        board, words = self.checkup.board, self.words
        if self.checkup.failure is not None:
            failure = self.checkup.failure
            check = words.tell(failure.check) if isinstance(failure, BenchError) else ""
            return (words("do.failed", why=words.tell(said_by(failure))), check), Role.BAD
        if board.outcome is not None:
            name = board.outcome.replace(" ", "-")
            told = f"{MARKS[board.outcome]} {words(f'selfcheck.{name}')}"
            return (told, words("selfcheck.off")), ROLES[board.outcome]
        tripped = "" if board.tripped is None else words("do.tripped", cause=words.tell(board.tripped.words))
        if board.request is not None:
            done = words("selfcheck.theirs") if self.checkup.simulated else words("more.done")
            return (tripped, words.tell(board.request.text), done), Role.BAD if tripped else Role.WISH
        return (
            tripped,
            words("selfcheck.under-way"),
            *map(words.tell, self.checkup.notices[-1:]),
        ), Role.BAD if tripped else Role.PLAIN
