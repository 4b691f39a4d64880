"""The need: what a unit will meet at the machine, from which set points are proposed and against which they are held.

Whatever is left out is not known, and planning says what it could not look at.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from sequences.words import DistanceMm, must_come_together, must_not_fall, must_rise
from wiring.terms import OutputFunction
from wiring.tomlfile import Contradiction, DataModel

AirC = Annotated[float, Field(ge=-40, le=70)]
Percent = Annotated[float, Field(ge=0, le=100)]
SizeMm = Annotated[float, Field(gt=0, le=20000)]


class ObjectShape(StrEnum):
    """What an object looks like to the sound."""

    PLATE = "plate"
    BAR = "bar"
    BULK = "bulk"


class Surface(StrEnum):
    """How much of the sound an object gives back."""

    HARD = "hard"
    SOFT = "soft"


SIZES = {
    ObjectShape.PLATE: ("width_mm", "height_mm"),
    ObjectShape.BAR: ("diameter_mm", "length_mm"),
    ObjectShape.BULK: (),
}
"""The keys that state the size of each shape."""


class ObjectNeed(DataModel):
    """The object that is to be detected, as the unit sees it."""

    shape: ObjectShape = Field(
        description="plate: a flat side; bar: round, across the beam; bulk: loose goods such as apples"
    )
    width_mm: SizeMm | None = Field(None, description="one side of a plate, in mm")
    height_mm: SizeMm | None = Field(None, description="the other side of a plate, in mm")
    diameter_mm: SizeMm | None = Field(None, description="diameter of a bar, in mm")
    length_mm: SizeMm | None = Field(None, description="length of a bar, in mm")
    surface: Surface = Field(Surface.HARD, description="hard, or soft as textile, foam and fleece are")
    tilt_deg: float | None = Field(
        None, ge=0, lt=90, description="largest angle by which a plate or bar is out of square, in degrees"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield sizes that the shape lacks or does not have, and a tilt of what has no side."""
        wanted = SIZES[self.shape]
        for key in (key for keys in SIZES.values() for key in keys):
            if (getattr(self, key) is not None) != (key in wanted):
                yield Contradiction(
                    (key,),
                    f"shape {self.shape} {'needs' if key in wanted else 'has no'} {key}",
                    allowed=", ".join(wanted) or "no size",
                )
        if self.shape is ObjectShape.BULK and self.tilt_deg is not None:
            yield Contradiction(("tilt_deg",), "loose goods have no side that could tilt", allowed="no tilt")


class MountingNeed(DataModel):
    """What stands around the unit at the machine."""

    side_wall_mm: SizeMm | None = Field(
        None, description="from the axis of the beam to the nearest wall, post or rail beside it, in mm"
    )
    neighbour_spacing_mm: SizeMm | None = Field(
        None, description="from axis to axis of the next unit of the same type that looks the same way, in mm"
    )
    recess_mm: float | None = Field(
        None, gt=0, le=1000, description="how far the sensing face is set back in a hole, in mm"
    )
    recess_diameter_mm: float | None = Field(None, gt=0, le=1000, description="diameter of that hole, in mm")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a recess without its diameter, or a diameter without its depth."""
        yield from must_come_together(self, "recess_mm", "recess_diameter_mm")


class AirNeed(DataModel):
    """The air at the machine over the year."""

    coldest_c: AirC = Field(description="coldest air between unit and object, in degrees C")
    warmest_c: AirC = Field(description="warmest air between unit and object, in degrees C")
    driest_percent: Percent = Field(0.0, description="lowest relative humidity, in %; 0 where nobody knows")
    dampest_percent: Percent = Field(
        100.0, description="highest relative humidity, in %; 100 where nobody knows"
    )
    pressure_kpa: float | None = Field(None, ge=50, le=110, description="air pressure on site, in kPa")
    altitude_m: float | None = Field(
        None, ge=-500, le=5000, description="height above the sea instead of a pressure, in m"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield spans that fall, and two statements of the pressure."""
        yield from must_not_fall(self, "coldest_c", "warmest_c")
        yield from must_not_fall(self, "driest_percent", "dampest_percent")
        if self.pressure_kpa is not None and self.altitude_m is not None:
            yield Contradiction(
                ("altitude_m",),
                "the pressure is stated already",
                allowed="pressure_kpa or altitude_m",
            )


class MotionNeed(DataModel):
    """Objects that pass through the beam one after another."""

    speed_m_s: float = Field(gt=0, le=20, description="speed of the objects, in m/s")
    object_length_mm: SizeMm = Field(description="length of an object along its way, in mm")
    gap_mm: SizeMm | None = Field(None, description="shortest gap between two objects, in mm")


class SupplyNeed(DataModel):
    """What the machine gives the unit, and what its output has to carry."""

    lowest_v: float = Field(gt=0, le=60, description="lowest supply voltage at the unit, in V")
    highest_v: float = Field(gt=0, le=60, description="highest supply voltage at the unit, in V")
    load_current_a: float | None = Field(None, ge=0, le=10, description="current through the output, in A")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a span that falls."""
        yield from must_not_fall(self, "lowest_v", "highest_v")


class Need(DataModel):
    """What the unit has to do at the machine. Distances from the sensing face to the side that faces it."""

    nearest_mm: DistanceMm | None = Field(None, description="nearest place of an object, in mm")
    farthest_mm: DistanceMm | None = Field(None, description="farthest place of an object, in mm")
    foreground_mm: DistanceMm | None = Field(
        None, description="what comes up to here, nearer than the objects, must not be reported, in mm"
    )
    background_mm: DistanceMm | None = Field(
        None, description="wall or other thing behind the objects that must not be reported, in mm"
    )
    broken_wire_reads: Literal["no object", "an object"] | None = Field(
        None, description="what a broken output wire, which reads as off, has to look like, if it matters"
    )
    object: ObjectNeed | None = Field(None, description="what is to be detected")
    mounting: MountingNeed = Field(MountingNeed(), description="what stands around the unit")
    air: AirNeed | None = Field(None, description="the air at the machine over the year")
    motion: MotionNeed | None = Field(None, description="how fast objects pass")
    supply: SupplyNeed | None = Field(None, description="what the machine gives and draws")

    @property
    def output_function(self) -> OutputFunction | None:
        """The output function whose off is what a broken wire has to look like; None where that does not matter."""
        functions = {"no object": OutputFunction.NO, "an object": OutputFunction.NC}
        return None if self.broken_wire_reads is None else functions[self.broken_wire_reads]

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield distances that come one without the other or in the wrong order."""
        yield from must_come_together(self, "nearest_mm", "farthest_mm")
        yield from must_not_fall(self, "nearest_mm", "farthest_mm")
        yield from must_rise(self, "foreground_mm", "nearest_mm")
        yield from must_rise(self, "farthest_mm", "background_mm")
