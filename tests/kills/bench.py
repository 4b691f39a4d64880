"""The process that is killed: `teachrig run` on the simulated bench, telling what the record has acknowledged."""

from __future__ import annotations

import os
import signal
from concurrent.futures import Future
from pathlib import Path

import rig.cli.run
import rig.measuring.stage
import rig.session
import rig.store.forwarding
from rig.cli.main import main
from rig.events import Stamped
from rig.journal import Journal

LOADED = (rig.cli.run, rig.measuring.stage, rig.store.forwarding)
"""Loaded before the first process is forked off, so that each begins work at once."""


class Telling(Journal):
    """Writes a line for every barrier that was acknowledged: the run, and its last event before the barrier."""

    pipe = -1

    def __init__(self, path: Path, run: str) -> None:
        super().__init__(path, run)
        self._recorded = 0

    def record(self, stamped: Stamped) -> None:
        super().record(stamped)
        self._recorded = stamped.number

    def barrier(self) -> Future[None]:
        return self._told(super().barrier())

    def room(self) -> Future[None]:
        return self._told(super().room())

    def _told(self, done: Future[None]) -> Future[None]:
        number = self._recorded
        done.add_done_callback(lambda one: self._tell(number, one))
        return done

    def _tell(self, number: int, done: Future[None]) -> None:
        if not done.cancelled() and done.exception() is None:
            os.write(self.pipe, f"{self.run} {number}\n".encode())


def start(words: list[str], output: Path) -> tuple[int, int]:
    """Fork a process off that runs the command; its number, and the pipe on which it tells."""
    reading, writing = os.pipe()
    process = os.fork()
    if process:
        os.close(writing)
        return process, reading
    code = 70
    try:
        os.close(reading)
        shown = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        for stream in (1, 2):
            os.dup2(shown, stream)
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        Telling.pipe = writing
        rig.session.Journal = Telling  # type: ignore[attr-defined]
        code = main(words)
    finally:
        os._exit(code)
