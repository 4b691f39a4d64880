"""Where the target stands on the bench so that a unit switches where it should at the machine.

A unit that does not correct for the air stores the time of an echo. Taught in warm air, it switches nearer
in a cold store: the target has to stand further out on the bench by the ratio of the speeds of sound.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from rig.planning.air import DEFAULT_CO2_PPM, LIMITS, STANDARD_PRESSURE_KPA, Air, speed_of_sound_m_s
from rig.statistics.uncertainty import Component

# Bursts outrun sound at zero frequency by up to 0.06 %, as oxygen and nitrogen cannot follow (Morfey and Howell,
# AIAA J. 18 (1980) 1525, with the relaxation of ISO 9613-1); of two airs from -25 to 60 °C it may differ by this much.
_DISPERSION_HALF_WIDTH = 460e-6

_ASSUMED_HUMIDITY_PERCENT = 50.0


@dataclass(frozen=True, slots=True)
class Compensation:
    """How a unit meets a change of air.

    `residual_percent_per_k` None: it stores an echo time, so its set point follows the speed of sound whole.
    A number: it corrects for temperature and may still drift by up to that share of the distance per kelvin.
    Raises ValueError for a residual that is negative or not below 1.
    """

    residual_percent_per_k: float | None = None

    def __post_init__(self) -> None:
        residual = self.residual_percent_per_k
        if residual is not None and not 0 <= residual < 1:
            raise ValueError(f"residual is {residual:g} % per K; allowed: 0 to less than 1")


UNCOMPENSATED = Compensation()


@dataclass(frozen=True, slots=True)
class AirDoubt:
    """How far the true air may lie from the one stated: half-widths of rectangles."""

    temperature_k: float
    humidity_percent: float
    pressure_kpa: float = 3.0


@dataclass(frozen=True, slots=True)
class AirRange:
    """The airs that a machine may stand in over a year."""

    coldest_c: float
    warmest_c: float
    driest_percent: float = 0.0
    dampest_percent: float = 100.0
    pressure_kpa: float = STANDARD_PRESSURE_KPA
    co2_ppm: float = DEFAULT_CO2_PPM

    def __post_init__(self) -> None:
        if self.coldest_c > self.warmest_c or self.driest_percent > self.dampest_percent:
            raise ValueError("the air range falls; allowed: coldest to warmest, driest to dampest")
        self.corners()

    def corners(self) -> tuple[Air, ...]:
        """The four extremes; sound is slowest in one of them and fastest in another."""
        airs = product((self.coldest_c, self.warmest_c), (self.driest_percent, self.dampest_percent))
        return tuple(Air(celsius, humidity, self.pressure_kpa, self.co2_ppm) for celsius, humidity in airs)


@dataclass(frozen=True, slots=True)
class DriftBand:
    """Between which distances a set point may lie at the machine, in mm from the sensing face."""

    nearest_mm: float
    farthest_mm: float


@dataclass(frozen=True, slots=True)
class AirTransfer:
    """A unit taught in one air that has to work in another."""

    machine: Air
    bench: Air
    compensation: Compensation = UNCOMPENSATED

    @property
    def scale(self) -> float:
        """Bench distance over machine distance."""
        if self.compensation.residual_percent_per_k is not None:
            return 1.0
        return _speed(self.bench) / _speed(self.machine)

    def bench_position_mm(self, machine_mm: float) -> float:
        """Where the target stands on the bench for a set point at the machine."""
        return machine_mm * self.scale

    def machine_distance_mm(self, bench_mm: float) -> float:
        """Where a unit taught at a bench position switches at the machine; inverse of `bench_position_mm`."""
        return bench_mm / self.scale

    def drift_band_mm(self, machine_mm: float, airs: AirRange) -> DriftBand:
        """Where a set point, right in the machine's stated air, wanders over a range of airs."""
        residual = self.compensation.residual_percent_per_k
        if residual is None:
            reference = _speed(self.machine)
            places = [machine_mm * _speed(air) / reference for air in airs.corners()]
        else:
            doubts = [self._residual_mm(machine_mm, residual, air, 0.0) for air in airs.corners()]
            places = [machine_mm + sign * doubt for doubt in doubts for sign in (-1, 1)]
        return DriftBand(min(places), max(places))

    def components(
        self, machine_mm: float, machine_doubt: AirDoubt, bench_doubt: AirDoubt
    ) -> tuple[Component, ...]:
        """What the air adds to the uncertainty of a set point at the machine, in mm, as rows of a budget."""
        residual = self.compensation.residual_percent_per_k
        if residual is not None:
            doubt_k = machine_doubt.temperature_k + bench_doubt.temperature_k
            doubt_mm = self._residual_mm(machine_mm, residual, self.machine, doubt_k)
            return (Component.from_half_width("rest of the unit's own air correction", doubt_mm),)
        return (
            Component.from_half_width(
                "sound of bursts above that of the law", _DISPERSION_HALF_WIDTH * machine_mm
            ),
            *_air_components("machine", self.machine, machine_doubt, machine_mm),
            *_air_components("bench", self.bench, bench_doubt, machine_mm),
        )

    def _residual_mm(self, machine_mm: float, percent_per_k: float, air: Air, doubt_k: float) -> float:
        # The unit feels temperature only; what a change of humidity does to sound is left whole.
        drift = percent_per_k / 100 * (abs(air.temperature_c - self.bench.temperature_c) + doubt_k)
        return machine_mm * (drift + abs(_humidity_factor(self.bench) / _humidity_factor(air) - 1))


def _speed(air: Air) -> float:
    return speed_of_sound_m_s(air).value_m_s


def _humidity_factor(air: Air) -> float:
    return _speed(air) / _speed(replace(air, humidity_percent=_ASSUMED_HUMIDITY_PERCENT))


def _air_components(place: str, air: Air, doubt: AirDoubt, distance_mm: float) -> tuple[Component, ...]:
    speed = speed_of_sound_m_s(air)
    per_speed = distance_mm / speed.value_m_s
    readings = (
        ("temperature", "temperature_c", doubt.temperature_k),
        ("humidity", "humidity_percent", doubt.humidity_percent),
        ("pressure", "pressure_kpa", doubt.pressure_kpa),
    )
    return (
        Component(f"law of the speed of sound, {place}", speed.standard_uncertainty_m_s, per_speed),
        *(
            Component.from_half_width(
                f"{name}, {place}", half_width, sensitivity=per_speed * _slope(air, field, half_width)
            )
            for name, field, half_width in readings
        ),
    )


def _slope(air: Air, field: str, half_width: float) -> float:
    # Taken over the doubt itself, so that a wide one is not judged by the curve at its middle.
    lowest, highest, _ = LIMITS[field]
    value, step = float(getattr(air, field)), max(half_width, 1e-3 * (highest - lowest))
    low, high = max(lowest, value - step), min(highest, value + step)
    return (_speed(replace(air, **{field: high})) - _speed(replace(air, **{field: low}))) / (high - low)
