"""Starts the watcher beside the engine, and says goodbye to it."""

from __future__ import annotations

import asyncio
import os
import select
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from hal.board.chips import Place
from hal.board.claims import consumer_name
from hal.errors import BenchError

_PROGRAM = Path(__file__).with_name("watcher.py")
_READY_S = 20.0
_LEAVES_S = 2.0


class Watcher:
    """The watcher of some outputs with their safe levels, in the order in which they are to go off.

    A program of its own, not a fork: a fork would hold the engine's lines too. Start it before any is claimed.
    """

    def __init__(self, outputs: Mapping[Place, int]) -> None:
        lines = [f"{place.chip.path}:{place.number}:{safe}" for place, safe in outputs.items()]
        self._loop: asyncio.AbstractEventLoop | None = None
        self._process = subprocess.Popen(
            [sys.executable, "-P", str(_PROGRAM), consumer_name(os.getpid()), *lines],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
            start_new_session=True,  # Ctrl-C is for the engine
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._to, self._from = self._process.stdin, self._process.stdout

    @property
    def process(self) -> int:
        """Its number."""
        return self._process.pid

    def wait_until_ready(self) -> None:
        """Wait until it watches; raises `BenchError` if it does not come up."""
        ready, _, _ = select.select([self._from], [], [], _READY_S)
        if not ready or self._from.read(16) != b"ready\n":
            self.goodbye()
            raise BenchError(
                "the watcher process does not start", check="See the lines above; then start again."
            )

    def tell_loss(self, loop: asyncio.AbstractEventLoop, tell: Callable[[BenchError], None]) -> None:
        """Tell, on the loop, when the watcher ends by itself."""

        def ended() -> None:
            self._stop_listening()
            words = "the watcher process has ended; outputs might stay on if this program died"
            tell(
                BenchError(words, check="Look whether the computer has run out of memory, then start again.")
            )

        self._loop = loop
        loop.add_reader(self._from.fileno(), ended)

    def goodbye(self) -> None:
        """Tell it that every output is off and will be let go of; safe to call twice."""
        self._stop_listening()
        with suppress(OSError, ValueError):
            self._to.write(b"bye\n")
            self._to.close()
        try:
            self._process.wait(_LEAVES_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._from.close()

    def _stop_listening(self) -> None:
        if self._loop is not None:
            self._loop.remove_reader(self._from.fileno())
            self._loop = None
