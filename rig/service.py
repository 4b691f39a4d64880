"""What a service manager is told of this program: that it is ready, that its engine lives, that it ends.

The protocol is that of sd_notify(3): datagrams of `KEY=VALUE` lines to the socket named by NOTIFY_SOCKET. Where
WATCHDOG_USEC asks for signs of life, one is given three times in that time, and only if every engine at work has
answered since the last: a program whose engine hangs is killed, though its screen may still repaint.
"""

from __future__ import annotations

import os
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any

SOCKET, WATCHDOG = "NOTIFY_SOCKET", "WATCHDOG_USEC"
_SIGNS = 3


@contextmanager
def under_service_manager() -> Iterator[None]:
    """Tell the service manager that the program is ready, then that it lives, and at the end that it stops."""
    manager = ServiceManager(os.environ.pop(SOCKET, ""))  # not for the programs that this one starts
    os.environ.pop("WATCHDOG_PID", None)
    watchdog_s = int(os.environ.pop(WATCHDOG, "0")) / 1e6
    keeper = Keeper(manager, watchdog_s / _SIGNS) if watchdog_s else None
    manager.tell("READY=1")
    try:
        yield
    finally:
        if keeper is not None:
            keeper.end()
        manager.tell("STOPPING=1")


class ServiceManager:
    """The other end of the socket at `address`; `@` begins one without a file."""

    def __init__(self, address: str) -> None:
        self._address = f"\0{address[1:]}" if address.startswith("@") else address

    def tell(self, words: str) -> None:
        """Send a line; whether anybody listens must not decide what becomes of the work."""
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
            way.sendto(words.encode(), self._address)


class Keeper:
    """Gives signs of life from a thread of its own, each only after every engine at work has given one."""

    def __init__(self, manager: ServiceManager, every_s: float) -> None:
        self._manager = manager
        self._every_s = every_s
        self._ended = threading.Event()
        self._unanswered: set[Any] = set()
        threading.Thread(target=self._keep, name="keeper", daemon=True).start()

    def end(self) -> None:
        """Give no more."""
        self._ended.set()

    def _keep(self) -> None:
        while not self._ended.wait(self._every_s):
            running = _running_engines()
            late = self._unanswered & running
            if not late:
                self._manager.tell("WATCHDOG=1")
                self._unanswered = set(running)
            for engine in late or running:
                engine.call(partial(self._unanswered.discard, engine))


def _running_engines() -> set[Any]:
    # Not imported here: while the program still loads, that would wait longer than the watchdog does on a slow board.
    engines = sys.modules.get("rig.engine")
    running: Callable[[], tuple[Any, ...]] = getattr(engines, "running_engines", tuple)
    return set(running())
