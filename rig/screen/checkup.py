"""A self-check of the rig as the screen drives it: on the engine's thread, followed from here.

It knows no terminal; whatever a key does is a method here.
"""

from __future__ import annotations

import queue
import time
from contextlib import suppress
from pathlib import Path

from hal.simulated.benchfile import BenchFile
from rig.engine import Engine
from rig.events import Stamped
from rig.screen.setup import QUICKEST_S
from rig.screen.view.checks import CheckBoard
from rig.screen.view.wording import read_number
from rig.selfcheck.checks import checks_of
from rig.selfcheck.history import history_of
from rig.selfcheck.run import Result
from rig.selfcheck.session import SelfCheckSession
from wiring.profile import RigProfile

_PATIENCE_S = 5.0


class Checkup:
    """One self-check, from the opening of the bench to its result.

    Raises JournalError when the record of earlier ones cannot be read.

    Args:
        profile: the rig.
        bench_file: what a simulated bench holds; None on a board.
        journal: where it is recorded.
        real_time: whether a simulated bench runs as slowly as a real one, or `speed` times as fast.
        speed: see there.

    Attributes:
        board: what the screen shows.
        failure: what ended it, if something did.
        notices: what was found when the bench was opened.

    """

    def __init__(
        self,
        profile: RigProfile,
        bench_file: BenchFile | None,
        journal: Path | None,
        real_time: bool,
        speed: float,
    ) -> None:
        self.profile = profile
        self.board = CheckBoard(checks_of(profile))
        self.failure: BaseException | None = None
        self.notices: list[str] = []
        self.simulated = bench_file is not None
        self._inbox: queue.SimpleQueue[Stamped | str] = queue.SimpleQueue()
        self._asked_s = 0.0
        earlier = {} if journal is None else history_of(journal, profile.name).figures
        session = SelfCheckSession(
            profile, bench_file, real_time, journal, earlier, notice=self._inbox.put, speed=speed
        )
        self._engine: Engine[Result] = session.start(self._inbox.put)

    @property
    def running(self) -> bool:
        """Whether the engine is at work."""
        return not self._engine.done

    def pump(self) -> bool:
        """Take in all that has come; tells whether anything has."""
        came = False
        ended = self._engine.done  # before the last look, so that nothing that it has told is missed
        with suppress(queue.Empty):
            while True:
                self._take(self._inbox.get_nowait())
                came = True
        if ended and self.failure is None and self.board.outcome is None:
            self._note_end()
            came = True
        return came

    def _take(self, one: Stamped | str) -> None:
        if isinstance(one, str):
            self.notices.append(one)
            return
        asked = self.board.request
        self.board.take(one)
        if self.board.request is not asked:
            self._asked_s = time.monotonic()

    def _note_end(self) -> None:
        try:
            self._engine.result(0)
        except BaseException as failure:
            self.failure = failure

    def say(self, text: str) -> str:
        """Tell the rig 'done', or the number that it asked for; returns the catalogue key of what was amiss."""
        if self.board.request is None or (text and not self.board.wants_number):
            return "scan.not-now"
        if self.simulated:
            return "selfcheck.theirs"
        if self.board.wants_number:
            number = read_number(text)
            if number is None:
                return "scan.no-number" if text else "scan.number"
            self._engine.say_number(number)
        elif time.monotonic() - self._asked_s < QUICKEST_S:
            return "scan.too-soon"
        else:
            self._engine.say_done()
        return ""

    def stop(self, words: str) -> None:
        """Release the relays now, from whatever thread this is called in; the self-check ends."""
        self._engine.stop(words)

    def leave(self, words: str) -> None:
        """Release the relays, and wait until the record is whole."""
        if self.running:
            self._engine.stop(words)
            with suppress(TimeoutError, Exception):
                self._engine.result(_PATIENCE_S)
