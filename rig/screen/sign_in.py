"""Who works at the bench: a badge is scanned or a name typed, at the start and whenever another person takes over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from textual import on
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import Entry, LinesView
from rig.typed import typed_name


class SignInScreen(BenchScreen):
    """One field; Enter alone leaves it as it was. No password is asked for, since none would prove anything here."""

    DEFAULT_CSS = """
    SignInScreen #asked { height: 1fr; }
    """

    def body(self) -> Iterator[Widget]:
        """What is asked, and the field."""
        yield LinesView(id="asked")
        yield Entry(id="who", clears=True, label=self.words("who.label"))
        yield LinesView(id="note")

    def on_mount(self) -> None:
        """Let the field have the focus: a scan ends up in it."""
        self.query_one("#who", Entry).focus()

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('who.title')}", Role.STRONG))

    def commands(self) -> Mapping[str, str]:
        """Enter takes the name; nothing leads elsewhere before that is done."""
        return {"enter": "take", "back": "back", "leave": "leave"}

    def do(self, name: str) -> None:
        """Take what stands in the field."""
        if name == "enter":
            self.query_one("#who", Entry).enter()

    def paint(self) -> None:
        """Paint who is signed in, and what to do."""
        super().paint()
        if not self.can_paint:
            return
        width, person = self.size.width - 2, self.bench.person
        now = self.words("who.now", person=person) if person else self.words("who.nobody")
        rows = [*wrapped(now, width, 2), "", *wrapped(self.words("who.ask"), width, 4)]
        self.query_one("#asked", LinesView).show([line(), *(line(f" {row}") for row in rows)])

    @on(Entry.Entered, "#who")
    def _entered(self, message: Entry.Entered) -> None:
        if not self.is_current:  # a second Enter of the reader
            return
        given = message.text.strip()
        if given:
            try:
                self.bench.sign_in(typed_name(given))
            except ValueError:
                self.say(self.words("who.no-name"), Role.WARN)
                return
        self.bench.go_back()
