"""The watcher as a process of its own beside a program that is really killed, on the stand-in kernel."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import pytest

from hal.board.opening import safe_levels
from tests.hal.board.held import PROFILE
from tests.hal.board.kernel import Kernel
from tests.hal.board.remote import ROOT, served

SAFE = safe_levels(PROFILE)
ON = {line: 1 - level for line, level in SAFE.items()}


@dataclass
class Held:
    process: subprocess.Popen[str]
    watcher: int
    kernel: Kernel

    def levels(self) -> dict[str, int]:
        return {line: self.kernel.line(line).level for line in SAFE}

    def holders(self) -> set[str | None]:
        return {self.kernel.line(line).holder for line in SAFE}


@contextmanager
def held(how: str, *, keeps_outputs: bool = True) -> Iterator[Held]:
    kernel = Kernel(keeps_outputs=keeps_outputs)
    with served(kernel) as environment:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.hal.board.held", how],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env=environment,
        )
        try:
            assert process.stdout is not None
            watcher = process.stdout.readline().split()
            assert watcher[:1] == ["watcher"], process.communicate()[1]
            assert process.stdout.readline() == "ready\n"
            yield Held(process, int(watcher[1]), kernel)
        finally:
            process.kill()
            process.communicate()


def soon(true: Callable[[], bool], within_s: float = 10.0) -> bool:
    end_s = time.monotonic() + within_s
    while not true() and time.monotonic() < end_s:
        time.sleep(0.002)
    return true()


def is_gone(process: int) -> bool:
    try:
        with open(f"/proc/{process}/stat") as stat:
            return stat.read().rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True


@pytest.mark.parametrize("keeps", [True, False], ids=["kept", "let-fall"])
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGABRT])
def test_a_killed_program_leaves_no_output_on(number: signal.Signals, keeps: bool) -> None:
    with held("wait", keeps_outputs=keeps) as one:
        assert one.levels() == ON
        one.process.send_signal(number)
        assert soon(lambda: is_gone(one.watcher))
        one.process.wait()
        assert one.levels() == (SAFE if keeps else dict.fromkeys(SAFE, 0))
        assert one.holders() == {None}
        claimed = [(line, level) for line, level in one.kernel.history if level is not None][-len(SAFE) :]
        assert claimed == list(SAFE.items())  # each by the watcher, in the order in which they go off


def test_lines_let_go_of_without_a_goodbye_are_switched_off_while_the_program_lives() -> None:
    with held("let-go") as one:
        assert soon(lambda: one.levels() == SAFE)
        assert one.process.poll() is None
        assert soon(lambda: is_gone(one.watcher))


def test_after_a_goodbye_the_watcher_touches_nothing() -> None:
    with held("close") as one:
        assert one.process.stdout is not None
        assert one.process.stdout.readline() == "closed, watcher ended with 0\n"
        assert is_gone(one.watcher)
        written = one.kernel.history[-len(SAFE) :]
        assert written == list(SAFE.items())
        assert one.holders() == {None}


def test_a_hung_program_is_left_to_the_heartbeat_until_it_is_killed() -> None:
    with held("hang") as one:
        time.sleep(0.1)
        assert one.levels() == ON
        one.process.kill()
        assert soon(lambda: one.levels() == SAFE)


def test_what_ends_the_program_does_not_end_the_watcher_first() -> None:
    with held("wait") as one:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            os.kill(one.watcher, number)
        time.sleep(0.1)
        assert not is_gone(one.watcher)
        assert os.getpgid(one.watcher) != os.getpgid(one.process.pid)  # Ctrl-C is for the program
        one.process.kill()
        assert soon(lambda: one.levels() == SAFE)


def test_a_line_that_another_program_has_taken_is_left_to_it() -> None:
    with held("wait") as one:
        os.kill(one.watcher, signal.SIGSTOP)
        one.process.kill()
        one.process.wait()
        assert soon(lambda: one.holders() == {None})
        first = next(iter(SAFE))
        number = one.kernel.line(first).number
        settings = {"direction": 3, "bias": 1, "edge_detection": 1, "output_value": ON[first]}
        one.kernel.request("gpiochip0", {number: settings}, "another", 0, None)
        os.kill(one.watcher, signal.SIGCONT)
        assert soon(lambda: is_gone(one.watcher))
        assert one.levels() == {**SAFE, first: ON[first]}


def test_the_program_is_told_when_its_watcher_is_gone() -> None:
    with held("wait") as one:
        os.kill(one.watcher, signal.SIGKILL)
        assert one.process.stdout is not None
        assert one.process.stdout.readline().startswith("lost: the watcher process has ended")


def test_the_watcher_loads_nothing_of_ours() -> None:
    code = "import sys, runpy; sys.argv = ['watcher']; import hal.board.watcher as w; print(w.__file__)"
    path = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()
    listing = (
        "import sys, runpy; runpy.run_path(sys.argv[1]); "
        "print(sorted({name.partition('.')[0] for name in sys.modules} & {'hal', 'rig', 'wiring', 'gpiozero', "
        "'asyncio', 'pydantic', 'gpiod'}))"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", listing, path], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "['gpiod']"
