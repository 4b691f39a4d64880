"""Runs a session while the person watches: requests, verdicts, a live line, and the way to stop it."""

from __future__ import annotations

import os
import queue
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from math import inf
from types import FrameType
from typing import Generic, TypeVar

from hal.errors import BenchError
from hal.operator import RequestKind
from rig.cli.exits import Exit, GiveUp, narrate, repaint
from rig.cli.stops import STOPS
from rig.cli.table import verdict_words
from rig.engine import Engine
from rig.events import Asked, BenchTripped, ComputerStrained, PartChecked, Stamped, Strain, UnitJudged
from rig.journal import JournalError
from rig.session import BenchSession
from rig.summary import Summary, UnitSummary
from rig.typed import typed_number
from wiring.tomlfile import DataFileError

# After a stop the relays are off at once; the rest of the work, such as a slow disk, gets this long.
_PATIENCE_S = 5.0
# Nobody reads a request and does it in less: Enter pressed twice says 'done' once.
_QUICKEST_S = 0.5

_STRAINED = {
    Strain.HOT: "the processor is at {:.0f} degrees C and slows down: give the board air, contacts get less exact",
    Strain.MEMORY: "only {:.0f} MB of memory are left: end other programs before the kernel ends one",
    Strain.CLOCK: "the board's clock was set by {:.0f} s: dates noted before it are off by that, lengths are not",
}

_T = TypeVar("_T")


class Watch(Generic[_T]):
    """Follows one session on the calling (main) thread.

    Attributes:
        summary: the units so far.
        stopped_by: the exit code of the signal that stopped it, if one did.

    """

    def __init__(self, session: BenchSession[_T], summary: Summary, *, live: bool) -> None:
        self.stopped_by: Exit | None = None
        self._session = session
        self.summary = summary
        self._live = live and sys.stderr.isatty()
        # Where time passes as it does for people, each verdict and request is said as it comes.
        self._in_real_time = session.bench_file is None or session.real_time
        self._events: queue.SimpleQueue[Stamped | None] = queue.SimpleQueue()
        self._engine: Engine[_T] | None = None
        self._stop_words = ""
        self._leave_at_s = inf
        self._asked_at_s = inf
        self._asked_for_number = False

    def run(self) -> _T:
        """Run the session to its end, or to the first signal.

        Raises:
            GiveUp: when the bench could not be opened, the record not be kept or the end not be waited for.

        """
        with self._signals_caught():
            engine = self._engine = self._session.start(self._events.put)
            engine.when_done(lambda: self._events.put(None))
            if self._stop_words:
                engine.stop(self._stop_words)
            if self._in_real_time:
                self._listen_for_enter(engine)
            try:
                ended = self._follow(engine)
            except BaseException:
                # Whatever ended the watching ends the work: nobody would see a request any more.
                _end(engine)
                raise
        self._clear_line()
        if not ended:
            words = f"{self._stop_words}; relays off, but the end of the record may be missing"
            raise GiveUp(self.stopped_by or Exit.INTERRUPTED, words)
        try:
            return engine.result()
        except (BenchError, JournalError) as failure:
            raise GiveUp(self.stopped_by or Exit.BENCH_FAULT, _failure_words(failure)) from None
        except DataFileError as misfit:  # a simulated bench that does not fit its rig profile
            raise GiveUp(Exit.BAD_INPUT, str(misfit)) from None

    @contextmanager
    def _signals_caught(self) -> Iterator[None]:
        before = {number: signal.signal(number, self._stop) for number in STOPS}
        # A program in the background that listens for a key would be stopped, with its relays on.
        before[signal.SIGTTIN] = signal.signal(signal.SIGTTIN, signal.SIG_IGN)
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _stop(self, number: int, _: FrameType | None) -> None:
        again = self.stopped_by is not None
        self._leave_at_s = time.monotonic() + (0.0 if again else _PATIENCE_S)
        self._stop_words = f"stopped by {signal.Signals(number).name}"
        self.stopped_by = self.stopped_by or STOPS[signal.Signals(number)]
        if self._engine is not None:
            self._engine.stop(self._stop_words)

    def _follow(self, engine: Engine[_T]) -> bool:
        """Take events until the work has ended; false when it did not end in time after a signal."""
        while not (engine.done and self._events.empty()):
            if time.monotonic() > self._leave_at_s:
                return False
            with suppress(queue.Empty):
                stamped = self._events.get(timeout=0.2)
                if stamped is not None:
                    self._take(stamped)
        return True

    def _take(self, stamped: Stamped) -> None:
        unit = self.summary.add(stamped)
        match stamped.event:
            case Asked(request=request, text=text) if self._in_real_time:
                self._say(f"> {text}")
                self._asked_for_number = RequestKind(request).wants_number
                self._asked_at_s = time.monotonic()
            case Asked(text=text):
                self._show(text)
            case BenchTripped(words=words, check=check):
                self._say(f"TRIPPED, everything is off: {words}. {check}")
            case ComputerStrained(strain=strain, value=value):
                self._say(f"note: {_STRAINED[Strain(strain)].format(abs(value))}")
            case PartChecked(part=part, outcome=outcome) if self._in_real_time:
                self._say(f"{part}: {outcome}")
            case UnitJudged() if self._in_real_time and unit is not None:
                self._say(verdict_words(unit))
            case _ if unit is not None:
                self._show(self._where(unit))

    def _where(self, unit: UnitSummary) -> str:
        begun = sum(one.order == unit.order for one in self.summary.units.values())
        return f"unit {begun} of {self._session.quantity}  {unit.serial}  {unit.step}"

    def _listen_for_enter(self, engine: Engine[_T]) -> None:
        """Let the Enter key say 'done', beside a foot switch or instead of one, or end a number."""

        def listen() -> None:
            # Not through sys.stdin: a thread that waits in there keeps the program from ending in order.
            with suppress(OSError):
                while typed := os.read(sys.stdin.fileno(), 1024):
                    if time.monotonic() - self._asked_at_s >= _QUICKEST_S:
                        self._answer(engine, typed.decode("utf-8", "replace"))

        if sys.stdin is not None and sys.stdin.isatty():
            threading.Thread(target=listen, name="enter", daemon=True).start()

    def _answer(self, engine: Engine[_T], typed: str) -> None:
        if not self._asked_for_number:
            engine.say_done()
            return
        try:
            engine.say_number(typed_number(typed))
        except ValueError as nonsense:
            narrate(str(nonsense))

    def _say(self, words: str) -> None:
        self._clear_line()
        narrate(words)

    def _show(self, text: str) -> None:
        if self._live:
            repaint(text)

    def _clear_line(self) -> None:
        if self._live:
            repaint("")


def _end(engine: Engine[_T]) -> None:
    engine.stop("nobody is watching any more")
    with suppress(Exception):  # another error is on its way already
        engine.result(_PATIENCE_S)


def _failure_words(failure: BenchError | JournalError) -> str:
    return f"{failure}. {failure.check}" if isinstance(failure, BenchError) else str(failure)
