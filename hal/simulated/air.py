"""The air of the simulated bench and the speed of sound in it.

Ideal gas, on purpose another law than the one the planning uses: a plan that was only right against its own
formula would show here.
"""

from __future__ import annotations

import math

from hal.simulated.clock import NS
from hal.simulated.timeline import Timeline

# CODATA 2018 gas constant; molar masses of dry air and water; molar heat capacities of a diatomic and of a
# bent triatomic ideal gas, 7/2 R and 4 R (textbook kinetic theory, from memory).
_GAS_J_MOL_K = 8.314462618
_DRY_KG_MOL = 0.0289647
_WATER_KG_MOL = 0.0180153
_DRY_HEAT = 3.5
_WATER_HEAT = 4.0


def speed_of_sound_m_s(temperature_c: float, humidity_percent: float, pressure_kpa: float) -> float:
    """Return c = sqrt(gamma R T / M) of humid air as a mixture of ideal gases, in m/s.

    The saturation pressure of water is the Magnus formula of the WMO guide to instruments (WMO-No. 8,
    annex 4.B, from memory).
    """
    saturation_pa = 611.2 * math.exp(17.62 * temperature_c / (243.12 + temperature_c))
    water = humidity_percent / 100 * saturation_pa / (pressure_kpa * 1000)
    heat = _DRY_HEAT + (_WATER_HEAT - _DRY_HEAT) * water
    mass_kg_mol = _DRY_KG_MOL + (_WATER_KG_MOL - _DRY_KG_MOL) * water
    kelvin = temperature_c + 273.15
    return math.sqrt(heat / (heat - 1) * _GAS_J_MOL_K * kelvin / mass_kg_mol)


TRIM_M_S = speed_of_sound_m_s(20.0, 50.0, 101.325)
"""The speed of sound that a unit without compensation believes in: its maker trimmed it in such air."""


class Air:
    """The air around the bench; it may warm up or cool down steadily."""

    def __init__(
        self,
        timeline: Timeline,
        *,
        temperature_c: float,
        humidity_percent: float,
        pressure_kpa: float,
        drift_c_per_hour: float = 0.0,
    ) -> None:
        self._timeline = timeline
        self._start_ns = timeline.now_ns
        self._start_c = temperature_c
        self.humidity_percent = humidity_percent
        self.pressure_kpa = pressure_kpa
        self._drift_c_per_hour = drift_c_per_hour
        self._known: tuple[float, float] = (math.nan, math.nan)

    @property
    def temperature_c(self) -> float:
        """The temperature now."""
        hours = (self._timeline.now_ns - self._start_ns) / NS / 3600
        return self._start_c + self._drift_c_per_hour * hours

    @property
    def speed_m_s(self) -> float:
        """The speed of sound now."""
        temperature_c = self.temperature_c
        if self._known[0] != temperature_c:
            speed = speed_of_sound_m_s(temperature_c, self.humidity_percent, self.pressure_kpa)
            self._known = (temperature_c, speed)
        return self._known[1]
