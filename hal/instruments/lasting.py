"""A port that may be pulled out and plugged in again while the bench is open: nothing there can hurt anybody."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Final

from hal.errors import BenchError, InstrumentError
from hal.instruments.wire import LostHandler, Receiver, Wire, open_port
from wiring.profile import RigProfile
from wiring.serialports import RigPort

RETRY_S: Final = 1.0
"""How often a port that is gone is looked for."""


class LastingWire:
    """A wire that is opened again whenever it is lost; what listens to it listens on.

    Args:
        opener: opens the port; raises BenchError while that cannot be done, here for the first time.

    """

    def __init__(self, opener: Callable[[], Wire]) -> None:
        self.on_lost: list[LostHandler] = []
        self.on_back: list[Callable[[], None]] = []
        self._opener = opener
        self._receiver: Receiver | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._gone: InstrumentError | None = None
        self._closed = False
        self._wire = self._opened()
        self.name = self._wire.name

    def write(self, data: bytes) -> None:
        """Hand over the bytes without waiting; raises InstrumentError while the port is gone."""
        if self._gone is not None:
            raise self._gone
        self._wire.write(data)

    def set_receiver(self, receiver: Receiver) -> None:
        """Start to listen, to this port and to every one that takes its place."""
        self._receiver = receiver
        if self._gone is None:
            self._wire.set_receiver(receiver)

    def close(self) -> None:
        """Give the port back and look for it no more; safe to call twice."""
        self._closed = True
        if self._timer is not None:
            self._timer.cancel()
        self._wire.close()

    def _opened(self) -> Wire:
        wire = self._opener()
        wire.on_lost.append(self._lost)
        return wire

    def _lost(self, error: InstrumentError) -> None:
        self._gone = error
        self._look_later()
        for tell in self.on_lost:
            tell(error)

    def _look_later(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        if not self._closed:
            self._timer = asyncio.get_running_loop().call_later(RETRY_S, self._look)

    def _look(self) -> None:
        try:
            self._wire = self._opened()
            self._gone = None
            if self._receiver is not None:
                self._wire.set_receiver(self._receiver)
        except BenchError:
            self._look_later()
            return
        for tell in self.on_back:
            tell()


def open_wires(profile: RigProfile) -> dict[str, Wire]:
    """Open every port that the rig profile names, by its name there; all or none.

    Raises BenchInUse or InstrumentError for the first that cannot be opened.
    """
    wires: dict[str, Wire] = {}
    try:
        for port in profile.ports():
            wires[port.name] = _open_wire(port)
    except BenchError:
        for wire in wires.values():
            wire.close()
        raise
    return wires


def _open_wire(port: RigPort) -> Wire:
    def opener() -> Wire:
        return open_port(port.name, port.baud, port.parity)

    return opener() if port.must_stay else LastingWire(opener)
