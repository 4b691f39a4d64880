"""A small Modbus RTU master: reads registers of one device, one question at a time, and never blocks.

Frames as in MODBUS over serial line V1.02 and MODBUS application protocol V1.1b3 (both from memory; the tests compare
with an independent implementation and with published frames).
"""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from hal.errors import InstrumentError
from hal.instruments.lines import NoReply
from hal.instruments.wire import Wire
from wiring.instruments import RegisterTable

ANSWER_S: Final = 0.5
"""Longest wait for one answer."""
QUIET_S: Final = 0.05
"""The line is left alone for so long before a question: more than 3.5 characters at 1200 Bd, which end a frame."""

_LONGEST_FRAME = 256
_FAILED = 0x80  # set in the function code of an answer that refuses
_FUNCTIONS: Mapping[RegisterTable, int] = MappingProxyType(
    {RegisterTable.INPUT: 0x04, RegisterTable.HOLDING: 0x03}
)
_REFUSALS = {
    1: "it does not know this function: look at table in the rig profile",
    2: "it has no such register: look at the addresses in the rig profile",
    3: "it does not give so many registers at once",
    4: "it has failed",
    6: "it is busy",
}
_OTHER_DEVICE = (
    "Compare unit, baud and parity in the rig profile with the settings of the probe, then its cables."
)


def crc16(data: bytes) -> int:
    """The check of a frame, sent low byte first; 0 over a frame together with its check.

    Polynomial 0x8005, bits reflected, preset to all ones (MODBUS over serial line V1.02, 6.2.2, from memory).
    """
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return crc


def framed(data: bytes) -> bytes:
    """A frame: address, function and data, and the check after them."""
    return data + struct.pack("<H", crc16(data))


def question(unit: int, table: RegisterTable, address: int, count: int) -> bytes:
    """The frame that asks a device for `count` registers from `address` on."""
    return framed(struct.pack(">BBHH", unit, _FUNCTIONS[table], address, count))


class ModbusMaster:
    """Asks the devices on one wire; `what` names them in error messages."""

    def __init__(self, wire: Wire, *, what: str) -> None:
        self.what = what
        self._wire = wire
        self._turn = asyncio.Lock()
        self._came = b""
        self._whole: asyncio.Future[bytes] | None = None
        self._asked = b""
        wire.on_lost.append(self._lost)
        wire.set_receiver(self._receive)

    async def read(
        self, unit: int, table: RegisterTable, address: int, count: int, *, attempts: int = 3
    ) -> tuple[int, ...]:
        """The contents of `count` registers from `address` on, 0 to 65535 each.

        Raises InstrumentError when the wire is lost (at once), the device refuses, or no usable answer has come
        within `ANSWER_S` seconds for each attempt.
        """
        asked = question(unit, table, address, count)
        async with self._turn:
            while True:
                attempts -= 1
                try:
                    return self._registers(await self._once(asked))
                except NoReply:
                    if attempts <= 0:
                        raise

    async def _once(self, asked: bytes) -> bytes:
        loop = asyncio.get_running_loop()
        # Frames carry no number: what comes now would be the late answer to a question before.
        self._whole = None
        await asyncio.sleep(QUIET_S)
        self._came, self._asked, self._whole = b"", asked, loop.create_future()
        self._wire.write(asked)
        timer = loop.call_later(ANSWER_S, self._miss)
        try:
            return await self._whole
        finally:
            timer.cancel()
            self._whole = None

    def _receive(self, data: bytes) -> None:
        if self._whole is None or self._whole.done():
            return
        self._came = (self._came + data)[: 2 * _LONGEST_FRAME]
        frame = self._came.removeprefix(self._asked)  # adapters on two wires hear themselves
        length = _length(frame)
        if length is not None and len(frame) >= length and crc16(frame[:length]) == 0:
            self._whole.set_result(frame[:length])

    def _registers(self, frame: bytes) -> tuple[int, ...]:
        asked_unit, asked_function = self._asked[:2]
        unit, function = frame[:2]
        if unit != asked_unit:
            raise self._error(f"device {unit} answers where device {asked_unit} was asked", _OTHER_DEVICE)
        if function == asked_function | _FAILED:
            raise self._error(f"refuses: {_REFUSALS.get(frame[2], f'code {frame[2]}')}", "")
        count: int = struct.unpack(">H", self._asked[4:6])[0]
        if function != asked_function or frame[2] != 2 * count:
            raise NoReply(f"{self.what}: answers another question than it was asked")
        return struct.unpack(f">{count}H", frame[3:-2])

    def _miss(self) -> None:
        if self._whole is not None and not self._whole.done():
            self._whole.set_exception(NoReply(f"{self.what}: {self._heard()}", check=_OTHER_DEVICE))

    def _heard(self) -> str:
        frame = self._came.removeprefix(self._asked)
        if not self._came:
            return f"no answer in {ANSWER_S:g} s"
        if not frame:
            return "only the echo of the question came back: is the probe connected?"
        if frame.isascii() and frame.decode().rstrip("\r\n").isprintable():
            return f"another instrument is on this port, it says {frame.decode().strip()[:40]!r}"
        return f"garbled answer {frame[:12].hex(' ')}"

    def _lost(self, error: InstrumentError) -> None:
        if self._whole is not None and not self._whole.done():
            self._whole.set_exception(error)

    def _error(self, what: str, check: str) -> InstrumentError:
        return InstrumentError(f"{self.what}: {what}", check=check)


def _length(frame: bytes) -> int | None:
    """How long the frame is that begins so; None as long as that cannot be told."""
    if len(frame) < 3:
        return None
    return 5 if frame[1] & _FAILED else 5 + frame[2]
