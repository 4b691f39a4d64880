"""Runs a session while the person watches: a live line, the way to stop it, and what became of each unit."""

from __future__ import annotations

import queue
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from hal.errors import BenchError
from rig.cli.exits import Exit, GiveUp, narrate
from rig.engine import Engine
from rig.events import Asked, BenchTripped, Stamped, UnitJudged
from rig.journal import JournalError
from rig.sequencer.order_run import OrderResult
from rig.session import Session
from rig.summary import Summary, UnitSummary

_SIGNALS = {
    signal.SIGINT: Exit.INTERRUPTED,
    signal.SIGTERM: Exit.TERMINATED,
    signal.SIGHUP: Exit.HANGUP,
}


class Watch:
    """Follows one session on the calling (main) thread."""

    def __init__(self, session: Session, summary: Summary, *, live: bool) -> None:
        self._session = session
        self._summary = summary
        self._live = live and sys.stderr.isatty()
        self._events: queue.SimpleQueue[Stamped] = queue.SimpleQueue()
        self._signal: signal.Signals | None = None

    def run(self) -> OrderResult:
        """Run the session to its end.

        Raises:
            GiveUp: when a signal ended it, the bench could not be opened or the record not be kept.

        """
        with self._signals_caught() as engines:
            engine = self._session.start(self._events.put)
            engines.append(engine)
            while not (engine.done and self._events.empty()):
                self._take_next()
            try:
                result = engine.result()
            except (BenchError, JournalError) as failure:
                raise GiveUp(Exit.BENCH_FAULT, _failure_words(failure)) from None
        self._clear_line()
        if self._signal is not None:
            raise GiveUp(_SIGNALS[self._signal], f"stopped by {self._signal.name}; relays off, record kept")
        return result

    @contextmanager
    def _signals_caught(self) -> Iterator[list[Engine[OrderResult]]]:
        engines: list[Engine[OrderResult]] = []

        def stop(number: int, _: FrameType | None) -> None:
            self._signal = signal.Signals(number)
            for engine in engines:
                engine.stop(f"stopped by {self._signal.name}")

        before = {number: signal.signal(number, stop) for number in _SIGNALS}
        try:
            yield engines
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _take_next(self) -> None:
        try:
            stamped = self._events.get(timeout=0.2)
        except queue.Empty:
            return
        unit = self._summary.add(stamped)
        match stamped.event:
            case Asked(text=text):
                self._show(text)
            case BenchTripped(words=words, check=check):
                self._clear_line()
                narrate(f"TRIPPED, everything is off: {words}. {check}")
            case UnitJudged():
                self._clear_line()
            case _ if unit is not None:
                self._show(self._where(unit))

    def _where(self, unit: UnitSummary) -> str:
        done = sum(one.verdict is not None for one in self._summary.units.values() if one.order == unit.order)
        return f"unit {done + 1} of {self._session.order.quantity}  {unit.serial}  {unit.step}"

    def _show(self, text: str) -> None:
        if self._live:
            sys.stderr.write(f"\r\x1b[2K{text[:100]}")
            sys.stderr.flush()

    def _clear_line(self) -> None:
        if self._live:
            sys.stderr.write("\r\x1b[2K")
            sys.stderr.flush()


def _failure_words(failure: BenchError | JournalError) -> str:
    return f"{failure}. {failure.check}" if isinstance(failure, BenchError) else str(failure)
