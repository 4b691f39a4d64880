"""Speed of sound and air pressure against published tables and an independent equation of state."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.planning.air import (
    LIMITS,
    Air,
    AirOutOfRange,
    SoundLaw,
    pressure_at_altitude_kpa,
    speed_of_sound_m_s,
)


def speed(air: Air) -> float:
    return speed_of_sound_m_s(air).value_m_s


def in_limits(field: str) -> st.SearchStrategy[float]:
    low, high, _ = LIMITS[field]
    return st.floats(low, high)


airs = st.builds(Air, *(in_limits(field) for field in LIMITS))

# Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, eq. 15 at 101.325 kPa: independent transcriptions agree to the last digit.
# Columns: temperature in °C, humidity in %, m/s with the paper's 314 ppm of CO2, with 400 ppm.
CRAMER = [
    (0, 0, 331.4550, 331.4477),
    (0, 50, 331.6109, 331.6035),
    (10, 0, 337.4669, 337.4593),
    (10, 50, 337.7886, 337.7811),
    (20, 0, 343.3672, 343.3595),
    (20, 50, 343.9944, 343.9867),
    (25, 0, 346.2755, 346.2677),
    (30, 0, 349.1560, 349.1481),
    (30, 50, 350.3175, 350.3097),
]


@pytest.mark.parametrize(("celsius", "percent", "paper_m_s", "today_m_s"), CRAMER)
def test_cramers_equation(celsius: float, percent: float, paper_m_s: float, today_m_s: float) -> None:
    assert speed(Air(celsius, percent, co2_ppm=314)) == pytest.approx(paper_m_s, abs=6e-5)
    assert speed(Air(celsius, percent, co2_ppm=400)) == pytest.approx(today_m_s, abs=6e-5)


@pytest.mark.parametrize(
    ("celsius", "wet_m_s"), [(0, 331.7667), (10, 338.1101), (20, 344.6208), (30, 351.4766)]
)
def test_saturated_air(celsius: float, wet_m_s: float) -> None:
    assert speed(Air(celsius, 100, co2_ppm=314)) == pytest.approx(wet_m_s, abs=6e-5)


def test_pressure_counts_for_little() -> None:
    # Cramer at 20 °C, dry: 75 and 102 kPa.
    assert speed(Air(20, 0, 75, 314)) == pytest.approx(343.3564, abs=6e-5)
    assert speed(Air(20, 0, 102, 314)) == pytest.approx(343.3675, abs=6e-5)


@pytest.mark.parametrize(
    ("celsius", "percent", "published_m_s", "within_m_s"),
    [
        (0, 0, 331.45, 0.05),  # handbook value for dry air at 0 °C, from memory
        (20, 0, 343.2, 0.2),  # ISO 9613-1 reference speed
        (20, 0, 343.33, 0.1),  # read off Cramer's figure 1, as the next two
        (20, 98.7, 344.68, 0.1),
        (30, 98.9, 351.51, 0.1),
        (10, 0, 337.4, 0.1),  # textbook table for dry air, as the next two
        (25, 0, 346.3, 0.1),
        (40, 0, 354.7, 0.2),
    ],
)
def test_published_anchors(celsius: float, percent: float, published_m_s: float, within_m_s: float) -> None:
    assert speed(Air(celsius, percent)) == pytest.approx(published_m_s, abs=within_m_s)


def test_water_content_of_the_air() -> None:
    # Mole fraction by Cramer's appendix at 20 °C, 50 %, sea level.
    assert Air(20, 50).water_fraction == pytest.approx(0.0115864, abs=1e-7)


def test_one_kelvin_is_a_sixth_of_a_percent() -> None:
    # Slope of Cramer's equation in dry air at 20 °C: 0.5845 m/s per kelvin, 0.1702 %.
    slope = (speed(Air(20.5, 0)) - speed(Air(19.5, 0))) / speed(Air(20, 0))
    assert 100 * slope == pytest.approx(0.1702, abs=1e-4)


@given(airs, st.floats(0.01, 20))
def test_warmer_is_faster(air: Air, kelvin: float) -> None:
    # The square-root law rises by 0.53 m/s per kelvin at 70 °C, where it is flattest.
    warmer = replace(air, temperature_c=min(air.temperature_c + kelvin, 70.0))
    assert speed(warmer) - speed(air) >= 0.5 * (warmer.temperature_c - air.temperature_c) - 1e-9


@given(airs, st.floats(0.1, 50))
def test_damper_is_faster(air: Air, percent: float) -> None:
    damper = replace(air, humidity_percent=min(air.humidity_percent + percent, 100.0))
    assert speed(damper) >= speed(air)


@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        (Air(0, 80), Air(-1e-9, 80)),
        (Air(30, 80), Air(30 + 1e-9, 80)),
        (Air(10, 80, 75), Air(10, 80, 75 - 1e-9)),
        (Air(10, 80, 102), Air(10, 80, 102 + 1e-9)),
    ],
)
def test_no_step_where_the_law_changes(inside: Air, outside: Air) -> None:
    before, after = speed_of_sound_m_s(inside), speed_of_sound_m_s(outside)
    assert (before.law, after.law) == (SoundLaw.CRAMER, SoundLaw.TIED_IDEAL)
    assert (before.valid, after.valid) == (True, False)
    assert after.value_m_s == pytest.approx(before.value_m_s, abs=1e-6)
    assert after.standard_uncertainty_m_s > before.standard_uncertainty_m_s


def test_published_uncertainty_is_taken_as_a_bound() -> None:
    found = speed_of_sound_m_s(Air(20))
    assert found.standard_uncertainty_m_s == pytest.approx(300e-6 * found.value_m_s / math.sqrt(3))


@pytest.mark.parametrize(
    ("field", "value"), [(f, v) for f, (a, b, _) in LIMITS.items() for v in (a - 1e-6, b + 1e-6)]
)
def test_air_that_no_law_covers_is_refused(field: str, value: float) -> None:
    with pytest.raises(AirOutOfRange, match=f"{field} is .*; allowed: "):
        replace(Air(20), **{field: value})


@pytest.mark.parametrize("field", list(LIMITS))
def test_no_number_is_refused(field: str) -> None:
    with pytest.raises(AirOutOfRange, match="nan"):
        replace(Air(20), **{field: math.nan})


def test_cramer_as_pyfar_computes_it(pyfar_constants: ModuleType) -> None:
    for celsius, percent, kpa, ppm in product(
        (0, 7.3, 18, 29.9), (0, 33, 90), (75, 91.2, 102), (314, 425.19, 9000)
    ):
        theirs = pyfar_constants.speed_of_sound_cramer(
            celsius, percent / 100, co2_ppm=ppm, atmospheric_pressure=kpa * 1000
        )
        assert speed(Air(celsius, percent, kpa, ppm)) == pytest.approx(float(theirs), abs=1e-9)


def test_cramer_near_the_equation_of_state_of_humid_air(humid_air_speed_m_s: Callable[[Air], float]) -> None:
    for celsius, percent in product(range(0, 31, 10), (0, 50, 100)):
        air = Air(celsius, percent)
        within_m_s = 0.04 if percent <= 50 else 0.05
        assert speed(air) == pytest.approx(humid_air_speed_m_s(air), abs=within_m_s), air


def test_stated_bounds_hold_from_deep_freeze_to_steam(humid_air_speed_m_s: Callable[[Air], float]) -> None:
    celsius, percent, kpa = range(-40, 71, 5), (0, 20, 50, 80, 100), (55, 60, 75, 90, 101.325, 110)
    for air in (Air(*one) for one in product(celsius, percent, kpa)):
        found = speed_of_sound_m_s(air)
        bound_m_s = math.sqrt(3) * found.standard_uncertainty_m_s
        assert abs(found.value_m_s - humid_air_speed_m_s(air)) < bound_m_s, air


def test_fall_back_in_a_cold_store(
    humid_air_speed_m_s: Callable[[Air], float],
) -> None:
    for celsius, percent in product(range(-30, 0, 3), (50, 80, 100)):
        air = Air(celsius, percent)
        assert speed(air) == pytest.approx(humid_air_speed_m_s(air), rel=350e-6)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_kpa"),
    # ISO 2533:1975 table of the standard atmosphere by geopotential altitude, from memory.
    [(0, 101.325), (1000, 89.8746), (2000, 79.4952), (5000, 54.0199)],
)
def test_standard_atmosphere(altitude_m: float, pressure_kpa: float) -> None:
    assert pressure_at_altitude_kpa(altitude_m) == pytest.approx(pressure_kpa, abs=1e-3)


def test_standard_atmosphere_carries_its_own_weight() -> None:
    # Hydrostatics, integrated step by step: dp = -p g / (R T) dh with R = 287.05287 J/(kg K), T falling 6.5 K/km.
    pressure_kpa, step_m = 101.325, 1.0
    for index in range(3000):
        middle_k = 288.15 - 0.0065 * (index + 0.5) * step_m
        pressure_kpa *= math.exp(-9.80665 * step_m / (287.05287 * middle_k))
    assert pressure_at_altitude_kpa(3000) == pytest.approx(pressure_kpa, rel=1e-8)


@pytest.mark.parametrize("altitude_m", [-501, 5001, math.nan])
def test_altitude_outside_the_table_is_refused(altitude_m: float) -> None:
    with pytest.raises(AirOutOfRange, match="allowed: -500 to 5000 m"):
        pressure_at_altitude_kpa(altitude_m)
