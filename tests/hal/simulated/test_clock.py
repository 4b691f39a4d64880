"""The jumping clock must be right before anything that runs on it can be believed."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import signal
import socket
import threading
import time
import weakref

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.simulated.clock import JumpingLoop, Stalled, run
from tests.looking import examples


def run_on(loop: JumpingLoop, main):
    with asyncio.Runner(loop_factory=lambda: loop) as runner:
        return runner.run(main)


def test_an_hour_passes_in_a_moment():
    async def main():
        await asyncio.sleep(3600)
        return asyncio.get_running_loop().time()

    started = time.perf_counter()
    assert run(main()) == 3600.0
    assert time.perf_counter() - started < 15.0


def test_a_million_beats_lose_nothing():
    async def main():
        loop = asyncio.get_running_loop()
        beats = 0
        done = loop.create_future()

        def beat():
            nonlocal beats
            beats += 1
            if beats == 100_000:
                done.set_result(None)
            else:
                loop.call_later(0.06, beat)

        loop.call_later(0.06, beat)
        await done
        return loop.now_ns

    assert run(main()) == 100_000 * 60_000_000


def test_a_timer_never_runs_early_by_a_nanosecond_or_more():
    async def main():
        loop = asyncio.get_running_loop()
        draw = random.Random(1)
        early = []

        def fired(when):
            early.append(when - loop.time())

        for _ in range(2000):
            when = draw.uniform(0, 1e5)
            loop.call_at(when, fired, when)
        await asyncio.sleep(1.1e5)
        return early

    early = run(main())
    assert len(early) == 2000
    assert max(early) < 1e-9
    assert min(early) > -1e-9


@settings(max_examples=examples(60))
@given(st.lists(st.floats(0, 1e4, allow_subnormal=False), max_size=40))
def test_timers_run_in_order_of_their_deadlines(delays):
    async def main():
        loop = asyncio.get_running_loop()
        order = []
        for delay in delays:
            loop.call_later(delay, order.append, delay)
        await asyncio.sleep(1e4 + 1)
        return order

    assert run(main()) == sorted(delays)


def test_half_a_nanosecond_does_not_spin():
    async def main():
        loop = asyncio.get_running_loop()
        for half in range(1, 200):
            done = asyncio.Event()
            loop.call_at(loop.time() + half * 0.5e-9, done.set)
            await done.wait()
        return loop.now_ns

    assert run(main()) <= 200 * 200


def test_late_in_a_long_run_nanoseconds_still_count():
    async def main():
        loop = asyncio.get_running_loop()
        await asyncio.sleep(1_900_000)
        before = loop.now_ns
        await asyncio.sleep(5e-9)
        return loop.now_ns - before

    assert 4 <= run(main()) <= 6


def test_a_stall_names_the_waiting_task_and_its_line():
    async def forgotten():
        await asyncio.get_running_loop().create_future()

    async def main():
        await asyncio.gather(asyncio.create_task(forgotten(), name="step 4"))

    with pytest.raises(Stalled, match=r"step 4 at forgotten \(test_clock\.py:\d+\)"):
        run(main())


def test_a_stall_still_lets_tasks_clean_up():
    cleaned = []

    async def main():
        try:
            await asyncio.Event().wait()
        finally:
            cleaned.append(True)

    with pytest.raises(Stalled):
        run(main())
    assert cleaned == [True]


def test_a_heartbeat_does_not_hide_a_deadlock_for_ever():
    async def main():
        loop = asyncio.get_running_loop()

        def beat():
            loop.call_later(0.06, beat)

        beat()
        await asyncio.Event().wait()

    with pytest.raises(Stalled, match=r"60 simulated.* at main \(test_clock\.py:\d+\) > Event\.wait"):
        run_on(JumpingLoop(longest_s=60), main())


def test_time_stands_still_while_a_thread_works():
    def work():
        time.sleep(0.05)
        return 7

    async def main():
        loop = asyncio.get_running_loop()
        late = loop.call_later(1, lambda: None)
        result = await asyncio.to_thread(work)
        assert not late.cancelled()
        return result, loop.time()

    assert run(main()) == (7, 0.0)


def test_hand_over_from_threads_never_loses_a_race_with_the_clock():
    async def main():
        loop = asyncio.get_running_loop()
        ticking = asyncio.create_task(asyncio.sleep(1e6))
        for _ in range(2000):
            await asyncio.to_thread(lambda: None)
            assert loop.time() == 0.0
        ticking.cancel()

    run(main())


def test_a_call_in_the_moment_before_a_jump_holds_the_jump_back():
    async def main():
        loop = asyncio.get_running_loop()
        called_at = loop.create_future()
        let_time_pass = loop._let_time_pass

        def somebody_calls_in(timer_s):  # the loop has looked for ready work and found none
            loop._let_time_pass = let_time_pass
            call = threading.Thread(
                target=loop.call_soon_threadsafe, args=(lambda: called_at.set_result(loop.time()),)
            )
            call.start()
            call.join()
            let_time_pass(timer_s)

        loop._let_time_pass = somebody_calls_in
        await asyncio.sleep(5)
        return await called_at

    assert run(main()) == 0.0


def test_a_thread_left_alone_still_holds_the_clock():
    started, go_on = threading.Event(), threading.Event()

    def work():
        started.set()
        go_on.wait(60)

    async def main():
        loop = asyncio.get_running_loop()
        job = loop.run_in_executor(None, work)
        started.wait(60)
        job.cancel()
        real = time.perf_counter()  # before the timer: a busy computer may start it late
        threading.Timer(0.05, go_on.set).start()
        await asyncio.sleep(1)
        return time.perf_counter() - real

    assert run(main()) > 0.04


def test_a_job_cancelled_before_it_began_does_not_hold_the_clock():
    async def main():
        loop = asyncio.get_running_loop()
        busy = threading.Event()
        jobs = [loop.run_in_executor(None, busy.wait, 5) for _ in range(80)]
        for job in jobs:
            job.cancel()
        busy.set()
        await asyncio.sleep(1)
        return loop.time()

    assert run(main()) == 1.0


def test_outside_holds_the_clock_until_the_other_thread_calls_in():
    async def main():
        loop = asyncio.get_running_loop()
        done = loop.create_future()
        asyncio.get_running_loop().call_later(5, lambda: done.cancel())

        def elsewhere():
            time.sleep(0.03)
            loop.call_soon_threadsafe(done.set_result, "written")

        threading.Thread(target=elsewhere).start()
        with loop.outside():
            result = await done
        return result, loop.time()

    assert run(main()) == ("written", 0.0)


def test_leaving_outside_from_another_thread_wakes_the_loop():
    async def main():
        loop = asyncio.get_running_loop()
        ready, leave = threading.Event(), threading.Event()

        def elsewhere():
            with loop.outside():
                ready.set()
                leave.wait(60)

        threading.Thread(target=elsewhere).start()
        ready.wait(60)
        threading.Timer(0.03, leave.set).start()
        real = time.perf_counter()
        await asyncio.sleep(100)
        return time.perf_counter() - real

    assert 0.02 < run(main()) < 2


def test_a_loop_that_waits_for_callers_is_not_stalled():
    async def main():
        loop = asyncio.get_running_loop()
        wish = loop.create_future()
        threading.Timer(0.03, lambda: loop.call_soon_threadsafe(wish.set_result, "stop")).start()
        return await wish

    assert run_on(JumpingLoop(waits_for_callers=True), main()) == "stop"


def test_the_executor_can_be_shut_down():
    async def main():
        loop = asyncio.get_running_loop()
        await asyncio.to_thread(lambda: None)
        await loop.shutdown_default_executor()
        return loop.time()

    assert run(main()) == 0.0


def test_a_real_file_gets_real_patience():
    async def main():
        loop = asyncio.get_running_loop()
        near, far = socket.socketpair()
        near.setblocking(False)
        answer = loop.create_future()
        loop.add_reader(near, lambda: answer.done() or answer.set_result(near.recv(9)))
        threading.Timer(0.1, lambda: far.send(b"ok")).start()
        try:
            return await asyncio.wait_for(answer, 1.0)
        finally:
            loop.remove_reader(near)
            near.close()
            far.close()

    assert run_on(JumpingLoop(patience_s=1.0), main()) == b"ok"


def test_a_silent_real_file_still_times_out():
    async def main():
        loop = asyncio.get_running_loop()
        near, far = socket.socketpair()
        loop.add_reader(near, lambda: None)
        try:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(loop.create_future(), 30.0)
            return loop.time()
        finally:
            loop.remove_reader(near)
            near.close()
            far.close()

    started = time.perf_counter()
    assert run(main()) == 30.0
    assert time.perf_counter() - started < 15.0


def test_signals_are_noticed_while_time_jumps():
    async def main():
        loop = asyncio.get_running_loop()
        told = asyncio.Event()
        loop.add_signal_handler(signal.SIGUSR1, told.set)
        os.kill(os.getpid(), signal.SIGUSR1)
        for _ in range(1000):
            if told.is_set():
                break
            await asyncio.sleep(0.06)
        loop.remove_signal_handler(signal.SIGUSR1)
        return loop.time()

    assert run(main()) < 0.06 * 200


def test_a_blocked_loop_runs_its_late_timers_in_order_afterwards():
    async def main():
        loop = asyncio.get_running_loop()
        ran = []
        for delay in (0.3, 0.1, 0.2):
            loop.call_later(delay, lambda d=delay: ran.append((d, loop.time())))
        loop.block_for(0.5)
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        return ran

    assert run(main()) == [(0.1, 0.5), (0.2, 0.5), (0.3, 0.5)]


def test_many_self_made_calls_do_not_clog_the_loop():
    async def main():
        loop = asyncio.get_running_loop()
        seen = 0

        def one():
            nonlocal seen
            seen += 1

        for _ in range(50):
            for _ in range(2000):
                loop.call_soon_threadsafe(one)
            await asyncio.sleep(0.001)
        return seen

    assert run(main()) == 100_000


def test_time_outs_that_never_ring_do_not_pile_up():
    class Waiting:
        def give_up(self):
            raise AssertionError("rang")

    async def main():
        loop, left = asyncio.get_running_loop(), weakref.WeakSet()
        kept = loop.call_later(3600, lambda: None)
        for _ in range(5000):
            waiting = Waiting()
            left.add(waiting)
            loop.call_later(3600, waiting.give_up).cancel()
            await asyncio.sleep(0.1)
        return len(left), kept.cancelled()

    left, cancelled = run(main())
    assert left < 250
    assert not cancelled


def test_timers_of_one_moment_run_in_the_order_in_which_they_were_made():
    async def main():
        loop, ran = asyncio.get_running_loop(), []
        for number in range(500):
            loop.call_at(1.0, ran.append, number)
        await asyncio.sleep(1.1)
        return ran

    assert run(main()) == list(range(500))


def test_the_clock_refuses_to_run_on_where_it_could_no_longer_tell_nanoseconds_apart():
    with pytest.raises(Stalled, match="2e\\+06 simulated seconds"):
        run_on(JumpingLoop(longest_s=1e12), asyncio.sleep(3e6))
