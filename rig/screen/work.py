"""The work on one order as the screen drives it: opens the bench, takes events in, sends wishes.

It knows no terminal; whatever a key does is a method here.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hal.bench import Bench, BenchState
from rig.engine import Engine
from rig.events import Stamped, UnitJudged, UnitRemoved, UnitStarted
from rig.screen.desk import ScanDesk
from rig.screen.record import recorded
from rig.screen.view.board import Board, Phase
from rig.screen.view.notices import AsideWanted, Notice, SerialWanted, WorkEnded
from rig.screen.view.serials import Scan, cleaned, judge_scan, names
from rig.screen.view.wording import Words, read_number
from rig.sequencer.order_run import Job, OrderResult
from rig.session import Session
from wiring.profile import TargetKind

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench
    from hal.simulated.benchfile import BenchFile
    from sequences.order import Order
    from sequences.sensor_type import SensorType
    from wiring.profile import RigProfile

# Nobody reads a request and does it in less: a key that bounces, or a scanner that ends in two Enters, says nothing.
QUICKEST_S = 0.4
# After a stop the relays are off at once; the rest of the work, such as a slow disk, gets this long.
_PATIENCE_S = 5.0
_STANDING_EVENTS = (UnitStarted, UnitJudged, UnitRemoved)


@dataclass(frozen=True, slots=True)
class Setup:
    """One order on one bench, read and planned.

    Attributes:
        bench_file: what the simulated bench holds; None on a real one.
        real_time: whether a simulated bench runs as slowly as a real one, or `speed` times as fast.
        practice: whether a newcomer is led through it.

    """

    job: Job
    order: Order
    sensor_type: SensorType
    profile: RigProfile
    bench_file: BenchFile | None
    journal: Path | None
    real_time: bool = True
    speed: float = 1.0
    practice: bool = False
    quickest_s: float = QUICKEST_S

    @property
    def simulated(self) -> bool:
        """Whether no hardware is touched."""
        return self.bench_file is not None

    @property
    def moves_by_itself(self) -> bool:
        """Whether a stage moves the target, and nobody has to."""
        return self.profile.target.kind is TargetKind.STAGE


class OrderWork:
    """One order, from its record so far to its last unit.

    Attributes:
        board: what the screen shows.
        state: the newest state of the bench's lines; None while it is not open.
        by_hand: on a simulated bench, whether the user does what the simulated person would do.

    """

    def __init__(self, setup: Setup, words: Words) -> None:
        self.setup = setup
        self.board = Board.of(setup.job, words, _earlier(setup))
        self.state: BenchState | None = None
        self.by_hand = setup.simulated and setup.moves_by_itself
        self._inbox: queue.SimpleQueue[Stamped | Notice] = queue.SimpleQueue()
        self._engine: Engine[OrderResult] | None = None
        self._desk: ScanDesk | None = None
        self._simulated: SimulatedBench | None = None
        self._queued: str | None = None
        self._aside_said = False
        self._state_asked = False
        self._phase_since_s = time.monotonic()

    # -- what comes from the engine ------------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether the engine is at work, so that leaving has to end it."""
        return self._engine is not None and not self._engine.done

    def pump(self) -> bool:
        """Take in all that has come; tells whether anything has."""
        came = False
        with suppress(queue.Empty):
            while True:
                self._take(self._inbox.get_nowait())
                came = True
        return came

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
                self._hand_over(serial)
            case AsideWanted() if self._aside_said:
                self.put_aside()
            case WorkEnded():
                self.state, self._simulated = None, None
                self._state_asked = False
                self._queued = None
        self._aside_said = self._aside_said and not isinstance(notice, AsideWanted)

    # -- what the person says ------------------------------------------------------------------------------------

    def enter(self, text: str) -> Scan | None:
        """Take in a line that was scanned or typed, or 'done' if it is empty; tells what was made of it."""
        given, phase = cleaned(text), self.board.phase
        if not given:
            return self._enter_nothing()
        if phase.takes_serial or phase is Phase.ENDED:
            return self._take_serial(given)
        if phase is Phase.TAKE_OUT:
            return self._take_out(given)
        if phase is Phase.ASIDE:
            return self._named_aside(given)
        if phase is Phase.ASKED and self.board.wants_number:
            return self._say_number(given)
        if phase is Phase.FIT and names(given, self.board.serial):
            return Scan(None, "scan.chosen", {"serial": self.board.serial})
        return Scan(None, "scan.not-now", {"text": given[:40]})

    def begin(self, first: str | None = None) -> None:
        """Open the bench; with a unit that was scanned already, if there is one."""
        if self.running:
            return
        serials = self.board.standing.open_serials
        if first is not None and first not in serials:
            serials = (first, *serials)
        self.board.begin()
        desk = self._desk = ScanDesk(serials, self._inbox.put, first=first)
        setup = self.setup
        session = Session(
            setup.job,
            setup.profile,
            setup.bench_file,
            setup.real_time,
            setup.journal,
            desk,
            self._join_hands if setup.simulated else None,
            setup.speed,
        )
        engine = self._engine = session.start(self._inbox.put)
        engine.when_done(lambda: self._inbox.put(_ended(engine)))

    def reset(self) -> None:
        """Reset the bench after a trip, or open it again after a failure."""
        desk = self._desk
        if self.board.phase is Phase.TRIPPED and self._engine is not None and desk is not None:
            self._engine.call(desk.reset)
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

    # -- the user in the place of the simulated person -----------------------------------------------------------

    def change_hands(self) -> None:
        """Let the user do what the simulated person did, or the other way round."""
        self.by_hand = not self.by_hand
        simulated = self._simulated
        if simulated is None:
            return
        if self.by_hand:
            simulated.person.steps_back = True
        else:
            self._at_bench(simulated.person.come_forward)

    def move_target(self, by_mm: float = 0.0, *, to_mm: float | None = None) -> None:
        """Carry the simulated target along the scale, by so much or to a position."""
        simulated, target = self._simulated, self.setup.profile.target
        if simulated is None or not self.by_hand:
            return

        def carry() -> None:
            plate = simulated.world.target
            there_mm = plate.position_mm() + by_mm if to_mm is None else to_mm
            there_mm = min(max(there_mm, target.nearest_mm), target.farthest_mm)
            plate.start_move(there_mm, _HAND_MM_S, placement_mm=0.0)

        self._at_bench(carry)

    def swing_target(self) -> None:
        """Take the simulated target out of the beam, or bring it in."""
        simulated = self._simulated
        if simulated is not None and self.by_hand:
            self._at_bench(lambda: simulated.world.target.put_in_beam(not simulated.world.target.in_beam))

    def press_button(self) -> None:
        """Press the stop button of the simulated bench, or pull it out."""
        simulated = self._simulated
        if simulated is not None:
            coils = simulated.world.coils
            self._at_bench(lambda: coils.press_stop(not coils.stop_pressed))

    @property
    def hand_mm(self) -> float | None:
        """Where the simulated target stands on its scale; None while it is out of the beam or there is none."""
        simulated = self._simulated
        if simulated is None or not simulated.world.target.in_beam:
            return None
        return simulated.world.target.position_mm()

    @property
    def places_by_hand(self) -> bool:
        """Whether the user carries the target of a simulated bench."""
        return self.by_hand and not self.setup.moves_by_itself

    def _join_hands(self, simulated: SimulatedBench, bench: Bench) -> None:
        self._simulated = simulated
        simulated.person.steps_back = self.by_hand
        simulated.person.attach(bench.operator)

    def _at_bench(self, deed: Callable[[], object]) -> None:
        if self._engine is not None:
            self._engine.call(deed)

    # -- a line in each phase --------------------------------------------------------------------------------------

    def _enter_nothing(self) -> Scan | None:
        phase = self.board.phase
        if phase not in (Phase.FIT, Phase.ASKED, Phase.TAKE_OUT):
            return None
        if phase is Phase.ASKED and self.board.wants_number:
            return Scan(None, "scan.number")
        if time.monotonic() - self._phase_since_s < self.setup.quickest_s:
            return Scan(None, "scan.too-soon")
        self._done()
        return None

    def _say_number(self, given: str) -> Scan | None:
        number = read_number(given)
        if number is None:
            return Scan(None, "scan.no-number", {"text": given[:40]})
        if self._engine is not None:
            self._engine.say_number(number)
        return None

    def _done(self) -> None:
        engine, simulated = self._engine, self._simulated
        if engine is None:
            return
        if simulated is not None and self.by_hand:
            engine.call(simulated.person.finish)
        else:
            engine.say_done()

    def _take_serial(self, given: str) -> Scan:
        scan = judge_scan(given, self.board.standing)
        if scan.serial is not None:
            self._hand_over(scan.serial)
        return scan

    def _hand_over(self, serial: str) -> None:
        desk = self._desk
        if self._engine is not None and self.running and desk is not None:
            self._engine.call(lambda: desk.hand_over(serial))
        else:
            self.begin(serial)

    def _take_out(self, given: str) -> Scan:
        board = self.board
        if board.in_nest_not_good:
            if not names(given, board.serial):
                return Scan(None, "scan.other-aside", {"text": given[:40], "serial": board.serial})
            self._aside_said = True
            self._done()
            return Scan(board.serial, "scan.accepted", {"serial": board.serial})
        scan = judge_scan(given, board.standing)
        if scan.serial is not None:
            self._queued = scan.serial
            self._done()
        return scan

    def _named_aside(self, given: str) -> Scan | None:
        if not names(given, self.board.serial):
            return Scan(None, "scan.other-aside", {"text": given[:40], "serial": self.board.serial})
        self.put_aside()
        return None


_HAND_MM_S = 2000.0


def _ended(engine: Engine[OrderResult]) -> WorkEnded:
    try:
        return WorkEnded(engine.result(0), None)
    except BaseException as failure:
        return WorkEnded(None, failure)


def _earlier(setup: Setup) -> list[Stamped]:
    """What earlier runs have recorded of the order; nothing where there is no record."""
    return recorded(setup.journal, _STANDING_EVENTS, order=setup.job.order.number)
