"""A port without danger may be pulled out and plugged in again."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import InstrumentError
from hal.instruments.lasting import RETRY_S, LastingWire
from hal.simulated.clock import run


class Wire:
    def __init__(self) -> None:
        self.name = "port"
        self.on_lost = []
        self.sent: list[bytes] = []
        self.closed = False
        self.receiver = None

    def write(self, data: bytes) -> None:
        self.sent.append(data)

    def set_receiver(self, receiver) -> None:
        self.receiver = receiver

    def close(self) -> None:
        self.closed = True

    def pull(self) -> None:
        for tell in tuple(self.on_lost):
            tell(InstrumentError("port is lost"))


class Plug:
    def __init__(self) -> None:
        self.there = True
        self.wires: list[Wire] = []
        self.tries = 0

    def open(self) -> Wire:
        self.tries += 1
        if not self.there:
            raise InstrumentError("there is no port")
        self.wires.append(Wire())
        return self.wires[-1]


def test_what_listens_goes_on_listening_when_it_is_back():
    async def main():
        plug, news, heard = Plug(), [], []
        wire = LastingWire(plug.open)
        wire.on_lost.append(lambda error: news.append(str(error)))
        wire.on_back.append(lambda: news.append("back"))
        wire.set_receiver(heard.append)
        plug.there = False
        plug.wires[0].pull()
        with pytest.raises(InstrumentError, match="lost"):
            wire.write(b"?")
        await asyncio.sleep(3.5 * RETRY_S)
        plug.there = True
        await asyncio.sleep(RETRY_S)
        wire.write(b"!")
        plug.wires[1].receiver(b"hello")
        assert news == ["port is lost", "back"]
        assert heard == [b"hello"]
        assert plug.wires[1].sent == [b"!"]
        assert plug.tries == 5
        wire.close()

    run(main())


def test_one_that_is_not_there_at_first_is_told():
    plug = Plug()
    plug.there = False
    with pytest.raises(InstrumentError, match="there is no port"):
        LastingWire(plug.open)


def test_a_closed_one_is_not_looked_for():
    async def main():
        plug = Plug()
        wire = LastingWire(plug.open)
        plug.wires[0].pull()
        wire.close()
        await asyncio.sleep(5 * RETRY_S)
        assert plug.tries == 1

    run(main())
