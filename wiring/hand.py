"""What tells where a target is that a person slides: the hand and the eye, or a gauge on a serial line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from wiring.serialports import Baud, PortName
from wiring.tomlfile import Contradiction, DataModel


class HandProfile(DataModel):
    """How a person slides a target and reads its scale.

    The times are common practice, without a source: people answer to a sign within a fifth to half a second.
    """

    slide_mm_s: Annotated[
        float, Field(ge=0.2, le=50, description="a slow slide goes no faster than this, in mm per second")
    ] = 5.0
    reading_mm: Annotated[
        float, Field(gt=0, le=10, description="a person reads the scale right within this, in mm")
    ] = 0.5
    stop_least_s: Annotated[
        float,
        Field(ge=0, le=5, description="from 'stop' on the screen to a still target, at least, in seconds"),
    ] = 0.15
    stop_most_s: Annotated[float, Field(gt=0, le=5, description="the same at most, in seconds")] = 0.65

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a least time to stop that is not less than the most."""
        if self.stop_least_s >= self.stop_most_s:
            yield Contradiction(
                ("stop_least_s",),
                "the least time to stop is not less than the most",
                given=f"{self.stop_least_s:g}",
                allowed=f"less than stop_most_s = {self.stop_most_s:g}",
            )


class GaugeProfile(DataModel):
    """A distance gauge at the target, which answers `POS` on its serial line (see `hal/instruments/distance.py`)."""

    port: PortName
    baud: Baud = 19200
    at_zero_mm: Annotated[
        float, Field(ge=0, le=10000, description="the target's position while the gauge reads 0, in mm")
    ] = 0.0
    reads_inward: bool = Field(False, description="the reading grows as the target comes nearer to the face")
    error_mm: Annotated[
        float, Field(ge=0, le=20, description="the gauge is right within this, all along its way, in mm")
    ] = 0.05
    resolution_mm: Annotated[float, Field(gt=0, le=10, description="smallest step of its reading, in mm")] = (
        0.01
    )
    lag_s: Annotated[
        float, Field(ge=0, le=2, description="a reading is up to this old when it is asked for, in seconds")
    ] = 0.05

    def position_mm(self, reading_mm: float) -> float:
        """Where the target is when the gauge reads `reading_mm`."""
        return self.at_zero_mm + (-reading_mm if self.reads_inward else reading_mm)

    def reading_mm(self, position_mm: float) -> float:
        """What the gauge reads when the target is at `position_mm`."""
        way_mm = position_mm - self.at_zero_mm
        return -way_mm if self.reads_inward else way_mm
