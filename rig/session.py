"""A session: everything that one run of an order needs, opened on the engine's thread and closed again."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AsyncExitStack, ExitStack, asynccontextmanager, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from hal.bench import Bench, open_bench
from hal.errors import BenchError
from hal.operator import Request
from hal.simulated.benchfile import BenchFile
from rig.calibration.using import correct_by_calibration
from rig.chronicle import Chronicle, TimeBase, Watcher
from rig.control.at_desk import WhileInControl
from rig.control.gate import Leave
from rig.engine import WAKE_EARLY_S, Engine, hurried_loop, real_time_loop
from rig.events import ComputerStrained, PersonSignedIn
from rig.journal import JOURNAL_NAME as JOURNAL_NAME
from rig.journal import Journal
from rig.moments import run_named
from rig.sequencer.desk import Desk, Listed
from rig.sequencer.order_run import Job, OrderResult, OrderRun
from rig.software import software_version
from rig.store.outbox import forwarder_of
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench
    from rig.store.forwarding import Forwarder

# The simulated calendar begins here, so that the same seed writes the same record.
SIMULATED_START = datetime(2026, 1, 5, 7, 0, tzinfo=UTC)
_FOR_GOOD = Leave()


_T = TypeVar("_T")


class BenchSession(Generic[_T]):
    """Work on one bench: opened on the engine's thread, recorded, closed again. What the work is, subclasses say."""

    profile: RigProfile
    bench_file: BenchFile | None
    real_time: bool
    journal: Path | None
    hands: Callable[[SimulatedBench, Bench], object] | None
    speed: float
    notice: Callable[[str], object]

    @property
    def quantity(self) -> int:
        """How many units are worked on."""
        return 0

    @property
    def waits_for_people(self) -> bool:
        """Whether a simulated bench that has nothing to do waits for somebody outside."""
        return False

    async def work(self, bench: Bench, chronicle: Chronicle) -> _T:
        """What is done on the open bench."""
        raise NotImplementedError

    async def not_opened(self, failure: BenchError, _chronicle: Chronicle) -> _T:
        """What becomes of work whose bench cannot be opened."""
        raise failure

    def run_name(self) -> str:
        """The name of this run in the record; no two are alike."""
        raise NotImplementedError

    def start(self, watch: Watcher, on_request: Callable[[Request], None] | None = None) -> Engine[_T]:
        """Start the engine; `watch` gets every event on the engine's thread and must only hand it on."""
        return Engine(lambda engine: self._run(engine, watch, on_request), self._loop).start()

    async def _run(
        self, engine: Engine[_T], watch: Watcher, on_request: Callable[[Request], None] | None
    ) -> _T:
        loop = asyncio.get_running_loop()
        with ExitStack() as records:
            chronicle = Chronicle(loop, self._journal(records), self._time_base(loop))
            chronicle.watch(watch)
            if (resting := self.profile.resting_nests()) is not None:
                self.notice(resting)
            async with AsyncExitStack() as stack:
                if self.bench_file is None:
                    stack.enter_context(_strain_noted(loop, chronicle))
                try:
                    bench = await stack.enter_async_context(self._bench(loop))
                except BenchError as failure:
                    return await self.not_opened(failure, chronicle)
                engine.holds(bench)
                if on_request is not None:
                    bench.operator.on_request.append(on_request)
                return await self.work(bench, chronicle)

    def _journal(self, records: ExitStack) -> Journal | None:
        """The record, and what hands it on to the shop; closed first, so that the last entries go there too."""
        if self.journal is None:
            return None
        forwarder = forwarder_of(self.journal)
        journal = Journal(self.journal, self.run_name())
        if forwarder is not None:
            records.callback(self._end_forwarding, forwarder.start())
        records.callback(journal.close)
        return journal

    def _end_forwarding(self, forwarder: Forwarder) -> None:
        forwarder.stop()
        if forwarder.trouble:
            self.notice(f"{forwarder.trouble}; what was recorded waits here and goes there with the next run")

    @property
    def _jumping(self) -> bool:
        return self.bench_file is not None and not self.real_time

    @asynccontextmanager
    async def _bench(self, loop: asyncio.AbstractEventLoop) -> AsyncIterator[Bench]:
        if self.bench_file is None:
            from hal.board import open_board_bench

            board = open_board_bench(self.profile, self.notice, wake_early_s=WAKE_EARLY_S)
            async with await board as bench:
                yield bench
            return
        from hal.simulated import simulate

        profile = self.profile if self._jumping else _held_up(self.profile, self.speed)
        simulated = simulate(profile, self.bench_file, loop)
        early_s = 0.0 if self._jumping else WAKE_EARLY_S
        opening = open_bench(profile, simulated.pin_factory, simulated.wires, wake_early_s=early_s)
        async with await opening as bench:
            if self.hands is None:
                simulated.person.attach(bench.operator)
            else:
                self.hands(simulated, bench)
            yield bench

    def _time_base(self, loop: asyncio.AbstractEventLoop) -> TimeBase:
        from hal.simulated.clock import JumpingLoop

        if isinstance(loop, JumpingLoop):
            return TimeBase(SIMULATED_START, loop.outside)
        return TimeBase()

    def _loop(self) -> asyncio.AbstractEventLoop:
        if not self._jumping:
            hurried = self.bench_file is not None and self.speed != 1.0
            return hurried_loop(self.speed) if hurried else real_time_loop()
        from hal.simulated.clock import JumpingLoop

        return JumpingLoop(waits_for_callers=self.waits_for_people)


