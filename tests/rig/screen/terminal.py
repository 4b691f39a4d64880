"""The program in a real terminal: a pseudo-terminal with an emulator behind it, and a keyboard."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import sys
import termios
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

import pyte

_PROGRAM = "import sys; from rig.cli.main import main; sys.exit(main())"
_ROOT = Path(__file__).parents[3]
PATIENCE_S = 60.0


class Terminal:
    """One run of `teachrig bench`.

    Attributes:
        bytes_read: all that the program has sent so far.

    """

    def __init__(
        self, *arguments: str, environment: Mapping[str, str], size: tuple[int, int] = (80, 24)
    ) -> None:
        columns, rows = size
        self.bytes_read = 0
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            inherited = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "LANG")}
            os.chdir(_ROOT)
            os.execvpe(
                sys.executable,
                [sys.executable, "-c", _PROGRAM, "bench", *arguments],
                {**inherited, "TERM": "xterm-256color", "LC_ALL": "C.UTF-8", **environment},
            )
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    @property
    def text(self) -> str:
        """What it shows."""
        return "\n".join(self._screen.display)

    def read(self, for_s: float) -> int:
        """Read for a time; returns how many bytes came."""
        came, end_s = 0, time.monotonic() + for_s
        while (left_s := end_s - time.monotonic()) > 0:
            if select.select([self._fd], [], [], left_s)[0]:
                try:
                    data = os.read(self._fd, 65536)
                except OSError:
                    break
                came += len(data)
                self._stream.feed(data)
        self.bytes_read += came
        return came

    def send(self, keys: bytes) -> None:
        os.write(self._fd, keys)

    def shows(self, text: str) -> None:
        """Wait until it shows a text."""
        end_s = time.monotonic() + PATIENCE_S
        while text not in self.text:
            assert time.monotonic() < end_s, f"never showed {text!r}:\n{self.text}"
            self.read(0.1)

    def tear_away(self) -> None:
        """The line drops: the program's terminal is gone."""
        os.close(self._fd)

    def ended(self) -> int:
        """Wait for the end of the program; returns its exit code."""
        end_s = time.monotonic() + PATIENCE_S
        while (found := os.waitpid(self.pid, os.WNOHANG))[0] == 0:
            assert time.monotonic() < end_s, "the program goes on"
            with suppress(OSError, ValueError):
                self.read(0.1)
            time.sleep(0.02)
        return os.waitstatus_to_exitcode(found[1])
