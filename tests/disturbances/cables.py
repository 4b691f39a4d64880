"""The serial cables of a simulated bench, and what may happen to one of them."""

from __future__ import annotations

import asyncio
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from hal.errors import InstrumentError
from hal.instruments.wire import LostHandler, Receiver, Wire


class Kind(StrEnum):
    """What happens to a cable; the first two are seen by the computer, the others only by what is heard."""

    UNPLUGGED = "unplugged, and plugged in again later"
    REPLUGGED_WRONG = "unplugged, and plugged in exchanged"
    CUT = "cut behind the adapter"
    GARBLED = "characters garbled both ways"
    NOISE = "noise between the answers"
    DELAYED = "answers late"
    HALVED = "half of every answer"
    ECHO = "everything comes back as an echo"
    EXCHANGED = "two cables exchanged behind their adapters"


SEEN_AT_ONCE = frozenset({Kind.UNPLUGGED, Kind.REPLUGGED_WRONG})
_EXCHANGES = frozenset({Kind.REPLUGGED_WRONG, Kind.EXCHANGED})
_NOISE_S = 0.05


@dataclass(frozen=True)
class Trouble:
    """What happens to the cable at `port` from one moment to another, in loop time; `other` is exchanged with it."""

    kind: Kind
    port: str
    other: str
    begin_s: float
    end_s: float
    late_s: float = 0.0

    @property
    def now(self) -> bool:
        return self.begin_s <= asyncio.get_running_loop().time() < self.end_s

    def befalls(self, port: str) -> bool:
        return self.now and (port == self.port or (self.kind in _EXCHANGES and port == self.other))

    def leads_to(self, port: str) -> str:
        """The far end at which a port's cable ends now."""
        if self.kind in _EXCHANGES and self.now:
            return {self.port: self.other, self.other: self.port}.get(port, port)
        return port


class Cable:
    """The near end of a cable: a `Wire`."""

    def __init__(self, name: str, send: Callable[[str, bytes], None]) -> None:
        self.name = name
        self.on_lost: list[LostHandler] = []
        self.receiver: Receiver = lambda _: None
        self.gone = ""
        self._send = send

    def write(self, data: bytes) -> None:
        if self.gone:
            raise InstrumentError(self.gone)
        self._send(self.name, data)

    def set_receiver(self, receiver: Receiver) -> None:
        self.receiver = receiver

    def close(self) -> None:
        self.gone = self.gone or f"port {self.name} is closed"
        self.receiver = lambda _: None

    def lose(self) -> None:
        if not self.gone:
            self.close()
            error = InstrumentError(f"port {self.name} is lost: unplugged")
            for tell in tuple(self.on_lost):
                tell(error)


class Harness:
    """All cables of one bench that is open, between its near ends and the simulated instruments."""

    def __init__(self, far: Mapping[str, Wire], trouble: Trouble, seed: int) -> None:
        self.near = {port: Cable(port, self._sent) for port in far}
        self._far = far
        self._trouble = trouble
        self._draw = random.Random(seed)
        self._loop = asyncio.get_running_loop()
        self._timers: list[asyncio.TimerHandle] = []
        for port, wire in far.items():
            wire.set_receiver(self._hearing(port))
        if trouble.kind in SEEN_AT_ONCE and trouble.now:
            if trouble.kind is Kind.UNPLUGGED:
                raise InstrumentError(f"there is no port {trouble.port}")
        elif trouble.kind in SEEN_AT_ONCE and self._loop.time() < trouble.begin_s:
            self._timers.append(self._loop.call_at(trouble.begin_s, self._pull))
        if trouble.kind is Kind.NOISE:
            self._crackle()

    def end(self) -> None:
        for timer in self._timers:
            timer.cancel()

    def _pull(self) -> None:
        self.near[self._trouble.port].lose()

    def _sent(self, port: str, data: bytes) -> None:
        trouble = self._trouble
        if trouble.befalls(port):
            if trouble.kind is Kind.CUT:
                return
            if trouble.kind is Kind.ECHO:
                self._loop.call_later(0.001, self._deliver, port, data)
            if trouble.kind is Kind.GARBLED:
                data = self._garbled(data)
        self._far[trouble.leads_to(port)].write(data)

    def _hearing(self, far: str) -> Receiver:
        def heard(data: bytes) -> None:
            trouble = self._trouble
            port = trouble.leads_to(far)  # an exchange is its own inverse
            if trouble.befalls(port):
                if trouble.kind is Kind.DELAYED:
                    self._timers.append(self._loop.call_later(trouble.late_s, self._deliver, port, data))
                    return
                data = {
                    Kind.CUT: lambda: b"",
                    Kind.GARBLED: lambda: self._garbled(data),
                    Kind.HALVED: lambda: data[: len(data) // 2],
                }.get(trouble.kind, lambda: data)()
            self._deliver(port, data)

        return heard

    def _deliver(self, port: str, data: bytes) -> None:
        if data and not self.near[port].gone:
            self.near[port].receiver(data)

    def _garbled(self, data: bytes) -> bytes:
        """Every tenth character changed, lost or doubled; a digit may become another, which no check sum tells."""
        out = bytearray()
        for byte in data:
            match self._draw.randrange(40):
                case 0:
                    out.append(self._draw.randrange(256))
                case 1:
                    pass
                case 2:
                    out += bytes((byte, byte))
                case 3 if chr(byte).isdigit():
                    out.append(self._draw.choice(b"0123456789"))
                case _:
                    out.append(byte)
        return bytes(out)

    def _crackle(self) -> None:
        if self._loop.time() >= self._trouble.end_s:
            return
        if self._trouble.now:
            self._deliver(self._trouble.port, self._draw.randbytes(self._draw.randrange(1, 12)))
        wait_s = max(self._trouble.begin_s - self._loop.time(), self._draw.expovariate(1 / _NOISE_S))
        self._timers.append(self._loop.call_later(wait_s, self._crackle))