def _held_up(profile: RigProfile, speed: float) -> RigProfile:
    """A simulated bench in a hurry, with coils that hold on for as long, in real time, as those of the profile.

    This computer may be held up for as long as ever, whatever the speed; that would trip the bench.
    """
    coils = profile.coil_supply
    held = coils.model_copy(update={"dropout_s": coils.dropout_s * speed})
    return profile.model_copy(update={"coil_supply": held})


@contextmanager
def _strain_noted(loop: asyncio.AbstractEventLoop, chronicle: Chronicle) -> Iterator[None]:
    """Note what becomes of a board's computer; looked at in a thread apart, noted on the engine's."""
    from rig.strain import watched_computer

    kept_open = True

    def note(event: ComputerStrained) -> None:
        if kept_open:
            chronicle.note(event)

    try:
        with watched_computer(lambda event: loop.call_soon_threadsafe(note, event)):
            yield
    finally:
        kept_open = False


@dataclass(frozen=True)
class Session(BenchSession[OrderResult]):
    """One order on one bench.

    Attributes:
        bench_file: what the simulated bench holds; None on a real one.
        real_time: whether a simulated bench runs as slowly as a real one.
        journal: where the record is kept; None keeps none.
        desk: where the units come from; None takes them as the order lists them.
        serials: the units to do, where no desk hands them over; None: all of the order.
        speed: how many times as fast as real time a simulated bench runs that runs in real time.
        notice: told what is found on a board when its lines are opened, and why nothing goes to the shop.
        signed_in: who works at the bench, where no desk says so.
        on_code: told on the engine's thread what the code reader read, where one is fitted.
        leave: until when units may be begun, as the check unit of the rig has it.
        hands: who works at a simulated bench, called once it is open; None: the simulated person.

    """

    job: Job
    profile: RigProfile
    bench_file: BenchFile | None
    real_time: bool
    journal: Path | None
    desk: Desk | None = None
    hands: Callable[[SimulatedBench, Bench], object] | None = None
    speed: float = 1.0
    notice: Callable[[str], object] = lambda _: None
    serials: tuple[str, ...] | None = None
    signed_in: PersonSignedIn | None = None
    on_code: Callable[[str], object] = lambda _: None
    leave: Leave = _FOR_GOOD

    @property
    def quantity(self) -> int:
        """How many units the order has."""
        return self.job.order.quantity

    @property
    def waits_for_people(self) -> bool:
        """Where a person hands the units over, a bench that has nothing to do waits for them."""
        return self.desk is not None

    async def work(self, bench: Bench, chronicle: Chronicle) -> OrderResult:
        """Unit after unit."""
        correct_by_calibration(bench, self.journal)
        if bench.code_reader is not None:
            bench.code_reader.on_code.append(self.on_code)
        serials = self.job.order.unit_serials() if self.serials is None else self.serials
        desk: Desk = self.desk or Listed(serials, self.signed_in)
        if self.leave.until is not None:
            desk = WhileInControl(desk, self.leave)
        return await OrderRun(bench, chronicle, self.job, desk, software_version()).run()

    def run_name(self) -> str:
        """Named after its order."""
        return run_named(self.job.order.number)
