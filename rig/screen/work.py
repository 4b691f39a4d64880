"""The work on one order as the screen drives it: opens the bench, takes events in, sends wishes.

It knows no terminal; whatever a key does is a method here.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from contextlib import suppress
from typing import ClassVar

from hal.bench import BenchState
from hal.operator import RequestKind
from rig.engine import Engine
from rig.events import (
    ComputerStrained,
    OrderStarted,
    PersonSignedIn,
    Stamped,
    UnitJudged,
    UnitRemoved,
    UnitStarted,
)
from rig.screen.barred import leave_at, looked_up
from rig.screen.desk import ScanDesk
from rig.screen.entering import entered
from rig.screen.hands import Hands
from rig.screen.record import of_like_work, recorded
from rig.screen.setup import Setup
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import Instruction, instruction
from rig.screen.view.notices import AsideWanted, CodeRead, Notice, Noticed, SerialWanted, WorkEnded
from rig.screen.view.serials import Scan
from rig.screen.view.told import strained
from rig.screen.view.wording import Words
from rig.sequencer.order_run import OrderResult
from rig.session import Session

# After a stop the relays are off at once; the rest of the work, such as a slow disk, gets this long.
_PATIENCE_S = 5.0
_STANDING_EVENTS = (OrderStarted, UnitStarted, UnitJudged, UnitRemoved)


class OrderWork:
    """One order, from its record so far to its last unit.

    Attributes:
        board: what the screen shows.
        state: the newest state of the bench's lines; None while it is not open.
        hands: who works at a simulated bench; None at a real one, where nobody knows.
        noticed: what has to be known, but stops nobody: found when the bench was opened, the newest last.
        is_study: whether it is a gauge study, which has a screen of its own.

    """

    session_class: type[Session] = Session
    is_study: ClassVar[bool] = False

    def __init__(self, setup: Setup, words: Words) -> None:
        self.setup = setup
        self.board = Board.of(setup.job, words, _earlier(setup))
        self.state: BenchState | None = None
        self.hands = Hands(setup.profile, self._at_bench) if setup.simulated else None
        self._inbox: queue.SimpleQueue[Stamped | Notice] = queue.SimpleQueue()
        self._engine: Engine[OrderResult] | None = None
        self._desk: ScanDesk | None = None
        self._signed_in: PersonSignedIn | None = None
        self._queued: str | None = None
        self._codes: list[str] = []
        self.noticed: list[str] = []
        self._aside_said = False
        self._state_asked = False
        self._phase_since_s = time.monotonic()

    # -- what comes from the engine ------------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether the engine is at work, so that leaving has to end it."""
        return self._engine is not None and not self._engine.done

    @property
    def may_close(self) -> bool:
        """Whether the bench may be closed for other work: no unit is in the nest, and nothing waits for a reset."""
        return not self.running or self.board.phase is Phase.SCAN

    @property
    def enter_counts(self) -> bool:
        """Whether Enter alone says something in this phase, such as 'done'."""
        return self.board.phase in (Phase.FIT, Phase.ASKED, Phase.WORK, Phase.TAKE_OUT)

    @property
    def theirs(self) -> bool:
        """Whether it is a simulated person who does what is asked for."""
        request = self.board.request
        return (
            self.hands is not None
            and request is not None
            and not self.hands.does(RequestKind(request.request))
        )

    def pump(self) -> bool:
        """Take in all that has come; tells whether anything has."""
        came = False
        with suppress(queue.Empty):
            while True:
                self._take(self._inbox.get_nowait())
                came = True
        return came

    def take_codes(self) -> tuple[str, ...]:
        """What the code reader of the bench has read since this was asked last; to be entered like a scan here."""
        codes, self._codes = tuple(self._codes), []
        return codes

    def ask_state(self) -> None:
        """Ask the engine for the state of the lines, unless it still owes the last one."""
        if self._engine is not None and self.running and not self._state_asked:
            self._state_asked = True  # before the call: the answer may be quicker than its return
            if not self._engine.show_state(self._note_state):
                self._state_asked = False

    def _note_state(self, state: BenchState) -> None:
        self.state, self._state_asked = state, False

    def _take(self, one: Stamped | Notice) -> None:
        board, before = self.board, (self.board.phase, self.board.request)
        if isinstance(one, Stamped):
            board.take(one)
            if isinstance(one.event, ComputerStrained):
                self.noticed.append(strained(one.event, board.words))
        elif isinstance(one, CodeRead):
            self._codes.append(one.text)
        elif isinstance(one, Noticed):
            self.noticed.append(one.words)
        else:
            board.notice(one)
            self._follow(one)
        if (board.phase, board.request) != before:
            self._phase_since_s = time.monotonic()

    def _follow(self, notice: Notice) -> None:
        """Do what the person has said already."""
        match notice:
            case SerialWanted() if self._queued is not None:
                serial, self._queued = self._queued, None
                self.hand_over(serial)
            case AsideWanted() if self._aside_said:
                self.put_aside()
            case WorkEnded():
                self.state, self._state_asked, self._queued = None, False, None
                if self.hands is not None:
                    self.hands.part()
        self._aside_said = self._aside_said and not isinstance(notice, AsideWanted)

    # -- what the person says ------------------------------------------------------------------------------------

    def enter(self, text: str) -> Scan | None:
        """Take in a line that was scanned or typed, or 'done' if it is empty; tells what was made of it."""
        return entered(self, text)

    def hand_over(self, serial: str) -> None:
        """Begin with a unit, or with the bench and then the unit if it is not open."""
        desk = self._desk
        if self._engine is not None and self.running and desk is not None:
            self._engine.call(lambda: desk.hand_over(serial))
        else:
            self.begin(serial)

    def hand_over_next(self, serial: str) -> None:
        """Begin with a unit as soon as the one that is in the nest is out."""
        self._queued = serial

    def will_be_put_aside(self) -> None:
        """Take note that the unit in the nest is put aside as soon as it is out."""
        self._aside_said = True

    def say_number(self, number: float) -> None:
        """Say the number that was asked for."""
        if self._engine is not None:
            self._engine.say_number(number)

    def say_done(self) -> None:
        """Say that what was asked for is done."""
        if self.hands is not None:
            self.hands.finish()
        elif self._engine is not None:
            self._engine.say_done()

    @property
    def asked_just_now(self) -> bool:
        """Whether nobody can have read yet what is asked for."""
        return time.monotonic() - self._phase_since_s < self.setup.quickest_s

    def sign_in(self, signed_in: PersonSignedIn | None) -> None:
        """Take note of who works from the next unit on."""
        self._signed_in = signed_in
        if self._desk is not None:
            self._desk.signed_in = signed_in

    def look_whether_barred(self) -> None:
        """Look up whether units may be taught; what is only to be said is noticed, once."""
        if self.running:
            return
        self.board.barred, said = looked_up(self.setup)
        words = self.board.words(said) if said else ""
        if words and words not in self.noticed:
            self.noticed.append(words)

    def begin(self, first: str | None = None) -> None:
        """Open the bench; with a unit that was scanned already, if there is one."""
        if self.running:
            return
        serials = self.board.standing.open_serials
        if first is not None and first not in serials:
            serials = (first, *serials)
        self.look_whether_barred()
        if self.board.barred is not None:
            return
        self.board.begin()
        desk = self._desk = self.make_desk(serials, first)
        engine = self._engine = self.make_session(desk).start(self._inbox.put)
        engine.when_done(lambda: self._inbox.put(_ended(engine)))

    def make_session(self, desk: ScanDesk) -> Session:
        """What the engine does with the units that the desk hands over."""
        setup = self.setup
        return self.session_class(
            setup.job,
            setup.profile,
            setup.bench_file,
            setup.real_time,
            setup.journal,
            desk,
            None if self.hands is None else self.hands.join,
            setup.speed,
            notice=lambda words: self._inbox.put(Noticed(words)),
            on_code=lambda text: self._inbox.put(CodeRead(text)),
            leave=leave_at(setup),
        )

    def make_desk(self, serials: tuple[str, ...], first: str | None) -> ScanDesk:
        """Where the units come from."""
        return ScanDesk(serials, self._inbox.put, first=first, signed_in=self._signed_in)

    def end_of_draw(self) -> None:
        """No unit comes any more: let the work end in order."""
        if self._engine is not None and self._desk is not None:
            self._engine.call(self._desk.leave)

    def instruction(self) -> Instruction:
        """The next thing to do."""
        return instruction(self.board)

    @property
    def can_close(self) -> bool:
        """Whether there is a decision to enter, as on a lot whose sample is tested."""
        return False

    def reset(self) -> None:
        """Reset the bench after a trip, or open it again after a failure."""
        desk = self._desk
        if self.board.phase is Phase.TRIPPED and self._engine is not None and desk is not None:
            scanned = self.board.serial if self.board.serial in self.board.standing.open_serials else None
            self._engine.call(lambda: desk.reset(scanned))
        elif self.board.phase in (Phase.FAILED, Phase.READY):
            self.begin()

    def put_aside(self) -> None:
        """Take note that a unit that is not good is where it belongs."""
        if self.board.phase is not Phase.ASIDE:
            return
        if self._engine is not None and self.running and self._desk is not None:
            self._engine.call(self._desk.have_put_aside)
        else:
            self.board.put_aside_before_start()

    def stop(self) -> None:
        """Release the relays now, from whatever thread this is called in."""
        if self._engine is not None and self.running:
            self._engine.stop("the stop key was pressed")

    def closing_words(self) -> list[str]:
        """How the order stands and how to go on, for the terminal after the screen."""
        if self.setup.practice:
            return []
        self.pump()
        standing, words = self.board.standing, self.board.words
        left, total = len(standing.open_serials), len(standing.units)
        stands = words("closing.stands", order=self.setup.job.order.number, done=total - left, total=total)
        return [stands, words("closing.go-on")] if left else [stands]

    def stop_for_good(self, words: str) -> None:
        """Release the relays now, from whatever thread this is called in, and let the work end."""
        if self._desk is not None:
            self._desk.leaving = True
        if self._engine is not None:
            self._engine.stop(words)

    def leave(self, words: str) -> bool:
        """Switch everything off, and wait until the record is whole; tells whether that came in time."""
        engine, desk = self._engine, self._desk
        if engine is None or desk is None or engine.done:
            return True
        desk.leaving = True
        engine.call(desk.leave)
        # Where only a scan is waited for, that was the end; anywhere else the bench has to be told.
        if self.board.phase is not Phase.SCAN:
            engine.stop(words)
        with suppress(TimeoutError, Exception):
            engine.result(_PATIENCE_S)
        return engine.done

    def _at_bench(self, deed: Callable[[], object]) -> None:
        if self._engine is not None:
            self._engine.call(deed)


def _ended(engine: Engine[OrderResult]) -> WorkEnded:
    try:
        return WorkEnded(engine.result(0), None)
    except BaseException as failure:
        return WorkEnded(None, failure)


def _earlier(setup: Setup) -> list[Stamped]:
    """What earlier runs have recorded of such work on the order; nothing where there is no record."""
    found = recorded(setup.journal, _STANDING_EVENTS, order=setup.job.order.number)
    return list(of_like_work(found, setup.job.purpose, simulated=setup.simulated))
