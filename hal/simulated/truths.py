"""What the simulated bench is really like, whatever rig profile and person believe: air, scale, hands, gauge."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from hal.simulated.led import Ambient
from wiring.tomlfile import DataModel


class AirTruth(DataModel):
    """The air as it is, whatever the rig profile or the operator believes; it may drift steadily."""

    temperature_c: Annotated[
        float, Field(ge=-20, le=60, description="temperature between unit and target, in degrees C")
    ] = 23.0
    humidity_percent: Annotated[float, Field(ge=0, le=100, description="relative humidity, in %")] = 50.0
    pressure_kpa: Annotated[float, Field(ge=60, le=110, description="air pressure, in kPa")] = 101.325
    drift_c_per_hour: Annotated[
        float, Field(ge=-60, le=60, description="steady drift of the temperature, in degrees C per hour")
    ] = 0.0


class TargetTruth(DataModel):
    """The target's scale as it is, whatever the rig profile believes; what is placed by it is wrong by as much."""

    zero_mm: Annotated[
        float, Field(ge=-50, le=50, description="the target stands so much further from the face, in mm")
    ] = 0.0
    scale_percent: Annotated[
        float, Field(ge=-5, le=5, description="distances are so much longer than the scale says, in %")
    ] = 0.0
    creep_percent_per_shift: Annotated[
        float,
        Field(
            ge=-1,
            le=1,
            description="distances grow by so much more from one measurement of a check unit to the next, in %",
        ),
    ] = 0.0
    creep_from_shift: Annotated[
        int, Field(ge=0, le=100_000, description="from which measurement of a check unit on they do")
    ] = 0


class Light(DataModel):
    """The light in the room."""

    ambient: Ambient = Field(Ambient.DARK, description="what lights the room")
    leaks: bool = Field(False, description="flicker of lamps reaches a clipped pick-up while the LED is dark")


class PersonTruth(DataModel):
    """How quick and how exact the person is."""

    reaction_s: Annotated[
        float, Field(ge=0.05, le=3600, description="time to read and begin, in seconds")
    ] = 1.0
    fit_s: Annotated[
        float, Field(ge=0.1, le=3600, description="time to put in or take out a unit, in seconds")
    ] = 4.0
    hand_mm_s: Annotated[float, Field(ge=1, le=5000, description="speed of the hand, in mm per second")] = (
        400.0
    )
    placement_mm: Annotated[
        float, Field(ge=0, le=500, description="half-width of the error of placing the target, in mm")
    ] = 0.8
    slide_mm_s: Annotated[
        float, Field(ge=0.1, le=500, description="mean speed of a slow slide, in mm per second")
    ] = 3.0
    unevenness: Annotated[
        float, Field(ge=0, lt=1, description="by which share the speed of a slide goes up and down")
    ] = 0.3
    hesitation: Annotated[
        float, Field(ge=0, le=1, description="chance, about twice a second, to halt a slide for a moment")
    ] = 0.05
    stop_s: Annotated[
        float, Field(ge=0, le=10, description="from being told to stop to a still hand, in seconds")
    ] = 0.4
    reading_mm: Annotated[
        float, Field(ge=0, le=100, description="half-width of the error of reading the scale, in mm")
    ] = 0.3
    measuring_mm: Annotated[
        float, Field(ge=0, le=100, description="half-width of the error of measuring by a reference, in mm")
    ] = 0.05


class GaugeTruth(DataModel):
    """What the distance gauge of the rig is really like."""

    error_mm: Annotated[
        float, Field(ge=-100, le=100, description="by what it shows the target too far, in mm")
    ] = 0.0
    noise_mm: Annotated[float, Field(ge=0, le=10, description="standard deviation of a reading, in mm")] = (
        0.01
    )
    lag_s: Annotated[float, Field(ge=0, le=5, description="how old what it shows is, in seconds")] = 0.02
    interval_s: Annotated[
        float, Field(gt=0, le=5, description="time between two readings of its own, in seconds")
    ] = 0.01


class Hand(DataModel):
    """How somebody puts units in, or how they sit in one setting of the rig."""

    name: Annotated[str, Field(min_length=1, max_length=80, description="who, or which setting of the rig")]
    offset_mm: Annotated[
        float, Field(ge=-50, le=50, description="so much further from the target units sit then, in mm")
    ]


class SeatingTruth(DataModel):
    """How units really sit in the nest."""

    spread_mm: Annotated[
        float,
        Field(ge=0, le=50, description="standard deviation of the place of a unit put in anew, in mm"),
    ] = 0.0
    by: tuple[Hand, ...] = Field((), description="whose units sit otherwise, one [[seating.by]] each")
