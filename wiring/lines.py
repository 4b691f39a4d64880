"""GPIO lines and what hangs on them: isolated inputs, outputs, relay coils."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from wiring.tomlfile import DataModel

GpioLine = Annotated[
    str,
    Field(
        pattern=r"^GPIO([2-9]|1[0-9]|2[0-7])$",
        description="a GPIO number as on the chip, GPIO2 to GPIO27, in quotes",
    ),
]
RelaySeconds = Annotated[float, Field(gt=0, le=0.5)]
_LONGEST = "in seconds, longest value of the data sheet"


class Level(StrEnum):
    """The line level that means 'on'."""

    HIGH = "high"
    LOW = "low"


ActiveLevel = Annotated[Level, Field(description="the level of the line that means 'on'")]


class InputLine(DataModel):
    """One isolated input."""

    line: GpioLine
    active: ActiveLevel = Level.HIGH


class OutputLine(DataModel):
    """One output; its inactive level is the safe one."""

    line: GpioLine
    active: ActiveLevel = Level.HIGH


class RelayLine(OutputLine):
    """An output that drives a relay coil, with the longest times of the relay's data sheet.

    The defaults are those of a small relay (common practice, no source).
    """

    operate_s: RelaySeconds = Field(0.010, description=f"coil on to contact made, {_LONGEST}")
    release_s: RelaySeconds = Field(0.005, description=f"coil off to contact open, {_LONGEST}")
    bounce_s: RelaySeconds = Field(0.003, description=f"chatter of the contact, {_LONGEST}")

    @property
    def released_s(self) -> float:
        """Longest time from switching off until the contact is quiet, in seconds."""
        return _sum_s(self.release_s, self.bounce_s)

    @property
    def settle_s(self) -> float:
        """Longest time from a command, either way, until the contact is quiet, in seconds."""
        return _sum_s(max(self.operate_s, self.release_s), self.bounce_s)


def _sum_s(*times_s: float) -> float:
    # 0.1 + 0.2 must not exceed a limit of 0.3 that a person has typed.
    return round(sum(times_s), 9)
