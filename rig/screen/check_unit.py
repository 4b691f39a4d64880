"""The check unit: its charts, its measurement, what was found when somebody looked; and the order in hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress

from textual import on
from textual.widget import Widget

from hal.errors import BenchError
from rig.control.chart import Watching
from rig.control.check_unit import Account, Cause, State
from rig.control.history import account_in, judged_since_trusted
from rig.control.keeping import keep, look
from rig.control.measuring import NoCheckUnit
from rig.control.production import Each, Studied, deviations, studied
from rig.finding.opening import open_store
from rig.finding.wanted import Wanted
from rig.journal import JournalError
from rig.screen.checks_begun import begin_unit_check
from rig.screen.page import PageScreen
from rig.screen.unit_check import UnitCheck
from rig.screen.view.control import MARKS, account_lines, charted_lines, standing_line
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import Entry, LinesView
from rig.typed import typed_text

_SAID_ROWS = 3
_CAUSES = tuple(Cause)


class CheckUnitScreen(PageScreen):
    """F2 twice measures; while a signal is open, what was found is typed and its cause chosen by a digit."""

    DEFAULT_CSS = f"""
    CheckUnitScreen #said {{ height: {_SAID_ROWS}; }}
    CheckUnitScreen #note {{ display: none; }}
    """

    def __init__(self) -> None:
        super().__init__()
        self._account: Account | None = None
        self._check: UnitCheck | None = None
        self._found = ""
        self._why = ""
        self._suspects = 0

    def body(self) -> Iterator[Widget]:
        """How it stands, the charts, and a field for what is typed."""
        yield LinesView(id="said")
        yield from super().body()
        yield Entry(id="scan", clears=True, label="")

    def on_mount(self) -> None:
        """Let the field have the focus."""
        self.query_one("#scan", Entry).focus()

    def on_screen_resume(self) -> None:
        """Look the check unit up."""
        self._look_up()
        super().on_screen_resume()

    def _look_up(self) -> None:
        self._why = ""
        try:
            journal = self.bench.bench.journal
            self._account = account_in(journal, self.bench.bench.profile.name)
            self._suspects = len(judged_since_trusted(journal, self._account)) if self._account else 0
        except JournalError as failure:
            self._account, self._why = None, str(failure)
        self.made_anew()

    def heading(self) -> Line:
        """Whose check unit it is."""
        name = self.bench.bench.profile.name
        simulated = f"   {self.words('note.simulated')}" if self.bench.bench.simulated else ""
        return line(Span(f" {self.words('control.title', name=name)}", Role.STRONG), simulated)

    def commands(self) -> Mapping[str, str]:
        """While it is measured, 'done' only; else measure, enter what is typed, scroll, and all screens."""
        scroll = self.scrolling()
        if self._at_work:
            check = self._check
            asked = check is not None and check.request is not None and not check.simulated
            return {**({"enter": "done"} if asked else {}), **scroll, "leave": "leave"}
        asked = self._account is None or self._account.state is State.SIGNAL
        takes = {"enter": "take"} if asked and not self._why else {}
        measures = {"begin": "measure"} if self._account is not None and self.bench.may_check_rig else {}
        return {**takes, **measures, **scroll, **self.bench.everywhere()}

    @property
    def _at_work(self) -> bool:
        return self._check is not None and self._check.running

    def do(self, name: str) -> None:
        """Measure, or say 'done'."""
        if name == "begin" and self._account is not None:
            self._found = ""
            self._check = begin_unit_check(self.bench, self._account)
            self.paint()
        elif name == "enter":
            self.query_one("#scan", Entry).enter()

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something beside the field."""
        self.query_one("#scan", Entry).say(words, role)

    @on(Entry.Entered, "#scan")
    def _entered(self, message: Entry.Entered) -> None:
        self._enter(typed_text(message.text))

    def _enter(self, text: str) -> None:
        if self._at_work and self._check is not None:
            amiss = self._check.say_done() if not text else "scan.not-now"
            self.say(self.words(amiss, text=text[:40]) if amiss else "", Role.WARN)
        elif self._account is None:
            self._keep(text)
        elif self._account.state is State.SIGNAL:
            self._looked(text)
        self.paint()

    def _keep(self, serial: str) -> None:
        bench = self.bench.bench
        if not serial:
            return
        try:
            keep(bench.journal, serial, bench.profile, self.bench.person, "")
        except (NoCheckUnit, JournalError):
            self.say(self.words("control.not-kept", serial=serial[:40]), Role.WARN)
            return
        self._look_up()

    def _looked(self, text: str) -> None:
        """First what was found, then where the cause was."""
        if not self.bench.person:
            self.say(self.words("control.who"), Role.WARN)
        elif not self._found:
            self._found = text if any(letter.isalnum() for letter in text) else ""
        elif text.isdigit() and 1 <= int(text) <= len(_CAUSES):
            self._note_look(_CAUSES[int(text) - 1])
        else:
            self.say(self.words("control.digit", most=len(_CAUSES)), Role.WARN)

    def _note_look(self, cause: Cause) -> None:
        assert self._account is not None, "a signal is open"
        try:
            look(self.bench.bench.journal, self._account, self.bench.person, self._found, cause)
        except (NoCheckUnit, JournalError) as failure:
            self.say(f"{failure}", Role.BAD)
            return
        self._found = ""
        self._look_up()

    def tick(self) -> None:
        """Follow a measurement."""
        check = self._check
        if check is not None and check.pump():
            if not check.running and check.failure is None:
                self._look_up()
            self.paint()

    def paint(self) -> None:
        """Paint how it stands above the charts."""
        super().paint()
        if not self.can_paint:
            return
        texts, role = self._said()
        width = self.size.width - 2
        rows = [row for text in texts if text for row in wrapped(text, width, 2)]
        self.query_one("#said", LinesView).show([line(f" {row}") for row in rows[:_SAID_ROWS]], role)
        self.query_one("#scan", Entry).relabel(self.words(f"control.label-{self._wanted}"))

    @property
    def _wanted(self) -> str:
        """What the field is for now."""
        if self._at_work:
            return "answer"
        if self._account is None:
            return "serial"
        if self._account.state is not State.SIGNAL:
            return "nothing"
        return "cause" if self._found else "found"

    def _said(self) -> tuple[tuple[str, ...], Role]:
        words, check, account = self.words, self._check, self._account
        if check is not None and check.running:
            tripped = (
                "" if check.tripped is None else words("do.tripped", cause=words.tell(check.tripped.words))
            )
            asked = words("control.under-way") if check.request is None else words.tell(check.request.text)
            return (tripped, asked, words("selfcheck.theirs") if check.simulated else ""), Role.WISH
        if check is not None and check.failure is not None:
            failure = check.failure
            check_words = failure.check if isinstance(failure, BenchError) else ""
            return (words("do.failed", why=failure), check_words), Role.BAD
        if account is None:
            return (self._why or words("control.none"), words("control.keep")), Role.WARN
        told, role = standing_line(account, words)
        if account.state is State.SIGNAL:
            next_ = (
                "control.choose" if self._found else "control.look" if self.bench.person else "control.who"
            )
            causes = ", ".join(f"{n} {words(f'cause.{one}')}" for n, one in enumerate(_CAUSES, start=1))
            suspects = words("control.suspects", count=self._suspects) if self._suspects else ""
            return (f"{told} {suspects}", words(next_, found=self._found, causes=causes)), role
        return (told, words("control.how")), role

    def page(self, width: int, /) -> Iterator[Line]:
        """The charts of the check unit, then those of the order in hand."""
        if self._account is not None:
            yield from account_lines(self._account, self.words, width)
        yield from self._order_lines(width)

    def _order_lines(self, width: int) -> Iterator[Line]:
        """The deviations of the order in hand, if its units are measured."""
        work = self.bench.work
        if work is None or work.setup.journal is None:
            return
        number = work.setup.job.order.number
        charts: tuple[Studied, ...] = ()
        with suppress(JournalError, ValueError), open_store(work.setup.journal) as store:
            wanted = Wanted(exactly={"order_number": (number,), "purpose": ("set",)})
            charts = studied(deviations(store.connection, wanted), Each.ORDER, Watching())
        for one in charts:
            if one.chart.signals:
                role, key = Role.BAD, "control.order-signals"
            elif one.chart.is_short:
                role, key = Role.WARN, "control.order-short"
            else:
                role, key = Role.GOOD, "control.order-well"
            yield line()
            edge = self.words.of("edge", one.edge)
            yield line(Span(f"{MARKS[role]} {self.words(key, order=number, edge=edge)}", role))
            yield from charted_lines(one.chart, self.words, width)
