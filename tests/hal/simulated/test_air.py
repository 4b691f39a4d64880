"""The simulated air against published speeds of sound; it must not be the planner's formula in disguise."""

from __future__ import annotations

import asyncio

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hal.simulated.air import Air, speed_of_sound_m_s
from hal.simulated.clock import run
from hal.simulated.timeline import Timeline

# Cramer 1993, J. Acoust. Soc. Am. 93 (5) 2510-2516, Eq. 15, 101325 Pa, 314 ppm CO2: deg C, %, m/s
CRAMER = [
    (0.0, 0.0, 331.4550),
    (0.0, 50.0, 331.6109),
    (10.0, 0.0, 337.4669),
    (10.0, 50.0, 337.7886),
    (20.0, 0.0, 343.3672),
    (20.0, 50.0, 343.9944),
    (25.0, 0.0, 346.2755),
    (30.0, 0.0, 349.1560),
    (30.0, 50.0, 350.3175),
]


@pytest.mark.parametrize(("temperature_c", "humidity_percent", "published_m_s"), CRAMER)
def test_ideal_gas_comes_close_to_the_published_speed_but_is_another_law(
    temperature_c, humidity_percent, published_m_s
):
    speed = speed_of_sound_m_s(temperature_c, humidity_percent, 101.325)
    assert speed == pytest.approx(published_m_s, abs=0.2)
    assert abs(speed - published_m_s) > 0.01


@given(st.floats(-20, 59), st.floats(0, 99), st.floats(60, 110))
def test_sound_is_faster_in_warmer_and_in_moister_air(temperature_c, humidity_percent, pressure_kpa):
    here = speed_of_sound_m_s(temperature_c, humidity_percent, pressure_kpa)
    assert speed_of_sound_m_s(temperature_c + 1, humidity_percent, pressure_kpa) > here
    assert speed_of_sound_m_s(temperature_c, humidity_percent + 1, pressure_kpa) > here


def test_air_warms_up_steadily():
    async def main():
        timeline = Timeline(asyncio.get_running_loop())
        air = Air(timeline, temperature_c=18, humidity_percent=50, pressure_kpa=101.325, drift_c_per_hour=2.5)
        await asyncio.sleep(7200)
        return air.temperature_c, air.speed_m_s

    temperature_c, speed = run(main())
    assert temperature_c == pytest.approx(23.0)
    assert speed == pytest.approx(speed_of_sound_m_s(23.0, 50, 101.325))
