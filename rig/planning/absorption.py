"""How much of a sound the air itself swallows (ISO 9613-1)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rig.planning.air import STANDARD_PRESSURE_KPA, Air

_REFERENCE_K = 293.15
_TRIPLE_POINT_K = 273.16


@dataclass(frozen=True, slots=True)
class Absorption:
    """Loss of a plane wave on its way through air.

    `accuracy_percent` is what ISO 9613-1 claims for this frequency and air: 10, 20 or 50; None where it claims none.
    """

    db_per_m: float
    accuracy_percent: int | None


def absorption(frequency_hz: float, air: Air) -> Absorption:
    """Pure-tone absorption of still air, ISO 9613-1:1993 eq. (3) to (5), (B.1) to (B.3).

    Within 10 % for 0.05 to 5 % of water, -20 to 50 °C and 0.4 mHz/Pa to 10 Hz/Pa (1 MHz at sea level).
    Raises ValueError unless the frequency is above 0.
    """
    if not 0 < frequency_hz < math.inf:
        raise ValueError(f"frequency is {frequency_hz:g} Hz; allowed: more than 0")
    water_percent = _water_percent(air)
    oxygen_hz, nitrogen_hz = relaxation_hz(air)
    kelvin, ratio = air.temperature_k, air.temperature_k / _REFERENCE_K
    classical = 1.84e-11 * STANDARD_PRESSURE_KPA / air.pressure_kpa * math.sqrt(ratio)
    oxygen = 0.01275 * math.exp(-2239.1 / kelvin) / (oxygen_hz + frequency_hz**2 / oxygen_hz)
    nitrogen = 0.1068 * math.exp(-3352 / kelvin) / (nitrogen_hz + frequency_hz**2 / nitrogen_hz)
    db_per_m = 8.686 * frequency_hz**2 * (classical + ratio**-2.5 * (oxygen + nitrogen))
    return Absorption(db_per_m, _accuracy_percent(frequency_hz, water_percent, air))


def _accuracy_percent(frequency_hz: float, water_percent: float, air: Air) -> int | None:
    if not 4e-4 <= frequency_hz / (air.pressure_kpa * 1000) <= 10:
        return None
    if not -20 <= air.temperature_c <= 50 or water_percent < 0.005:
        return 50
    return 10 if 0.05 <= water_percent <= 5 else 20


def relaxation_hz(air: Air) -> tuple[float, float]:
    """Relaxation frequencies of oxygen and nitrogen (ISO 9613-1:1993 eq. (3) and (4))."""
    pressure, ratio = air.pressure_kpa / STANDARD_PRESSURE_KPA, air.temperature_k / _REFERENCE_K
    water = _water_percent(air)
    oxygen = pressure * (24 + 4.04e4 * water * (0.02 + water) / (0.391 + water))
    nitrogen = pressure * ratio**-0.5 * (9 + 280 * water * math.exp(-4.170 * (math.pow(ratio, -1 / 3) - 1)))
    return oxygen, nitrogen


def _water_percent(air: Air) -> float:
    # B.1 divides by the pressure of the air: the same vapour weighs more in thin air.
    exponent = -6.8346 * math.pow(_TRIPLE_POINT_K / air.temperature_k, 1.261) + 4.6151
    return air.humidity_percent * STANDARD_PRESSURE_KPA * math.pow(10, exponent) / air.pressure_kpa
