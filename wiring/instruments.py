"""Instruments whose words or registers differ from make to make: stage controllers, air probes, code readers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import StrEnum
from functools import lru_cache
from typing import Annotated

from pydantic import Field

from wiring.serialports import Baud, Parity, PortName
from wiring.tomlfile import Contradiction, DataModel

Words = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[ -~]+$", description="printable ASCII")]
_NUMBER = r"(-?\d+(?:\.\d+)?)"


class StageDialect(DataModel):
    """What a stage controller is told and what it answers; every form that differs between controllers.

    Each line is answered by `ok`, or by a line that begins with one of `refusals`. The report brings a line
    that holds the position before the `ok`, or in it. `stop` is sent as it stands, without a line end.
    Unsolicited lines that begin with one of `chatter` mean nothing; any other means that the controller has
    started anew or given up, so that its zero is no longer known.
    """

    set_up: tuple[Words, ...] = Field(
        ("G21", "G90", "G94"),
        max_length=10,
        description="lines told before homing: mm, absolute, feed a minute",
    )
    home: Words = Field("G28 X0", description="line that homes the stage")
    move: Words = Field("G0 X{mm}", description="line that moves it; {mm} becomes the position in mm")
    report: Words = Field("M114", description="line that asks for the position")
    stop: Words = Field("!", description="characters that stop it at once, sent without a line end")
    ok: Words = Field("ok", description="first word of the answer to a line that was taken")
    refusals: tuple[Words, ...] = Field(
        ("error", "alarm"), min_length=1, max_length=10, description="how answers begin that refuse a line"
    )
    chatter: tuple[Words, ...] = Field(
        ("ok",), max_length=20, description="how lines begin that come unasked and mean nothing"
    )
    position: Words = Field("X:{mm}", description="where the report has the position; {mm} is the number")
    home_mm: Annotated[
        float, Field(ge=-10000, le=10000, description="position that it reports once homed, in mm")
    ] = 0.0

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a move or a position without its number."""
        for key in ("move", "position"):
            text: str = getattr(self, key)
            if text.count("{mm}") != 1 or re.search(r"[{}]", text.replace("{mm}", "")):
                yield Contradiction(
                    (key,), "must hold {mm} once and no other braces", allowed="such as X{mm}"
                )

    def move_line(self, position_mm: float) -> str:
        """The line that moves the stage to a position."""
        return self.move.replace("{mm}", f"{position_mm:.3f}")

    def is_ok(self, line: str) -> bool:
        """Whether the line says that the last command was taken."""
        return line.lower().split(" ", 1)[0] == self.ok.lower()

    def is_refusal(self, line: str) -> bool:
        """Whether the line says that the last command was not taken, or that the controller has stopped."""
        return _begins(line, self.refusals)

    def is_chatter(self, line: str) -> bool:
        """Whether a line that came unasked means nothing."""
        return _begins(line, self.chatter)

    def position_mm(self, line: str) -> float | None:
        """The position in millimetres that the line reports, None if it reports none."""
        match = _with_number(self.position).search(line)
        return float(match[1]) if match else None


@lru_cache
def _with_number(position: str) -> re.Pattern[str]:
    before, after = (re.escape(part) for part in position.split("{mm}"))
    return re.compile(f"{before} ?{_NUMBER}{after}")


def _begins(line: str, words: tuple[str, ...]) -> bool:
    return line.lower().startswith(_lower(words))


@lru_cache
def _lower(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(word.lower() for word in words)


class RegisterTable(StrEnum):
    """Which table of a Modbus device holds its readings."""

    INPUT = "input"
    HOLDING = "holding"


class ProbeRegister(DataModel):
    """One 16-bit register of a Modbus device and what its number means."""

    address: Annotated[int, Field(ge=0, le=65535, description="register address on the line, from 0")]
    scale: Annotated[float, Field(gt=0, le=100, description="one step of the register, in °C or %")] = 0.1


class ProbeProfile(DataModel):
    """A temperature and humidity probe on Modbus RTU; its errors are those of `[air]`."""

    port: PortName
    baud: Baud = 9600
    parity: Parity = Field(Parity.NONE, description="none, even or odd, as the probe is set")
    unit: Annotated[int, Field(ge=1, le=247, description="Modbus address of the probe")] = 1
    table: RegisterTable = Field(
        RegisterTable.INPUT, description="input: function 4; holding: function 3, as its manual says"
    )
    temperature: ProbeRegister = Field(
        ProbeRegister(address=0), description="register of the temperature, signed"
    )
    humidity: ProbeRegister = Field(ProbeRegister(address=1), description="register of the relative humidity")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield one register for both, and registers too far apart for one question."""
        apart = abs(self.temperature.address - self.humidity.address)
        if not 1 <= apart <= _FARTHEST_APART:
            yield Contradiction(
                ("humidity", "address"),
                "both registers are read with one question",
                allowed=f"another one, within {_FARTHEST_APART} of temperature.address",
            )


# A Modbus question reads up to 125 registers (application protocol V1.1b3, 6.3 and 6.4, from memory).
_FARTHEST_APART = 124


class CodeReaderProfile(DataModel):
    """A bar code reader on a serial line; each code comes as a line that ends with a carriage return or line feed."""

    port: PortName
    baud: Baud = 9600
