"""The picture of the work on an order: the next thing to do, large; ruler, steps, live states, count, a field."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from textual.containers import Horizontal
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.flash import Flash
from rig.screen.hands import Hands
from rig.screen.view import panels
from rig.screen.view.arrangement import Arrangement, said_rows
from rig.screen.view.instruction import Instruction
from rig.screen.view.letters import large
from rig.screen.view.lines import Line, Role, cut, line
from rig.screen.view.ruler import Marks, both_rulers
from rig.screen.widgets import Entry, LinesView
from rig.screen.work import OrderWork

_LONGEST_NAME = 20


class WorkPicture(BenchScreen):
    """Paints the work on one order; what the keys do, its screens say.

    Attributes:
        flash: whether the large word is gone at this moment.
        said: the instruction that was painted last; None before the first.

    """

    DEFAULT_CSS = """
    WorkPicture #middle { height: 1fr; }
    WorkPicture #steps { height: 100%; width: 1fr; }
    WorkPicture #states { height: 100%; }
    """

    def __init__(self, work: OrderWork) -> None:
        super().__init__()
        self.work = work
        self.flash = Flash()
        self.said: Instruction | None = None

    def body(self) -> Iterator[Widget]:
        """The widgets from top to bottom."""
        yield LinesView(id="large")
        yield LinesView(id="said")
        yield LinesView(id="ruler")
        yield Horizontal(LinesView(id="steps"), LinesView(id="states"), id="middle")
        yield LinesView(id="tally")
        yield Entry(id="scan", clears=True)

    def on_mount(self) -> None:
        """Let the field have the focus from the start; nothing else here can take it."""
        self.field.focus()

    @property
    def field(self) -> Entry:
        """The field that has the focus, so that whatever is scanned ends up in it."""
        return self.query_one("#scan", Entry)

    def head(self, width: int, /) -> Line:
        """Order, setting and bench."""
        setup = self.work.setup
        note = self.words("note.practice") if setup.practice else ""
        if not note and setup.simulated:
            note = self.words("note.simulated")
        if self.bench.person:
            note = f"{note or setup.profile.name}  {cut(self.bench.person, _LONGEST_NAME)}"
        return panels.head(self.work.board, setup.profile.name, width, note=note)

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something beside the field."""
        self.field.say(words, role)

    @property
    def mine(self) -> Hands | None:
        """The hands at a simulated bench, if it is the user who moves its target."""
        hands = self.work.hands
        return hands if hands is not None and hands.mine else None

    def paint(self) -> None:
        """Paint everything; what has not changed sends nothing."""
        width, height = self.size
        if not self.can_paint:
            return
        super().paint()
        self.said = self.work.instruction()
        sentences = said_rows(self.said.sentence, self._more(self.said), width - 2)
        arrangement = Arrangement.of(width, height, len(sentences))
        self._share_out(arrangement)
        self._paint_instruction(self.said, sentences[: arrangement.said], arrangement.large, width)
        self._paint_panels(arrangement, width)

    def _share_out(self, arrangement: Arrangement) -> None:
        for name, rows in (
            ("#large", arrangement.large),
            ("#said", arrangement.said),
            ("#ruler", arrangement.ruler),
        ):
            self.query_one(name, LinesView).take_rows(rows)
        self.query_one("#states", LinesView).take_columns(arrangement.states)

    def _paint_instruction(self, said: Instruction, sentences: Sequence[Line], rows: int, width: int) -> None:
        letters = [line(row) for row in large("" if self.flash.blank else said.large, width, rows)]
        self.query_one("#large", LinesView).show(letters, said.role)
        self.query_one("#said", LinesView).show(sentences)
        self.field.relabel(self.words("scan.label"))

    def _more(self, said: Instruction) -> str:
        hands = "theirs" if self.mine is None else "mine"
        phase = self.work.board.phase
        key = next((one for one in (f"coach.{phase}-{hands}", f"coach.{phase}") if self.words.has(one)), "")
        if not (self.work.setup.practice and key):
            return self.words("scan.theirs") if self.work.theirs else said.more
        at_mm = None if self.work.hands is None else self.work.hands.target_mm
        at = self.words("coach.out") if at_mm is None else self.words.mm(at_mm)
        return self.words(key, at=at, next=self._next_serial())

    def _next_serial(self) -> str:
        return next(iter(self.work.board.standing.open_serials), "")

    def _paint_panels(self, arrangement: Arrangement, width: int) -> None:
        work, board = self.work, self.work.board
        self.query_one("#ruler", LinesView).show(list(self._rulers(arrangement, width)))
        steps = self.query_one("#steps", LinesView)
        state = work.state  # once, for both: the engine may hand over another meanwhile
        now_s = state.at_s if state is not None else None
        rows = panels.steps(board, now_s, width - arrangement.states - 3, steps.size.height)
        steps.show([line(" ", *row) for row in rows])
        self.query_one("#states", LinesView).show(panels.states(board, state))
        self.query_one("#tally", LinesView).show([self.tally(width)])

    def tally(self, width: int) -> Line:
        """How the work stands, in one line."""
        return panels.tally(self.work.board, width)

    def _rulers(self, arrangement: Arrangement, width: int) -> Iterator[Line]:
        board, sensor_type = self.work.board, self.work.setup.sensor_type
        marks = Marks(self._wanted_mm(), self._target_mm(), board.edges)
        rows, close = arrangement.ruler, arrangement.close
        drawn = both_rulers(board.job.plan, sensor_type, self.words, width - 2, marks, rows=rows, close=close)
        for row in drawn:
            yield line(" ", *row)

    def _wanted_mm(self) -> float | None:
        return self.work.board.target_mm if self.work.board.phase.unit_in_work else None

    def _target_mm(self) -> float | None:
        if self.mine is not None and self.work.running:
            return self.mine.target_mm
        return self.work.state.target_mm if self.work.state is not None else None
