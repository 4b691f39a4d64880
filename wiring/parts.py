"""What a bench has once: coil supply, target, unit supply, air."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from itertools import pairwise
from math import sqrt
from typing import Annotated, Literal

from pydantic import Field

from wiring.hand import GaugeProfile, HandProfile
from wiring.instruments import ProbeProfile, StageDialect
from wiring.lines import ActiveLevel, GpioLine, InputLine, Level, OutputLine, RelayLine
from wiring.serialports import Baud, PortName
from wiring.terms import Verification
from wiring.tomlfile import Contradiction, DataModel


class CoilSupply(DataModel):
    """What keeps the relay coils alive: heartbeat and stop button, both in hardware."""

    heartbeat: OutputLine = Field(description="output whose pulses keep the relay coils supplied")
    beat_s: Annotated[
        float, Field(ge=0.01, le=0.5, description="time between two level changes, in seconds")
    ] = 0.06
    dropout_s: Annotated[
        float,
        Field(ge=0.05, le=1.0, description="time from the last pulse until the coils are off, in seconds"),
    ] = 0.2
    stop_button: InputLine = Field(description="input that is on while the stop button is pressed")
    sense: InputLine | None = Field(
        None, description="input that is on while the coils are supplied, if fitted"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a heartbeat too slow for its monostable."""
        # A pulse is two beats (up, down), and one late beat must not drop the coils.
        if round(3 * self.beat_s, 9) > self.dropout_s:
            yield Contradiction(
                ("beat_s",),
                "three beats must fit into dropout_s",
                given=f"{self.beat_s:g}",
                allowed=f"up to {self.dropout_s / 3:.3g} with dropout_s = {self.dropout_s:g}",
            )


class TargetKind(StrEnum):
    """How the target is moved."""

    MANUAL = "manual"
    SLOTS = "slots"
    STAGE = "stage"


class Slot(DataModel):
    """One numbered place for the target, with the micro-switch that tells it is there."""

    number: Annotated[int, Field(ge=1, le=99, description="number that stands at the slot")]
    position_mm: Annotated[
        float, Field(ge=0, le=10000, description="target from the sensing face in this slot, in mm")
    ]
    line: GpioLine
    active: ActiveLevel = Level.HIGH


_TARGET_PARTS = {
    TargetKind.MANUAL: (),
    TargetKind.SLOTS: ("slots",),
    TargetKind.STAGE: ("port", "speed_mm_s", "swing"),
}
# What only one kind of target may have, and need not.
_EXTRA_PARTS = {"hand": TargetKind.MANUAL, "gauge": TargetKind.MANUAL, "dialect": TargetKind.STAGE}


class Calibrated(DataModel):
    """What a calibration leaves in doubt of the target's distances, in standard uncertainties (k = 1)."""

    zero_u_mm: Annotated[float, Field(gt=0, le=1000, description="of the zero, in mm")]
    scale_u_percent: Annotated[float, Field(ge=0, le=100, description="of the scale, in % of the position")]


