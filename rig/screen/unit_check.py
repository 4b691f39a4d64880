"""A measurement of the check unit as the screen drives it: on the engine's thread, followed from here.

It knows no terminal; whatever a key does is a method here.
"""

from __future__ import annotations

import queue
import time
from contextlib import suppress

from hal.errors import BenchError
from rig.air_now import in_measured_air
from rig.control.check_unit import Account
from rig.control.keeping import enter_measurement
from rig.control.measuring import NoCheckUnit, ready
from rig.engine import Engine
from rig.events import Asked, BenchTripped, PersonSignedIn, Stamped
from rig.journal import JournalError
from rig.planning.refusal import PlanRefused
from rig.screen.setup import QUICKEST_S, Bench, CannotStart
from rig.sequencer.order_run import OrderResult
from rig.session import Session

_PATIENCE_S = 5.0


class UnitCheck:
    """One measurement, from the opening of the bench to its place on the charts.

    Raises CannotStart where it cannot be done on this rig.

    Args:
        bench: the bench.
        account: its check unit.
        signed_in: who measures; None if nobody has said so.

    Attributes:
        request: what the person is asked for.
        tripped: why everything is off, if it is.
        account: the check unit, with the new measurement once there is one.
        failure: what ended it, if something did.
        simulated: whether no hardware is touched.

    """

    def __init__(self, bench: Bench, account: Account, signed_in: PersonSignedIn | None) -> None:
        try:
            made = ready(account, bench.profile, bench.furnished, in_measured_air)
        except (NoCheckUnit, PlanRefused, BenchError) as why:
            raise CannotStart(str(why)) from None
        self.account = account
        self.request: Asked | None = None
        self.tripped: BenchTripped | None = None
        self.failure: BaseException | None = None
        self.simulated = made.bench_file is not None
        self._journal = bench.journal
        self._person = "" if signed_in is None else signed_in.person
        self._inbox: queue.SimpleQueue[Stamped] = queue.SimpleQueue()
        self._asked_s = 0.0
        self._entered = False
        session = Session(
            made.job,
            made.profile,
            made.bench_file,
            bench.real_time,
            bench.journal,
            speed=bench.speed,
            signed_in=signed_in,
        )
        self._engine: Engine[OrderResult] = session.start(self._inbox.put)

    @property
    def running(self) -> bool:
        """Whether the engine is at work."""
        return not self._engine.done

    def pump(self) -> bool:
        """Take in all that has come, and at the end what was measured; tells whether anything has come."""
        came, ended = (
            False,
            self._engine.done,
        )  # before the last look, so that nothing that it has told is missed
        with suppress(queue.Empty):
            while True:
                self._take(self._inbox.get_nowait())
                came = True
        if ended and not self._entered:
            self._entered = came = True
            self._enter()
        return came

    def _take(self, stamped: Stamped) -> None:
        event = stamped.event
        if isinstance(event, BenchTripped):
            self.tripped = event
        asked = event if isinstance(event, Asked) else None
        if asked is not self.request:
            self.request, self._asked_s = asked, time.monotonic()

    def _enter(self) -> None:
        try:
            self._engine.result(0)
            self.account = enter_measurement(self._journal, self.account, self._person)
        except (BenchError, JournalError, NoCheckUnit) as failure:
            self.failure = failure

    def say_done(self) -> str:
        """Tell the rig 'done'; returns the catalogue key of what was amiss."""
        if self.request is None:
            return "scan.not-now"
        if self.simulated:
            return "selfcheck.theirs"
        if time.monotonic() - self._asked_s < QUICKEST_S:
            return "scan.too-soon"
        self._engine.say_done()
        return ""

    def stop(self, words: str) -> None:
        """Release the relays now, from whatever thread this is called in; the measurement ends."""
        self._engine.stop(words)

    def leave(self, words: str) -> None:
        """Release the relays, and wait until the record is whole."""
        if self.running:
            self._engine.stop(words)
            with suppress(TimeoutError, Exception):
                self._engine.result(_PATIENCE_S)
