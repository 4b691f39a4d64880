"""The air at the bench: sound runs as fast as it lets it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from wiring.parts import AirProfile


@dataclass(frozen=True, slots=True)
class AirReading:
    """Temperature in degrees Celsius, relative humidity in percent, pressure in kilopascals; `source` in words."""

    temperature_c: float
    humidity_percent: float
    pressure_kpa: float
    source: str


class Air(Protocol):
    """Whatever knows the air."""

    async def read(self) -> AirReading:
        """The air now."""


class TypedAir:
    """The air as a person typed it into the rig profile."""

    def __init__(self, profile: AirProfile) -> None:
        self._reading = AirReading(
            profile.temperature_c, profile.humidity_percent, profile.pressure_kpa, source="typed in"
        )

    async def read(self) -> AirReading:
        """The air as typed in."""
        return self._reading
