"""The engine: a thread of its own that any other may stop, and that nobody who watches can hold up."""

from __future__ import annotations

import asyncio
import threading
import time
from typing import Any

import pytest

from hal.bench import Bench, open_bench
from hal.errors import NoAnswer, TripKind, Tripped
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Condition, Job
from hal.operator import Request, RequestKind
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from rig.engine import Engine, real_time_loop
from tests.hal.rigs import SELECTOR, output_lines

LOOPS = {"jumping": JumpingLoop, "real": real_time_loop}
NEST = SELECTOR.nest[0].name


class Occupied:
    """A bench with a unit under power, that waits until it is stopped."""

    def __init__(self) -> None:
        self.ready = threading.Event()
        self.simulated: SimulatedBench | None = None
        self.bench: Bench | None = None

    async def work(self, engine: Engine[str]) -> str:
        loop = asyncio.get_running_loop()
        furnished = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),))
        self.simulated = simulate(SELECTOR, furnished, loop)
        async with await open_bench(SELECTOR, self.simulated.pin_factory, self.simulated.wires) as bench:
            self.bench = bench
            engine.holds(bench)
            self.simulated.next_unit()
            await bench.interlock.arm()
            await bench.nests[0].power_on()
            self.ready.set()
            try:
                while True:
                    await bench.waits.sleep(0.01)
                    _let_others_run()
            except Tripped as tripped:
                return str(tripped)

    def outputs_on(self) -> list[str]:
        assert self.simulated is not None
        pins = self.simulated.pin_factory
        return [line for line, active in output_lines(SELECTOR).items() if pins.pin(line).state == active]


def _let_others_run() -> None:
    """On a jumping loop hours would pass before the test gets a word in."""
    time.sleep(0.001)


@pytest.fixture(params=LOOPS)
def loop_factory(request: pytest.FixtureRequest) -> Any:
    return LOOPS[request.param]


def test_a_stop_from_another_thread_has_switched_everything_off_when_it_returns(loop_factory: Any) -> None:
    job = Occupied()
    engine = Engine(job.work, loop_factory).start()
    assert job.ready.wait(60)
    engine.stop("stopped by a test")
    assert job.outputs_on() == []
    assert job.bench is not None
    assert job.bench.interlock.condition is Condition.TRIPPED
    assert job.bench.interlock.causes[0].kind is TripKind.ASKED
    assert engine.result(60) == "stopped by a test"
    assert engine.done


def test_many_threads_may_stop_at_once_and_again_after_the_end(loop_factory: Any) -> None:
    job = Occupied()
    engine = Engine(job.work, loop_factory).start()
    assert job.ready.wait(60)
    threads = [threading.Thread(target=engine.stop, args=(f"thread {number}",)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert engine.result(60).startswith("thread ")
    engine.stop("once more")
    engine.call(lambda: pytest.fail("nothing runs on a loop that has ended"))
    engine.say_done()
    assert job.outputs_on() == []


def test_a_stop_that_comes_before_the_bench_is_open_is_not_forgotten(loop_factory: Any) -> None:
    begun, go_on = threading.Event(), threading.Event()

    async def slow_to_open(engine: Engine[str]) -> str:
        begun.set()
        go_on.wait(60)
        furnished = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),))
        simulated = simulate(SELECTOR, furnished, asyncio.get_running_loop())
        async with await open_bench(SELECTOR, simulated.pin_factory, simulated.wires) as bench:
            engine.holds(bench)
            with pytest.raises(Tripped, match="stopped early"):
                await bench.interlock.arm()
            with pytest.raises(Tripped):
                bench.interlock.command(OutputId(Job.SUPPLY, NEST), True)
        return "never on"

    engine = Engine(slow_to_open, loop_factory).start()
    assert begun.wait(60)
    engine.stop("stopped early")
    go_on.set()
    assert engine.result(60) == "never on"


def test_whatever_the_job_raises_reaches_whoever_asks_for_its_result() -> None:
    async def fail(_: Engine[None]) -> None:
        raise ZeroDivisionError("in the engine")

    engine = Engine(fail).start()
    told = threading.Event()
    engine.when_done(told.set)
    with pytest.raises(ZeroDivisionError, match="in the engine"):
        engine.result(60)
    assert told.wait(60)
    assert engine.done


def test_whoever_comes_late_is_told_at_once_that_the_job_has_ended() -> None:
    async def nothing(_: Engine[int]) -> int:
        return 7

    engine = Engine(nothing).start()
    assert engine.result(60) == 7
    told: list[bool] = []
    engine.when_done(lambda: told.append(True))
    assert told == [True]


def test_done_is_said_from_another_thread() -> None:
    asked = threading.Event()

    async def ask(engine: Engine[str]) -> str:
        loop = asyncio.get_running_loop()
        furnished = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),))
        simulated = simulate(SELECTOR, furnished, loop)
        async with await open_bench(SELECTOR, simulated.pin_factory, simulated.wires) as bench:
            engine.say_done()  # nobody holds a bench yet
            engine.holds(bench)
            engine.say_done()  # nobody asked
            await asyncio.sleep(0.05)
            bench.operator.on_request.append(lambda _: asked.set())
            try:
                await bench.operator.ask(Request(RequestKind.CONFIRM, "Well?"), timeout_s=10.0)
            except NoAnswer:
                return "no answer"
            return "done"

    engine = Engine(ask).start()
    assert asked.wait(60)
    engine.say_done()
    assert engine.result(60) == "done"
