"""An air probe that answers Modbus RTU, and a code reader that sends what is held before it."""

from __future__ import annotations

import struct
from typing import Protocol

from hal.instruments.modbus import crc16, framed
from hal.simulated.instrument import Instrument
from wiring.instruments import ProbeProfile, ProbeRegister, RegisterTable

_QUESTION_BYTES = 8
_TABLES = {0x03: RegisterTable.HOLDING, 0x04: RegisterTable.INPUT}
_NO_FUNCTION, _NO_ADDRESS, _NO_VALUE = 1, 2, 3
_MOST_REGISTERS = 125


class AirPhysics(Protocol):
    """The air around the probe."""

    @property
    def temperature_c(self) -> float:
        """Its temperature now."""

    humidity_percent: float


class SimulatedProbe(Instrument):
    """A probe set up as the rig profile says; it knows the true air, as finely as its registers."""

    def __init__(self, air: AirPhysics, told: ProbeProfile) -> None:
        super().__init__()
        self._air = air
        self._told = told
        self._came = b""

    def receive(self, data: bytes) -> None:
        """Take bytes; whatever ends in a whole question to this probe is answered."""
        for byte in data:
            self._came = (self._came + bytes((byte,)))[-_QUESTION_BYTES:]
            if len(self._came) == _QUESTION_BYTES and crc16(self._came) == 0:
                question, self._came = self._came, b""
                if question[0] == self._told.unit:
                    self.transmit(framed(self._answer(question)), self.reply_s)

    def _answer(self, question: bytes) -> bytes:
        unit, function, address, count = struct.unpack(">BBHH", question[:6])
        refusal = self._refusal(function, address, count)
        if refusal is not None:
            return bytes((unit, function | 0x80, refusal))
        registers = self._registers()
        words = (registers.get(address + index, 0) for index in range(count))
        return bytes((unit, function, 2 * count)) + struct.pack(f">{count}H", *words)

    def _refusal(self, function: int, address: int, count: int) -> int | None:
        if _TABLES.get(function) is not self._told.table:
            return _NO_FUNCTION
        if not 1 <= count <= _MOST_REGISTERS:
            return _NO_VALUE
        return None if {address, address + count - 1} <= set(self._registers()) else _NO_ADDRESS

    def _registers(self) -> dict[int, int]:
        told = self._told
        return {
            told.temperature.address: _steps(self._air.temperature_c, told.temperature),
            told.humidity.address: _steps(self._air.humidity_percent, told.humidity),
        }


def _steps(value: float, register: ProbeRegister) -> int:
    return round(value / register.scale) & 0xFFFF


class SimulatedCodeReader(Instrument):
    """A reader that ends every code with a carriage return, as most leave the factory (common practice, no source)."""

    def receive(self, data: bytes) -> None:
        """Nothing that it is told matters."""

    def scan(self, code: str) -> None:
        """Hold a code before it."""
        self.transmit(code.encode() + b"\r", self.reply_s)