class TargetProfile(DataModel):
    """The target and what moves it; positions are distances from the sensing face."""

    kind: TargetKind = Field(
        description="manual: by hand along a scale; slots: by hand into slots; stage: by a linear stage"
    )
    nearest_mm: Annotated[
        float, Field(ge=0, le=10000, description="nearest place of the target from the sensing face, in mm")
    ] = 0.0
    farthest_mm: Annotated[
        float, Field(gt=0, le=10000, description="farthest place of the target from the sensing face, in mm")
    ]
    placement_mm: Annotated[
        float,
        Field(gt=0, le=50, description="half-width of the error of placing the target again, in mm"),
    ] = 1.0
    zero_error_mm: Annotated[
        float,
        Field(ge=0, le=20, description="the scale's zero lies within this of the sensing face, in mm"),
    ] = 0.2
    # A class II steel rule at 1 m (0.3 mm + 0.2 mm per metre, from memory).
    scale_error_percent: Annotated[
        float, Field(ge=0, le=2, description="the scale is right within this, in % of the position")
    ] = 0.05
    calibrated: Calibrated | None = Field(
        None,
        description="what the calibration in force leaves in doubt, in place of zero_error_mm and "
        "scale_error_percent; filled in from the record of `teachrig calibrate`",
    )
    resolution_mm: Annotated[
        float, Field(gt=0, le=10, description="smallest step in which the target can be set, in mm")
    ] = 0.1
    tilt_deg: Annotated[
        float,
        Field(ge=0, le=10, description="the target's way lies within this of the unit's axis, in degrees"),
    ] = 1.0
    clear_radius_mm: Annotated[
        float | None,
        Field(gt=0, le=5000, description="nothing but the target stands this near the unit's axis, in mm"),
    ] = None
    side_mm: Annotated[float, Field(gt=0, le=500, description="side of the square target plate, in mm")] = (
        100.0
    )
    speed_mm_s: Annotated[float, Field(gt=0, le=2000)] | None = Field(
        None, description="speed of the stage, in mm per second"
    )
    settle_s: Annotated[
        float, Field(ge=0, le=5, description="wait until the target hangs still, in seconds")
    ] = 0.1
    port: PortName | None = Field(None, description="serial port of the stage")
    baud: Baud = 115200
    dialect: StageDialect | None = Field(
        None, description="what the stage's controller is told and answers, where it differs (stage)"
    )
    swing: RelayLine | None = Field(None, description="output that swings the target out of the beam (stage)")
    swing_s: Annotated[float, Field(gt=0, le=5, description="time to swing in or out, in seconds")] = 0.4
    slots: tuple[Slot, ...] = Field((), description="the slots, nearest first (slots)")
    hand: HandProfile | None = Field(
        None, description="how a person slides the target and reads its scale (manual)"
    )
    gauge: GaugeProfile | None = Field(
        None, description="distance gauge that tells where the target is, if fitted (manual)"
    )
    verify: Verification = Field(
        Verification.POSITIONS, description="how units are proved whose order does not say (checks.method)"
    )

    @property
    def zero_doubt_mm(self) -> float:
        """Half-width of what the zero may be off: by the calibration in force, else as the profile says."""
        return self.zero_error_mm if self.calibrated is None else sqrt(3) * self.calibrated.zero_u_mm

    @property
    def scale_doubt_percent(self) -> float:
        """Half-width of what the scale may be off: by the calibration in force, else as the profile says."""
        made = self.calibrated
        return self.scale_error_percent if made is None else sqrt(3) * made.scale_u_percent

    @property
    def by_hand(self) -> HandProfile:
        """How a person slides the target and reads its scale; the usual where nothing is stated."""
        return self.hand or HandProfile()

    @property
    def spoken(self) -> StageDialect:
        """What the stage's controller is told and answers; the usual where nothing is stated."""
        return self.dialect or StageDialect()

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield an empty reach, parts that do not fit the kind, and slots out of order or reach."""
        if self.nearest_mm >= self.farthest_mm:
            yield Contradiction(
                ("nearest_mm",),
                "the nearest position lies beyond the farthest",
                given=f"{self.nearest_mm:g}",
                allowed=f"less than farthest_mm = {self.farthest_mm:g}",
            )
        yield from self._parts_that_do_not_fit()
        yield from self._slots_out_of_place()

    def _parts_that_do_not_fit(self) -> Iterator[Contradiction]:
        wanted = _TARGET_PARTS[self.kind]
        for key in (key for parts in _TARGET_PARTS.values() for key in parts):
            present = getattr(self, key) not in (None, ())
            if present != (key in wanted):
                yield Contradiction(
                    (key,),
                    f"a {self.kind} target {'needs' if key in wanted else 'has no'} {key}",
                    allowed=", ".join(wanted)
                    or f"none of {', '.join(_TARGET_PARTS[TargetKind.STAGE])}, slots",
                )

        for key, kind in _EXTRA_PARTS.items():
            if getattr(self, key) is not None and self.kind is not kind:
                yield Contradiction(
                    (key,), f"a {self.kind} target has no {key}", allowed=f'{key} with kind = "{kind}" only'
                )

    def _slots_out_of_place(self) -> Iterator[Contradiction]:
        for index, slot in enumerate(self.slots):
            if not self.nearest_mm <= slot.position_mm <= self.farthest_mm:
                yield Contradiction(
                    ("slots", index, "position_mm"),
                    "the slot lies outside the reach of the target",
                    allowed=f"nearest_mm to farthest_mm = {self.nearest_mm:g} to {self.farthest_mm:g}",
                )
        for index, (before, after) in enumerate(pairwise(self.slots), start=1):
            for key in ("number", "position_mm"):
                lower = getattr(before, key)
                if getattr(after, key) <= lower:
                    yield Contradiction(
                        ("slots", index, key),
                        f"slots must rise in {key}",
                        allowed=f"more than {lower:g} of the slot before",
                    )


class SupplyProfile(DataModel):
    """The 24 V PELV bench supply; `scpi` is set and measured by the program, `fixed` is not."""

    kind: Literal["fixed", "scpi"] = Field(
        description="scpi: set and measured over its serial port; fixed: neither"
    )
    voltage_v: Annotated[float, Field(ge=10, le=30, description="supply of the units, in V")] = 24.0
    current_limit_a: Annotated[
        float, Field(gt=0, le=2, description="where the supply limits the current, in A")
    ] = 0.25
    port: PortName | None = Field(None, description="serial port of the supply (scpi)")
    baud: Baud = 9600

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a port without a supply that has one, or the other way round."""
        if (self.port is not None) != (self.kind == "scpi"):
            yield Contradiction(
                ("port",),
                f"a {self.kind} supply {'has no' if self.port else 'needs a'} port",
                allowed='a port with kind = "scpi" only',
            )


class AirProfile(DataModel):
    """The air at the bench as typed in or read from a probe, and how far that may be from the truth."""

    temperature_c: Annotated[
        float, Field(ge=-20, le=60, description="temperature between unit and target, in degrees C")
    ] = 23.0
    humidity_percent: Annotated[float, Field(ge=0, le=100, description="relative humidity, in %")] = 50.0
    pressure_kpa: Annotated[float, Field(ge=60, le=110, description="air pressure, in kPa")] = 101.325
    temperature_error_k: Annotated[
        float, Field(ge=0, le=20, description="the true temperature lies within this, in K")
    ] = 1.0
    humidity_error_percent: Annotated[
        float, Field(ge=0, le=50, description="the true relative humidity lies within this, in %")
    ] = 10.0
    pressure_error_kpa: Annotated[
        float, Field(ge=0, le=20, description="the true pressure lies within this, in kPa")
    ] = 3.0
    probe: ProbeProfile | None = Field(
        None, description="probe that measures temperature and humidity at the bench, if fitted"
    )
