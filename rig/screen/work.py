"""The work on one order as the screen drives it: takes events in, sends wishes.

It knows no terminal; whatever a key does is a method here.
"""

from __future__ import annotations

import queue
import time
from contextlib import suppress
from typing import ClassVar

from hal.operator import RequestKind
from rig.events import ComputerStrained, Stamped
from rig.screen.bench_work import BenchWork
from rig.screen.entering import entered
from rig.screen.setup import Setup
from rig.screen.view.board import Phase
from rig.screen.view.instruction import Instruction, instruction
from rig.screen.view.notices import AsideWanted, CodeRead, Notice, Noticed, SerialWanted, WorkEnded
from rig.screen.view.serials import Scan
from rig.screen.view.told import strained
from rig.screen.view.wording import Words


class OrderWork(BenchWork):
    """One order, from its record so far to its last unit.

    Attributes:
        is_study: whether it is a gauge study, which has a screen of its own.

    """

    is_study: ClassVar[bool] = False

    def __init__(self, setup: Setup, words: Words) -> None:
        super().__init__(setup, words)
        self._queued: str | None = None
        self._codes: list[str] = []
        self._aside_said = False
        self._phase_since_s = time.monotonic()

    # -- what comes from the engine ------------------------------------------------------------------------------

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

    def instruction(self) -> Instruction:
        """The next thing to do."""
        return instruction(self.board)

    @property
    def theirs(self) -> bool:
        """Whether it is a simulated person who does what is asked for."""
        request = self.board.request
        return (
            self.hands is not None
            and request is not None
            and not self.hands.does(RequestKind(request.request))
        )

    @property
    def can_close(self) -> bool:
        """Whether there is a decision to enter, as on a lot whose sample is tested."""
        return False

    def closing_words(self) -> list[str]:
        """How the order stands and how to go on, for the terminal after the screen."""
        if self.setup.practice:
            return []
        self.pump()
        standing, words = self.board.standing, self.board.words
        left, total = len(standing.open_serials), len(standing.units)
        stands = words("closing.stands", order=self.setup.job.order.number, done=total - left, total=total)
        return [stands, words("closing.go-on")] if left else [stands]

    # -- what the person says ------------------------------------------------------------------------------------

    def enter(self, text: str) -> Scan | None:
        """Take in a line that was scanned or typed, or 'done' if it is empty; tells what was made of it."""
        return entered(self, text)

    @property
    def enter_counts(self) -> bool:
        """Whether Enter alone says something in this phase, such as 'done', or may do so at any moment."""
        phase = self.board.phase
        return phase.unit_in_work or phase in (Phase.OPENING, Phase.FIT, Phase.TAKE_OUT)

    @property
    def asked_just_now(self) -> bool:
        """Whether nobody can have read yet what is asked for."""
        return time.monotonic() - self._phase_since_s < self.setup.quickest_s

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
