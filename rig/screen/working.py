"""The working screen: the next thing to do, large; ruler, steps, live states, count; a field that takes scans."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping, Sequence

from textual import events, on
from textual.containers import Horizontal
from textual.widget import Widget

from rig.screen.base import BenchScreen
from rig.screen.hands import Hands
from rig.screen.view import panels
from rig.screen.view.arrangement import Arrangement, said_rows
from rig.screen.view.board import Phase
from rig.screen.view.instruction import Instruction
from rig.screen.view.letters import large
from rig.screen.view.lines import Line, Role, cut, line
from rig.screen.view.ruler import Marks, close_ruler, ruler
from rig.screen.view.wording import read_number
from rig.screen.widgets import Entry, LinesView
from rig.screen.work import OrderWork

# States that only run on, such as a time, are painted no more often.
_PAINT_EVERY_S = 0.25
_STATE_EVERY_S = 0.2
_LONGEST_NAME = 20
# Three flashes, and never more than three in a second, as WCAG 2.1 asks (2.3.1).
_FLASH_S, _FLASHES = 0.3, 3
_FAST_MM, _SLOW_MM = 20.0, 1.0


class WorkingScreen(BenchScreen):
    """The work on one order."""

    DEFAULT_CSS = """
    WorkingScreen #middle { height: 1fr; }
    WorkingScreen #steps { height: 100%; width: 1fr; }
    WorkingScreen #states { height: 100%; }
    """

    def __init__(self, work: OrderWork) -> None:
        super().__init__()
        self.work = work
        self._painted_s = 0.0
        self._asked_s = 0.0
        self._judged_s = -math.inf
        self._blank = False
        self._noticed = 0
        self._said: Instruction | None = None

    def body(self) -> Iterator[Widget]:
        """The widgets from top to bottom."""
        yield LinesView(id="large")
        yield LinesView(id="said")
        yield LinesView(id="ruler")
        yield Horizontal(LinesView(id="steps"), LinesView(id="states"), id="middle")
        yield LinesView(id="tally")
        yield Entry(id="scan")

    def on_mount(self) -> None:
        """Let the field have the focus from the start; nothing else here can take it."""
        self._scan.focus()

    def on_screen_resume(self) -> None:
        """Look up whether units may be taught: a self-check may have been done meanwhile."""
        self.work.look_whether_barred()
        super().on_screen_resume()

    @property
    def _scan(self) -> Entry:
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

    # -- commands -------------------------------------------------------------------------------------------------

    def commands(self) -> Mapping[str, str]:
        """The keys that work in this phase."""
        phase = self.work.board.phase
        keys: dict[str, str] = {}
        if phase in (Phase.FIT, Phase.ASKED, Phase.TAKE_OUT):
            keys |= {} if self.work.theirs else {"enter": "done"}
        elif phase.takes_serial:
            keys["enter"] = "take"
        keys |= {Phase.TRIPPED: {"begin": "reset"}, Phase.FAILED: {"begin": "reopen"}}.get(phase, {})
        if phase is Phase.ASIDE or self.work.can_close:
            keys["aside"] = "aside" if phase is Phase.ASIDE else "close-lot"
        if self.work.hands is not None and self.work.hands.can_change:
            keys["hands"] = "hands"
        if self.work.running and self._mine is not None:
            keys |= {"arrows": "move", "end": "beam"}
        return {**keys, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Do one of them."""
        if name == "begin":
            self.work.reset()
        elif name == "aside":
            self.work.put_aside()
        elif name == "hands" and self.work.hands is not None:
            self.work.hands.change()
            self.say(self.words("say.your-hands" if self.work.hands.mine else "say.their-hands"))
        elif name == "enter":
            self._enter("")
        self.work.pump()
        self._follow(at_once=True)

    def on_key(self, event: events.Key) -> None:
        """Move the target of a simulated bench that the user has in hand."""
        moves = {"up": _SLOW_MM, "down": -_SLOW_MM, "pageup": _FAST_MM, "pagedown": -_FAST_MM}
        if (hands := self._mine) is None:
            return
        if event.key in moves:
            hands.move(moves[event.key])
        elif event.key == "end":
            hands.swing()
        else:
            return
        event.stop()

    @on(Entry.Entered, "#scan")
    def _entered(self, message: Entry.Entered) -> None:
        message.entry.put("")
        self._enter(message.text)

    def _enter(self, text: str) -> None:
        placed_mm = self._place_typed(text)
        if placed_mm is not None:
            self.say(self.words("say.carried", at=self.words.mm(placed_mm)))
            return
        scan = self.work.enter(text)
        if scan is not None:
            role = Role.PLAIN if scan.serial is not None else Role.WARN
            self.say(self.words(scan.key, **scan.values), role)
        else:
            self.say("")
        self.work.pump()
        self._follow(at_once=True)

    def _place_typed(self, text: str) -> float | None:
        """A position that was typed while the user has to place the target; carried there."""
        asked, hands = self.work.board.request, self._mine
        if hands is None or asked is None or asked.position_mm is None:
            return None
        at_mm = read_number(text)
        if at_mm is not None:
            hands.move(to_mm=at_mm)
        return at_mm

    @property
    def _mine(self) -> Hands | None:
        """The hands at a simulated bench, if it is the user who moves its target."""
        hands = self.work.hands
        return hands if hands is not None and hands.mine else None

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something beside the field."""
        self._scan.say(words, role)

    # -- painting -------------------------------------------------------------------------------------------------

    def tick(self) -> None:
        """Paint what has changed, and what runs on a few times a second."""
        now_s = time.monotonic()
        if now_s - self._asked_s >= _STATE_EVERY_S:
            self._asked_s = now_s
            self.work.ask_state()
        for code in self.work.take_codes():
            self._enter(code)
        if len(self.work.noticed) > self._noticed:
            self._noticed = len(self.work.noticed)
            self.say(self.words("say.noticed", words=self.words.tell(self.work.noticed[-1])), Role.PLAIN)
        self._follow()

    def _follow(self, *, at_once: bool = False) -> None:
        now_s = time.monotonic()
        said = self.work.instruction()
        if said != self._said and self._said is not None and self.work.board.phase is Phase.TAKE_OUT:
            self._judged_s = now_s
            self.bench.ring()
        if self._flashes(now_s) is not self._blank:
            self._blank, at_once = not self._blank, True
        if at_once or said != self._said or now_s - self._painted_s >= _PAINT_EVERY_S:
            self._painted_s = now_s
            self.paint()

    def _flashes(self, now_s: float) -> bool:
        """Whether the large word is gone at this moment, so that it flashes."""
        since_s = now_s - self._judged_s
        flashes = self.bench.flashes and since_s < 2 * _FLASHES * _FLASH_S
        return flashes and int(since_s / _FLASH_S) % 2 == 1

    def paint(self) -> None:
        """Paint everything; what has not changed sends nothing."""
        width, height = self.size
        if not self.can_paint:
            return
        super().paint()
        self._said = self.work.instruction()
        sentences = said_rows(self._said.sentence, self._more(self._said), width - 2)
        arrangement = Arrangement.of(width, height, len(sentences))
        self._share_out(arrangement)
        self._paint_instruction(self._said, sentences[: arrangement.said], arrangement.large, width)
        self._paint_panels(arrangement, width)

    def _share_out(self, arrangement: Arrangement) -> None:
        for name, rows in (
            ("#large", arrangement.large),
            ("#said", arrangement.said),
            ("#ruler", arrangement.ruler),
        ):
            view = self.query_one(name)
            if view.styles.height is None or view.styles.height.value != rows:
                view.styles.height = rows
        states = self.query_one("#states")
        if states.styles.width is None or states.styles.width.value != arrangement.states:
            states.styles.width = arrangement.states

    def _paint_instruction(self, said: Instruction, sentences: Sequence[Line], rows: int, width: int) -> None:
        letters = [line(row) for row in large("" if self._blank else said.large, width, rows)]
        self.query_one("#large", LinesView).show(letters, said.role)
        self.query_one("#said", LinesView).show(sentences)
        self._scan.relabel(self.words("scan.label"))

    def _more(self, said: Instruction) -> str:
        hands = "theirs" if self._mine is None else "mine"
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
        """The whole way, and where there is room a close look at the set point that is worked on."""
        board, sensor_type = self.work.board, self.work.setup.sensor_type
        marks = Marks(self._wanted_mm(), self._target_mm(), board.edges)
        room = arrangement.ruler - arrangement.close
        whole = ruler(board.job.plan, sensor_type, self.words, width - 2, marks)[:room]
        close = close_ruler(board.job.plan, self.words, width - 2, marks)[: arrangement.close]
        for row in (*whole, *[()] * (room - len(whole)), *close):
            yield line(" ", *row)

    def _wanted_mm(self) -> float | None:
        return self.work.board.target_mm if self.work.board.phase.unit_in_work else None

    def _target_mm(self) -> float | None:
        if self._mine is not None and self.work.running:
            return self._mine.target_mm
        return self.work.state.target_mm if self.work.state is not None else None
