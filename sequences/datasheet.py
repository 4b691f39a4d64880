"""What a data sheet says about a family of units: body, sensing, supply, output, times."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from pydantic import Field

from sequences.words import must_rise
from wiring.terms import OutputType
from wiring.tomlfile import Contradiction, DataModel

AIR_DRIFT_PERCENT_PER_K = 0.17
"""Drift of an uncompensated unit: slope of the speed of sound at 20 degrees C (Cramer 1993, Eq. 15)."""


class BodyShape(StrEnum):
    """The outer form of a unit."""

    BARREL = "barrel"
    RECTANGULAR = "rectangular"


class Body(DataModel):
    """The unit as it lies in the hand."""

    shape: BodyShape = Field(description="barrel or rectangular")
    thread_mm: float | None = Field(None, gt=0, le=100, description="metric thread of a barrel, in mm")
    length_mm: float = Field(ge=10, le=300, description="length over all without plug, in mm")
    transducer_diameter_mm: float = Field(gt=0, le=100, description="diameter of the sounding face, in mm")
    frequency_khz: float = Field(ge=20, le=1000, description="frequency of the sound, in kHz")
    beam_angle_deg: float | None = Field(
        None, gt=0, lt=120, description="total beam angle to -3 dB in degrees, if the data sheet states one"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a barrel without a thread, or one that its sounding face does not fit into."""
        if (self.thread_mm is not None) != (self.shape is BodyShape.BARREL):
            yield Contradiction(
                ("thread_mm",),
                "a barrel has a thread and a rectangular body has none",
                allowed='thread_mm only with shape = "barrel"',
            )
        if self.thread_mm is not None and self.transducer_diameter_mm >= self.thread_mm:
            yield Contradiction(
                ("transducer_diameter_mm",),
                "the sounding face does not fit into the barrel",
                allowed=f"less than thread_mm = {self.thread_mm:g}",
            )


