"""Air: its speed of sound, the time an echo takes through it, its pressure at an altitude."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

DEFAULT_CO2_PPM = 425.0
"""Carbon dioxide taken where nobody measured it: outdoor air of the mid 2020s (from memory).

100 ppm more slow sound by 0.0085 m/s, 0.01 mm in 420 mm.
"""

STANDARD_PRESSURE_KPA = 101.325
ZERO_C_K = 273.15

LIMITS: dict[str, tuple[float, float, str]] = {
    "temperature_c": (-40.0, 70.0, "°C"),
    "humidity_percent": (0.0, 100.0, "%"),
    "pressure_kpa": (50.0, 110.0, "kPa"),
    "co2_ppm": (0.0, 10_000.0, "ppm"),
}
"""What `Air` accepts. Cold stores, hot halls and mountain sites lie inside; beyond it nothing is claimed."""


class AirOutOfRange(ValueError):
    """A property of the air is no number, or lies where no law used here holds."""


@dataclass(frozen=True, slots=True)
class Air:
    """Still air between a sensing face and a target.

    Humidity is relative, over water (as probes and weather services state it, also below 0 °C).
    Raises AirOutOfRange for a value outside `LIMITS`.
    """

    temperature_c: float
    humidity_percent: float = 50.0
    pressure_kpa: float = STANDARD_PRESSURE_KPA
    co2_ppm: float = DEFAULT_CO2_PPM

    def __post_init__(self) -> None:
        for name, (low, high, unit) in LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise AirOutOfRange(f"{name} is {value:g} {unit}; allowed: {low:g} to {high:g} {unit}")

    @property
    def temperature_k(self) -> float:
        """Temperature in kelvin."""
        return self.temperature_c + ZERO_C_K

    @property
    def water_fraction(self) -> float:
        """Mole fraction of water vapour (Cramer 1993, appendix: enhancement factor and saturation pressure)."""
        pressure_pa, kelvin = self.pressure_kpa * 1000, self.temperature_k
        enhancement = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * self.temperature_c**2
        saturation_pa = math.exp(
            1.2811805e-5 * kelvin**2 - 1.9509874e-2 * kelvin + 34.04926034 - 6.3536311e3 / kelvin
        )
        return self.humidity_percent / 100 * enhancement * saturation_pa / pressure_pa


REFERENCE_AIR = Air(temperature_c=23.0)
"""Air in which sensing ranges are stated: IEC 60947-5-2 tests at 23 °C (from memory); 50 % and sea level are ours."""


class SoundLaw(StrEnum):
    """The law a speed of sound was computed by."""

    CRAMER = "Cramer 1993"
    TIED_IDEAL = "ideal humid air, tied to Cramer 1993 at the nearest air it covers"


@dataclass(frozen=True, slots=True)
class SoundSpeed:
    """Speed of sound at zero frequency, its standard uncertainty, and the law it comes from."""

    value_m_s: float
    standard_uncertainty_m_s: float
    law: SoundLaw

    @property
    def valid(self) -> bool:
        """Whether the air lies inside the published validity of Cramer's equation."""
        return self.law is SoundLaw.CRAMER


def speed_of_sound_m_s(air: Air) -> SoundSpeed:
    """Speed of sound in humid air.

    Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, eq. 15, where it is published to hold: 0 to 30 °C, 75 to 102 kPa,
    water up to 6 % and carbon dioxide up to 1 % by moles, within 300 ppm (taken as half-width of a rectangle).

    Elsewhere the ideal-gas law of humid air, scaled so that it meets Cramer's equation at the nearest air that
    the equation covers: no step at the border, and cold, heat and damp enter through heat capacity and molar mass.
    Its half-width adds 0.05 m/s and 9 m/s times the squared water fraction, which covers every difference from
    the reference equation of state for humid air in `LIMITS` (tests/reference).
    """
    water, carbon_dioxide = air.water_fraction, air.co2_ppm * 1e-6
    nearest = _Mixture(
        min(max(air.temperature_c, 0.0), 30.0),
        min(max(air.pressure_kpa, 75.0), 102.0) * 1000,
        min(water, 0.06),
        carbon_dioxide,
    )
    asked = _Mixture(air.temperature_c, air.pressure_kpa * 1000, water, carbon_dioxide)
    if asked == nearest:
        value = _cramer_m_s(asked)
        return SoundSpeed(value, 300e-6 * value / math.sqrt(3), SoundLaw.CRAMER)
    value = _cramer_m_s(nearest) * _ideal_m_s(asked) / _ideal_m_s(nearest)
    half_width = 300e-6 * value + 0.05 + 9 * water**2
    return SoundSpeed(value, half_width / math.sqrt(3), SoundLaw.TIED_IDEAL)


def pressure_at_altitude_kpa(altitude_m: float) -> float:
    """Air pressure of the ISO 2533 standard atmosphere at an altitude, -500 to 5000 m.

    Weather moves the true pressure by some 3 % about it, and the speed of sound by less than 0.001 %.
    Raises AirOutOfRange outside that span.
    """
    if not -500 <= altitude_m <= 5000:
        raise AirOutOfRange(f"altitude is {altitude_m:g} m; allowed: -500 to 5000 m")
    sea_level_k, lapse_k_m, exponent = 288.15, 0.0065, 9.80665 / (0.0065 * 287.05287)
    return float(STANDARD_PRESSURE_KPA * (1 - lapse_k_m * altitude_m / sea_level_k) ** exponent)


@dataclass(frozen=True, slots=True)
class _Mixture:
    temperature_c: float
    pressure_pa: float
    water: float
    carbon_dioxide: float


def _cramer_m_s(air: _Mixture) -> float:
    t, p, xw, xc = air.temperature_c, air.pressure_pa, air.water, air.carbon_dioxide
    return (
        (331.5024 + 0.603055 * t - 0.000528 * t**2)
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * xw
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * xc
        - 2.835149 * xw**2
        - 2.15e-13 * p**2
        + 29.179762 * xc**2
        + 0.000486 * xw * p * xc
    )


def _ideal_m_s(air: _Mixture) -> float:
    # Heat capacities over R: rigid rotation plus one Einstein term per vibration. Composition of dry air and
    # vibrational temperatures are textbook values (from memory); molar masses in kg/mol.
    kelvin, water, carbon_dioxide = air.temperature_c + ZERO_C_K, air.water, air.carbon_dioxide
    dry = 1 - water - carbon_dioxide
    nitrogen, oxygen, argon = 3.5 + _vibration(3393, kelvin), 3.5 + _vibration(2273, kelvin), 2.5
    heat_capacity = (
        dry * (0.7808 * nitrogen + 0.2095 * oxygen + 0.0097 * argon)
        + water * (4.0 + sum(_vibration(theta, kelvin) for theta in (2295, 5255, 5400)))
        + carbon_dioxide * (3.5 + sum(_vibration(theta, kelvin) for theta in (960, 960, 1995, 3380)))
    )
    molar_mass = dry * 28.9635e-3 + water * 18.0153e-3 + carbon_dioxide * 44.0095e-3
    return math.sqrt(heat_capacity / (heat_capacity - 1) * 8.314462618 * kelvin / molar_mass)


def _vibration(characteristic_k: float, kelvin: float) -> float:
    ratio = characteristic_k / kelvin
    return (ratio / 2 / math.sinh(ratio / 2)) ** 2
