"""Chunks of work shared out over processes that end when their chief does, however that ended."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from multiprocessing.connection import Connection, wait
from typing import Any, Protocol, TypeVar, cast

_T = TypeVar("_T")
_FAREWELL_S = 5.0


class WorkerLost(RuntimeError):
    """A worker process ended in the middle of its work."""


class _Process(Protocol):
    def start(self) -> None: ...
    def terminate(self) -> None: ...
    def join(self, timeout: float | None = None) -> None: ...


def shared_out(work: Callable[[int], _T], chunks: Iterable[int], cores: int) -> Iterator[tuple[int, _T]]:
    """Call `work`, which must be picklable, for every chunk; yields results as they come.

    One core works in this process. Leaving the loop early ends the workers. Raises what `work` raises, and WorkerLost.
    """
    if cores == 1:
        for chunk in chunks:
            yield chunk, work(chunk)
        return
    crew = _Crew(work, cores)
    try:
        yield from crew.do(chunks)
    finally:
        crew.end()


class _Crew:
    """Workers, each at the far end of a pipe of its own: when the near end closes, it stops."""

    def __init__(self, work: Callable[[int], Any], cores: int) -> None:
        # Started afresh: a copy of this process would hold its locks, threads and the near ends of other pipes.
        context = multiprocessing.get_context("spawn")
        self._pipes: list[Connection] = []
        self._processes: list[_Process] = []
        for _ in range(cores):
            near, far = context.Pipe()
            process = context.Process(target=_serve, args=(work, far), daemon=True)
            process.start()
            far.close()
            self._pipes.append(near)
            self._processes.append(process)

    def do(self, chunks: Iterable[int]) -> Iterator[tuple[int, Any]]:
        """Yield the result of every chunk."""
        left = iter(chunks)
        busy: dict[Connection, int] = {}
        for pipe in self._pipes:
            self._hand_out(pipe, left, busy)
        while busy:
            for ready in wait(list(busy)):
                pipe = cast("Connection", ready)
                chunk = busy.pop(pipe)
                result, failure = self._received(pipe, chunk)
                if failure is not None:
                    raise failure
                self._hand_out(pipe, left, busy)
                yield chunk, result

    def end(self) -> None:
        """Let the workers go; one that does not go is ended."""
        for pipe in self._pipes:
            pipe.close()
        for process in self._processes:
            process.terminate()
        for process in self._processes:
            process.join(_FAREWELL_S)

    def _hand_out(self, pipe: Connection, left: Iterator[int], busy: dict[Connection, int]) -> None:
        for chunk in left:
            try:
                pipe.send(chunk)
            except OSError:
                raise WorkerLost(f"a worker process was gone before chunk {chunk}") from None
            busy[pipe] = chunk
            return

    def _received(self, pipe: Connection, chunk: int) -> tuple[Any, BaseException | None]:
        try:
            answer: tuple[Any, BaseException | None] = pipe.recv()
        except (EOFError, OSError):
            raise WorkerLost(f"a worker process ended in the middle of chunk {chunk}") from None
        return answer


def _serve(work: Callable[[int], Any], pipe: Connection) -> None:
    # Ctrl-C reaches every process of the terminal; the chief decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            chunk: int = pipe.recv()
            pipe.send(_answer(work, chunk))


def _answer(work: Callable[[int], Any], chunk: int) -> tuple[Any, Exception | None]:
    try:
        return work(chunk), None
    except Exception as failure:  # handed over whole to whoever waits for the result
        return None, failure