class Sensing(DataModel):
    """What the unit measures, and how well. Distances from the sensing face."""

    blind_zone_mm: float = Field(gt=0, lt=10000, description="end of the blind zone, in mm")
    range_mm: float = Field(gt=0, le=10000, description="farthest operating distance, in mm")
    standard_target_mm: float = Field(
        gt=0, le=500, description="side of the square plate that range_mm holds for, in mm"
    )
    hysteresis_percent: float = Field(
        gt=0, le=20, description="usual differential travel, in % of the operate point"
    )
    hysteresis_largest_percent: float = Field(
        gt=0, le=20, description="largest differential travel of a good unit, in %"
    )
    hysteresis_min_mm: float = Field(ge=0, le=100, description="differential travel is never less, in mm")
    repeat_accuracy_percent: float = Field(
        gt=0, le=10, description="repeat accuracy, in % of the operate point"
    )
    resolution_mm: float | None = Field(
        None,
        gt=0,
        le=50,
        description="smallest step that the unit tells apart in mm, if the data sheet states it",
    )
    teach_error_percent: float | None = Field(
        None,
        gt=0,
        le=10,
        description="a good unit stores a taught distance within this, in % of it; repeat_accuracy_percent if absent",
    )
    smallest_window_mm: float = Field(gt=0, le=5000, description="least distance between near and far, in mm")
    temperature_compensated: bool = Field(description="whether the unit corrects for the air itself")
    drift_percent_per_k: float = Field(
        ge=0, le=1, description="drift of a set point with the air, in % of distance per kelvin"
    )
    temperature_min_c: float = Field(ge=-60, le=120, description="coldest air, in degrees C")
    temperature_max_c: float = Field(ge=-60, le=120, description="warmest air, in degrees C")

    def hysteresis_mm(self, distance_mm: float) -> float:
        """Usual differential travel in mm of an operate point at `distance_mm`."""
        return max(self.hysteresis_min_mm, distance_mm * self.hysteresis_percent / 100)

    def hysteresis_largest_mm(self, distance_mm: float) -> float:
        """Largest differential travel in mm that a good unit may show at `distance_mm`."""
        return max(self.hysteresis_min_mm, distance_mm * self.hysteresis_largest_percent / 100)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield ranges that do not rise and figures that belie one another."""
        yield from must_rise(self, "blind_zone_mm", "range_mm")
        yield from must_rise(self, "temperature_min_c", "temperature_max_c")
        if self.hysteresis_percent > self.hysteresis_largest_percent:
            yield Contradiction(
                ("hysteresis_percent",),
                "the usual hysteresis is larger than the largest",
                allowed=f"up to hysteresis_largest_percent = {self.hysteresis_largest_percent:g}",
            )
        room_mm = self.range_mm - self.blind_zone_mm
        if 0 < room_mm <= self.smallest_window_mm:
            yield Contradiction(
                ("smallest_window_mm",),
                "no window fits between blind zone and range",
                allowed=f"less than {room_mm:g}",
            )
        if self.temperature_compensated and self.drift_percent_per_k >= AIR_DRIFT_PERCENT_PER_K:
            yield Contradiction(
                ("drift_percent_per_k",),
                "a compensated unit drifts less than the air itself",
                allowed=f"less than {AIR_DRIFT_PERCENT_PER_K:g}, or temperature_compensated = false",
            )


class Derating(DataModel):
    """Share of the range that is left on objects with a weaker echo than the standard target."""

    rough_percent: float = Field(gt=0, le=100, description="rough or loose goods, in % of range_mm")
    round_percent: float = Field(gt=0, le=100, description="round objects, in % of range_mm")
    soft_percent: float = Field(gt=0, le=100, description="textile, foam, fleece, in % of range_mm")


class Supply(DataModel):
    """What the unit wants between L+ and L-."""

    voltage_min_v: float = Field(ge=5, le=60, description="lowest supply voltage, in V")
    voltage_max_v: float = Field(ge=5, le=60, description="highest supply voltage, in V")
    no_load_current_min_a: float = Field(gt=0, le=1, description="a living unit draws at least this, in A")
    no_load_current_max_a: float = Field(gt=0, le=1, description="a good unit draws at most this, in A")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield limits that do not rise."""
        yield from must_rise(self, "voltage_min_v", "voltage_max_v")
        yield from must_rise(self, "no_load_current_min_a", "no_load_current_max_a")


class Output(DataModel):
    """What the unit can switch."""

    types: tuple[OutputType, ...] = Field(min_length=1, description="output types that can be bought")
    load_current_max_a: float = Field(gt=0, le=2, description="largest load current, in A")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield an output type that is listed twice."""
        if len(set(self.types)) != len(self.types):
            yield Contradiction(
                ("types",),
                "an output type is listed twice",
                given=", ".join(self.types),
                allowed="each one once",
            )


class Timing(DataModel):
    """The unit's own times."""

    availability_delay_s: float = Field(
        gt=0, le=10, description="from power-up until the output is right, in seconds"
    )
    response_on_s: float = Field(gt=0, le=10, description="object appears to output changes, in seconds")
    response_off_s: float = Field(gt=0, le=10, description="object vanishes to output changes, in seconds")
    teach_window_s: float = Field(
        gt=0, le=86400, description="teaching is accepted for this long after power-up, in seconds"
    )
    teach_timeout_s: float = Field(
        gt=0, le=3600, description="longest pause between two steps of teaching, in seconds"
    )


class ContactLimits(DataModel):
    """What contacts the unit can bear and understand; no sequence may go beyond."""

    shortest_s: float = Field(gt=0, le=60, description="shortest contact, in seconds")
    longest_s: float = Field(gt=0, le=60, description="longest contact, in seconds")
    longest_gap_s: float | None = Field(
        None, gt=0, le=60, description="longest gap between contacts counted together, in seconds"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield limits that do not rise."""
        yield from must_rise(self, "shortest_s", "longest_s")
