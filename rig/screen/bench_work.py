"""The bench under the work on an order: looked at, opened, watched, stopped and closed from the screen's thread."""

from __future__ import annotations

import queue
from collections.abc import Callable
from contextlib import suppress

from hal.bench import BenchState
from rig.engine import Engine
from rig.events import OrderStarted, PersonSignedIn, Stamped, UnitJudged, UnitRemoved, UnitStarted
from rig.screen.barred import leave_at, looked_up
from rig.screen.desk import ScanDesk
from rig.screen.hands import Hands
from rig.screen.record import of_like_work, recorded
from rig.screen.setup import Setup
from rig.screen.view.board import Board, Phase
from rig.screen.view.notices import CodeRead, Notice, Noticed, WorkEnded
from rig.screen.view.wording import Words
from rig.sequencer.order_run import OrderResult
from rig.session import Session

# After a stop the relays are off at once; the rest of the work, such as a slow disk, gets this long.
_PATIENCE_S = 5.0
_STANDING_EVENTS = (OrderStarted, UnitStarted, UnitJudged, UnitRemoved)


class BenchWork:
    """One bench, for the units of one order; what comes from it waits in the inbox.

    Attributes:
        board: what the screen shows.
        state: the newest state of the bench's lines; None while it is not open.
        hands: who works at a simulated bench; None at a real one, where nobody knows.
        noticed: what has to be known, but stops nobody: found when the bench was opened, the newest last.

    """

    session_class: type[Session] = Session

    def __init__(self, setup: Setup, words: Words) -> None:
        self.setup = setup
        self.board = Board.of(setup.job, words, _earlier(setup))
        self.state: BenchState | None = None
        self.hands = Hands(setup.profile, self._at_bench) if setup.simulated else None
        self.noticed: list[str] = []
        self._inbox: queue.SimpleQueue[Stamped | Notice] = queue.SimpleQueue()
        self._engine: Engine[OrderResult] | None = None
        self._desk: ScanDesk | None = None
        self._signed_in: PersonSignedIn | None = None
        self._state_asked = False

    @property
    def running(self) -> bool:
        """Whether the engine is at work, so that leaving has to end it."""
        return self._engine is not None and not self._engine.done

    @property
    def may_close(self) -> bool:
        """Whether the bench may be closed for other work: no unit is in the nest, and nothing waits for a reset."""
        return not self.running or self.board.phase is Phase.SCAN

    def ask_state(self) -> None:
        """Ask the engine for the state of the lines, unless it still owes the last one."""
        if self._engine is not None and self.running and not self._state_asked:
            self._state_asked = True  # before the call: the answer may be quicker than its return
            if not self._engine.show_state(self._note_state):
                self._state_asked = False

    def _note_state(self, state: BenchState) -> None:
        self.state, self._state_asked = state, False

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

    def sign_in(self, signed_in: PersonSignedIn | None) -> None:
        """Take note of who works from the next unit on."""
        self._signed_in = signed_in
        if self._desk is not None:
            self._desk.signed_in = signed_in

    def end_of_draw(self) -> None:
        """No unit comes any more: let the work end in order."""
        if self._engine is not None and self._desk is not None:
            self._engine.call(self._desk.leave)

    def stop(self) -> None:
        """Release the relays now, from whatever thread this is called in."""
        if self._engine is not None and self.running:
            self._engine.stop("the stop key was pressed")

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
