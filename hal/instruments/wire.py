"""A wire to one instrument: bytes out, bytes in, and the news that it is lost."""

from __future__ import annotations

import asyncio
import errno
import os
import re
import termios
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import serial

from hal.errors import BenchError, BenchInUse, InstrumentError
from wiring.saying import say
from wiring.serialports import Parity

LostHandler = Callable[[InstrumentError], None]
Receiver = Callable[[bytes], None]

# pyserial raises all of these: its own SerialException is an OSError, termios.error is not,
# and TypeError or ValueError come from a descriptor that another thread has closed.
_PORT_FAULTS = (OSError, termios.error, TypeError, ValueError)

_NUMBERED_BY_PLUGGING = re.compile(r"/dev/tty(USB|ACM)\d+")
_STABLE_NAMES = (Path("/dev/serial/by-id"), Path("/dev/serial/by-path"))
_LONGEST_READ = 4096


class Wire(Protocol):
    """One wire to one instrument; a real port, or a simulated one."""

    @property
    def name(self) -> str:
        """The port name, as the rig profile gives it."""

    @property
    def on_lost(self) -> list[LostHandler]:
        """Called once, at once, when the wire is found to be lost; not called by `close`."""

    def write(self, data: bytes) -> None:
        """Hand over the bytes without waiting; raises InstrumentError if the wire is lost, closed or full."""

    def set_receiver(self, receiver: Receiver) -> None:
        """Start to listen; the receiver is called on the loop with whatever bytes have come."""

    def close(self) -> None:
        """Give the wire back; safe to call twice."""


class PortWire:
    """A serial port of the board; made by `open_port`."""

    def __init__(self, name: str, port: serial.Serial) -> None:
        self.name = name
        self.on_lost: list[LostHandler] = []
        self._port = port
        self._loop: asyncio.AbstractEventLoop | None = None
        self._receiver: Receiver | None = None
        self._gone = ""

    def __repr__(self) -> str:
        return f"<PortWire {self.name} {self._gone or 'open'}>"

    def write(self, data: bytes) -> None:
        """Hand over the bytes without waiting; raises InstrumentError if the wire is lost, closed or full."""
        if self._gone:
            raise InstrumentError(self._gone)
        try:
            # Not pyserial's write: without a time-out it spins for ever on a full buffer.
            sent = os.write(self._port.fileno(), data)
        except BlockingIOError:
            sent = 0
        except _PORT_FAULTS as fault:
            raise self._lose(say("cannot be written to: {fault}", fault=_words(fault))) from fault
        if sent < len(data):
            raise self._lose("takes no more characters; is the instrument on, and flow control off?")

    def set_receiver(self, receiver: Receiver) -> None:
        """Start to listen on the running loop; the receiver gets whatever bytes have come."""
        if self._gone:
            raise InstrumentError(self._gone)
        self._receiver = receiver
        if self._loop is None:
            self._loop = asyncio.get_running_loop()
            self._loop.add_reader(self._port.fileno(), self._readable)

    def close(self) -> None:
        """Give the port back; safe to call twice."""
        self._release(say("port {name} is closed", name=self.name))

    def _readable(self) -> None:
        try:
            data = os.read(self._port.fileno(), _LONGEST_READ)
        except BlockingIOError:
            return
        except _PORT_FAULTS as fault:
            self._lose(say("is lost: {fault}", fault=_words(fault)))
            return
        if not data:
            # A port that was pulled out is always readable and always empty.
            self._lose("is lost: unplugged, or its adapter has no power")
        elif self._receiver is not None:
            self._receiver(data)

    def _lose(self, what: str) -> InstrumentError:
        error = InstrumentError(say("port {name} {what}", name=self.name, what=what))
        if not self._gone:
            self._release(str(error))
            for tell in self.on_lost:
                tell(error)
        return error

    def _release(self, why: str) -> None:
        if self._gone:
            return
        self._gone = why
        try:
            if self._loop is not None:
                self._loop.remove_reader(self._port.fileno())
            self._port.close()
        except _PORT_FAULTS:
            pass  # already gone; there is nothing left to give back


_PARITY = {
    Parity.NONE: serial.PARITY_NONE,
    Parity.EVEN: serial.PARITY_EVEN,
    Parity.ODD: serial.PARITY_ODD,
}


def open_port(name: str, baud: int, parity: Parity = Parity.NONE) -> PortWire:
    """Open a serial port for this program alone: 8 data bits, 1 stop bit, no flow control.

    Raises BenchInUse if another program has it, InstrumentError if there is no such port, no permission, or
    the name is one of those that Linux hands out in the order of plugging in.
    """
    if _NUMBERED_BY_PLUGGING.fullmatch(name):
        raise InstrumentError(
            say("port {name} may be another instrument after the next start", name=name),
            check=say(
                "In the rig profile, name it {name}.",
                name=_stable_names(Path(name)) or "as in /dev/serial/by-path",
            ),
        )
    try:
        port = serial.Serial(name, baud, parity=_PARITY[parity], timeout=0, exclusive=True)
    except _PORT_FAULTS as fault:
        raise _cannot_open(name, fault) from fault
    return PortWire(name, port)


def _cannot_open(name: str, fault: BaseException) -> BenchError:
    number = fault.errno if isinstance(fault, OSError) else None
    if number in (errno.EAGAIN, errno.EBUSY):
        return BenchInUse(say("port {name} is in use by another program", name=name))
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return InstrumentError(
            say("there is no port {name}", name=name),
            check=say(
                "Plug the instrument in. Ports with a lasting name here: {stable_names}.",
                stable_names=_stable_names() or "none",
            ),
        )
    if number in (errno.EACCES, errno.EPERM):
        return InstrumentError(
            say("no permission to open port {name}", name=name),
            check="Add this user to the group of the port (often dialout) and log in again.",
        )
    return InstrumentError(say("port {name} cannot be opened: {fault}", name=name, fault=_words(fault)))


def _stable_names(of: Path | None = None) -> str:
    links = [link for folder in _STABLE_NAMES if folder.is_dir() for link in sorted(folder.iterdir())]
    return ", ".join(str(link) for link in links if of is None or link.resolve() == of)


def _words(fault: BaseException) -> str:
    if isinstance(fault, OSError) and fault.errno is not None:
        return os.strerror(fault.errno)
    return str(fault) or type(fault).__name__
