"""A network between bench and shop that can be cut: a process that passes bytes on, until it is told `cut`.

`python -m tests.kills.network HOST PORT` prints the port that it listens on and takes `cut` and `mend` as lines.
"""

from __future__ import annotations

import asyncio
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


class Network:
    """The process, as whoever started it sees it."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        self._process = process
        self.port = int(process.stdout.readline())

    def say(self, word: str) -> None:
        """Cut it, or mend it; in force on return."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{word}\n")
        self._process.stdin.flush()
        self._process.stdout.readline()


@contextmanager
def network(host: str, port: int) -> Iterator[Network]:
    """A network to a server."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.kills.network", host, str(port)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    try:
        yield Network(process)
    finally:
        process.kill()
        process.communicate()


class _Wire:
    def __init__(self, host: str, port: int) -> None:
        self._server = (host, port)
        self._cut = False
        self._ends: set[asyncio.StreamWriter] = set()

    async def connect(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Pass on what one client and the server say."""
        if self._cut:
            writer.transport.abort()
            return
        there, back = await asyncio.open_connection(*self._server)
        self._ends |= {writer, back}
        await asyncio.gather(self._pass(reader, back), self._pass(there, writer))
        self._ends -= {writer, back}

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError):
            while data := await reader.read(65536):
                writer.write(data)
                await writer.drain()
        writer.close()

    def obey(self, word: str) -> None:
        """Cut every line at once, in the middle of whatever is under way, or take new ones again."""
        self._cut = word == "cut"
        if self._cut:
            for end in self._ends:
                end.transport.abort()


async def _serve(host: str, port: int) -> None:
    wire = _Wire(host, port)
    server = await asyncio.start_server(wire.connect, "127.0.0.1", 0)
    print(server.sockets[0].getsockname()[1], flush=True)
    words = asyncio.StreamReader()
    loop = asyncio.get_running_loop()
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(words), sys.stdin)
    while line := await words.readline():
        wire.obey(line.decode().strip())
        print("done", flush=True)


if __name__ == "__main__":
    asyncio.run(_serve(sys.argv[1], int(sys.argv[2])))
