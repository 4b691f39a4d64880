"""Serial ports as a rig profile names them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from wiring.tomllines import KeyPath

PortName = Annotated[str, Field(min_length=1, max_length=200, description="path of a serial port")]
Baud = Annotated[int, Field(ge=300, le=1_000_000, description="speed of the serial port, in Bd")]


class Parity(StrEnum):
    """The parity bit of every character; always one stop bit, 8 data bits."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"


@dataclass(frozen=True, slots=True)
class RigPort:
    """A serial port of a rig.

    Attributes:
        name: its path, as the profile has it.
        instrument: what hangs on it, in words.
        path: the key that names it.
        must_stay: whether the bench has to be made safe as soon as it is lost.

    """

    name: str
    instrument: str
    path: KeyPath
    baud: int
    parity: Parity = Parity.NONE
    must_stay: bool = True
