"""Independent libraries that the reference tests compare with; without one of them its comparisons are skipped."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest

from rig.planning.air import Air


def _library(name: str) -> Any:
    return pytest.importorskip(
        name, reason=f"comparison skipped: {name} has no wheel here", exc_type=ImportError
    )


@pytest.fixture(scope="session")
def pyfar_constants() -> ModuleType:
    return _library("pyfar").constants


@pytest.fixture(scope="session")
def humid_air_speed_m_s() -> Callable[[Air], float]:
    """Speed of sound by the reference equation of state for humid air (CoolProp; CO2-free)."""
    properties = _library("CoolProp.HumidAirProp").HAPropsSI

    def speed_m_s(air: Air) -> float:
        kelvin, pressure_pa = air.temperature_c + 273.15, air.pressure_kpa * 1000
        return properties("speed_of_sound", "T", kelvin, "P", pressure_pa, "R", air.humidity_percent / 100)

    return speed_m_s
