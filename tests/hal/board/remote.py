"""The stand-in kernel for several processes: one has it, the others reach it through a socket.

What a process holds is let go of when the process is gone, however it went, as with a real kernel. The other
processes find the kernel by `TEACHRIG_TEST_KERNEL`, which `site/sitecustomize.py` looks at as they start.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from multiprocessing.connection import Client, Connection, Listener
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import Any

from tests.hal.board.bindings import put_below_the_bindings
from tests.hal.board.kernel import Kernel

WHERE = "TEACHRIG_TEST_KERNEL"
ROOT = Path(__file__).parents[3]
_GONE = (EOFError, OSError)


class Served:
    """Answers for a kernel on a socket."""

    def __init__(self, kernel: Kernel, address: str) -> None:
        self._kernel = kernel
        self._queues: dict[str, _SentQueue] = {}
        self._address = address
        self._listener = Listener(address, "AF_UNIX")
        self._closing = False
        self._accepting = threading.Thread(target=self._accept, daemon=True)
        self._accepting.start()

    def _accept(self) -> None:
        with suppress(*_GONE):
            while True:
                connection = self._listener.accept()
                if self._closing:
                    return
                threading.Thread(target=self._serve, args=(connection,), daemon=True).start()

    def _serve(self, connection: Connection) -> None:
        requests: list[int] = []
        watched: list[_SentQueue] = []
        with suppress(*_GONE):
            while True:
                name, arguments = connection.recv()
                if name == "queue":
                    self._queues[arguments[0]] = _SentQueue(connection)
                    connection.send(None)
                    return
                arguments = [self._queues.get(one, one) if isinstance(one, str) else one for one in arguments]
                watched += [one for one in arguments if isinstance(one, _SentQueue)]
                answer = self._call(name, arguments)
                if name == "request" and isinstance(answer, int):
                    requests.append(answer)
                connection.send(answer)
        for request in requests:
            self._kernel.release(request)
        for queue in watched:
            self._kernel.unwatch(queue)

    def _call(self, name: str, arguments: list[Any]) -> Any:
        try:
            return getattr(self._kernel, name)(*arguments)
        except OSError as refused:
            return refused

    def close(self) -> None:
        self._closing = True
        Client(self._address, "AF_UNIX").close()  # wakes the thread that accepts, which closing would not
        self._accepting.join()
        self._listener.close()


class _SentQueue:
    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def put(self, event: Any, _most: int) -> None:
        with suppress(*_GONE):  # whoever listened is gone
            self._connection.send(event)


class RemoteQueue:
    """Events that come through a socket of their own."""

    _numbers = count()

    def __init__(self, address: str) -> None:
        self.token = f"queue {os.getpid()} {next(self._numbers)}"
        self._connection = Client(address, "AF_UNIX")
        self._connection.send(("queue", [self.token]))
        self._connection.recv()

    def fileno(self) -> int:
        return self._connection.fileno()

    def get(self) -> Any:
        return self._connection.recv()

    def close(self) -> None:
        self._connection.close()


class RemoteKernel:
    """A kernel that another process has."""

    def __init__(self, address: str) -> None:
        self._connection = Client(address, "AF_UNIX")
        self._lock = threading.RLock()

    def __getattr__(self, name: str) -> Any:
        def call(*arguments: Any) -> Any:
            plain = [one.token if isinstance(one, RemoteQueue) else one for one in arguments]
            with self._lock:
                self._connection.send((name, plain))
                answer = self._connection.recv()
            if isinstance(answer, OSError):
                raise answer
            return answer

        return call


def attach() -> None:
    """Open every chip at the kernel that another process has."""
    address = os.environ[WHERE]
    kernel = RemoteKernel(address)
    put_below_the_bindings(lambda path: (kernel, PurePath(path).name, lambda: RemoteQueue(address)))


@contextmanager
def served(kernel: Kernel) -> Iterator[dict[str, str]]:
    """Serve a kernel; gives the environment in which other processes find it."""
    with TemporaryDirectory() as folder:
        for name in kernel.chips:
            (Path(folder) / name).touch()
        address = str(Path(folder) / "kernel")
        server = Served(kernel, address)
        paths = [str(Path(__file__).with_name("site")), str(ROOT), *sys.path]
        try:
            yield {**os.environ, WHERE: address, "PYTHONPATH": os.pathsep.join(filter(None, paths))}
        finally:
            server.close()
