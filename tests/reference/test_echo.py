"""Echoes against exact series for rigid bodies and the Kirchhoff integral over a plate."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from rig.planning.air import Air
from rig.planning.beam import Beam
from rig.planning.echo import (
    Cylinder,
    EchoDoubt,
    EchoSensor,
    Plate,
    Sphere,
    Target,
    echo_margin,
    largest_tilt_deg,
    target_strength_db,
)

COLD_STORE = Air(2, 85)
STANDARD_TARGET = Plate(20, 20)
"""Of a range from 300 to 800 mm (IEC 60947-5-2, from memory)."""
SENSOR = EchoSensor(frequency_hz=200e3, piston_mm=16, range_mm=800, range_target=STANDARD_TARGET)

targets: st.SearchStrategy[Target] = st.one_of(
    st.builds(Plate, st.floats(5, 500), st.floats(5, 500)),
    st.builds(Sphere, st.floats(5, 500)),
    st.builds(Cylinder, st.floats(5, 500), st.floats(5, 500)),
)


@pytest.mark.parametrize(
    ("target", "far_db"),
    # Urick, Principles of Underwater Sound, table 9.1 (from memory), at a wavelength of 2 mm and far away.
    [
        (Sphere(100), 20 * math.log10(0.05 / 2)),
        (Plate(20, 30), 20 * math.log10(0.02 * 0.03 / 0.002)),
        (Cylinder(60, 25), 10 * math.log10(0.03 * 0.025**2 / (2 * 0.002))),
    ],
)
def test_far_targets_have_their_textbook_strength(target: Target, far_db: float) -> None:
    assert target_strength_db(target, 1e6, 2) == pytest.approx(far_db, abs=1e-3)


def test_a_wall_is_a_mirror() -> None:
    # The image of the source stands as far behind the wall: echo 1/(2 r), that is a strength of r/2.
    assert target_strength_db(Plate(1e4, 1e4), 500, 2) == pytest.approx(20 * math.log10(0.25))
    assert target_strength_db(Sphere(1e9), 500, 2) == pytest.approx(20 * math.log10(0.25), abs=1e-4)


def sphere_series(ka: float) -> complex:
    """Far-field form function of a rigid sphere in backscatter (exact series; 1 at high frequency)."""
    orders = np.arange(int(ka + 4 * ka ** (1 / 3) + 12))
    rise = special.spherical_jn(orders, ka, True)
    outgoing = rise + 1j * special.spherical_yn(orders, ka, True)
    return complex(2 / ka * np.sum((-1.0) ** orders * (2 * orders + 1) * rise / outgoing))


def cylinder_series(ka: float) -> complex:
    """The same of a rigid cylinder."""
    orders = np.arange(int(ka + 4 * ka ** (1 / 3) + 12))
    weights = np.where(orders == 0, 1, 2) * (-1.0) ** orders
    ratio = special.jvp(orders, ka) / special.h1vp(orders, ka)
    return complex(2 / np.sqrt(np.pi * ka) * np.sum(weights * ratio))


@pytest.mark.parametrize(
    ("series", "lowest_db", "highest_db"), [(sphere_series, -2.5, 0.6), (cylinder_series, -0.8, 0.4)]
)
def test_round_targets_hold_from_where_no_doubt_is_raised(
    series: Callable[[float], complex], lowest_db: float, highest_db: float
) -> None:
    true_db = [20 * math.log10(abs(series(ka))) for ka in np.arange(3, 60, 0.05)]
    assert lowest_db < min(true_db)
    assert max(true_db) < highest_db


def test_below_it_a_small_sphere_scatters_as_rayleigh_has_it() -> None:
    # (5/6) k^2 a^3 against a/2: far weaker than the formula, so the doubt is not idle.
    assert abs(sphere_series(0.1)) == pytest.approx(5 / 3 * 0.1**2, rel=0.02)


def kirchhoff_plate_db(side_mm: float, distance_mm: float, beam: Beam) -> float:
    """Target strength of a square plate in the beam of a piston, there and back (Kirchhoff integral)."""
    points = int(min(801, max(101, 30 * side_mm**2 / beam.wavelength_mm / distance_mm)))
    along = np.linspace(0, side_mm / 2, points)
    aside = np.hypot(*np.meshgrid(along, along))
    path = np.hypot(aside, distance_mm)
    x = np.maximum(beam.ka * aside / path, 1e-9)
    phase = np.exp(4j * np.pi / beam.wavelength_mm * (path - distance_mm))
    pressure = (2 * special.j1(x) / x) ** 2 * phase * (distance_mm / path) ** 3
    area_mm2 = 4 * abs(np.trapezoid(np.trapezoid(pressure, along), along))
    return 20 * math.log10(area_mm2 / beam.wavelength_mm / 1000)


@pytest.mark.parametrize(("khz", "piston_mm"), [(200, 16), (80, 30), (360, 8), (200, 8)])
def test_plate_within_its_stated_error(khz: float, piston_mm: float) -> None:
    sensor = EchoSensor(khz * 1000, piston_mm, 10_000, Plate(100, 100))
    beam = sensor.beam(Air(20))
    doubted = 0
    for side_mm, distance_mm in product((10, 20, 35, 50, 100, 200), (60, 180, 420, 800, 3000, 6000)):
        plate = Plate(side_mm, side_mm)
        true_db = kirchhoff_plate_db(side_mm, distance_mm, beam)
        error_db = target_strength_db(plate, distance_mm, beam.wavelength_mm) - true_db
        doubts = echo_margin(sensor, plate, distance_mm, Air(20)).doubts
        doubted += bool(doubts)
        assert abs(error_db) < (6 if doubts else 2.5) or distance_mm < beam.near_field_mm, (
            side_mm,
            distance_mm,
        )
    assert 0 < doubted < 20


def test_standard_target_at_the_end_of_the_range_is_zero() -> None:
    assert echo_margin(SENSOR, SENSOR.range_target, 800, SENSOR.range_air).db == pytest.approx(0, abs=1e-12)


def test_a_round_trip_through_thicker_air_costs_both_ways() -> None:
    # 200 kHz at 20 °C: 8.2282 dB/m at 50 %, 6.9554 dB/m at 20 % (ISO 9613-1), over 0.8 m there and back.
    damp = echo_margin(SENSOR, SENSOR.range_target, 800, Air(20, 50)).db
    dry = echo_margin(SENSOR, SENSOR.range_target, 800, Air(20, 20)).db
    assert dry - damp == pytest.approx(2 * 0.8 * (8.2282 - 6.9554), abs=0.01)


def test_off_the_axis_the_beam_counts_twice() -> None:
    on_axis = echo_margin(SENSOR, Plate(20, 20), 400, COLD_STORE).db
    half_angle_deg = SENSOR.beam(COLD_STORE).half_angle_deg(-3)
    off_axis = echo_margin(SENSOR, Plate(20, 20), 400, COLD_STORE, off_axis_deg=half_angle_deg).db
    assert on_axis - off_axis == pytest.approx(6, abs=1e-6)


@given(targets, st.floats(10, 5000), st.floats(0.1, 100))
def test_further_is_weaker(target: Target, distance_mm: float, step_mm: float) -> None:
    nearer = echo_margin(SENSOR, target, distance_mm, COLD_STORE).db
    assert echo_margin(SENSOR, target, distance_mm + step_mm, COLD_STORE).db < nearer


@given(st.floats(5, 300), st.floats(0.1, 100), st.floats(10, 2000))
def test_larger_is_no_weaker(size_mm: float, more_mm: float, distance_mm: float) -> None:
    for shape in (Sphere, lambda size: Plate(size, size), lambda size: Cylinder(size, size)):
        smaller, larger = (
            target_strength_db(shape(size), distance_mm, 1.7) for size in (size_mm, size_mm + more_mm)
        )
        assert larger >= smaller


@given(st.floats(5, 300), st.floats(10, 2000))
def test_a_ball_echoes_less_than_a_post_and_a_post_less_than_a_plate(
    size_mm: float, distance_mm: float
) -> None:
    plate, post, ball = (
        target_strength_db(target, distance_mm, 1.7)
        for target in (Plate(1e4, 1e4), Cylinder(size_mm, 1e4), Sphere(size_mm))
    )
    assert ball < post < plate


@pytest.mark.parametrize(
    ("target", "distance_mm", "air", "doubts"),
    [
        (Plate(100, 100), 420, COLD_STORE, ()),
        (Plate(100, 100), 70, COLD_STORE, (EchoDoubt.NEAR_FIELD,)),
        (Plate(50, 50), 420, COLD_STORE, (EchoDoubt.EDGES,)),
        (Cylinder(100, 50), 420, COLD_STORE, (EchoDoubt.EDGES,)),
        (Sphere(50), 420, COLD_STORE, ()),
        (Sphere(1.4), 420, COLD_STORE, (EchoDoubt.SMALL_TARGET,)),
        (Plate(100, 1), 420, COLD_STORE, (EchoDoubt.SMALL_TARGET,)),
        (Cylinder(1.4, 100), 420, COLD_STORE, (EchoDoubt.SMALL_TARGET,)),
        (Plate(100, 100), 420, Air(-25, 50), (EchoDoubt.AIR,)),
        (Plate(20, 20), 900, COLD_STORE, (EchoDoubt.BEYOND_RANGE,)),
    ],
)
def test_doubts(target: Target, distance_mm: float, air: Air, doubts: tuple[EchoDoubt, ...]) -> None:
    found = echo_margin(SENSOR, target, distance_mm, air)
    assert found.doubts == doubts
    assert found.valid is not bool(doubts)


def tilted_echo(tilt_deg: float, side_mm: float, distance_mm: float, beam: Beam) -> float:
    """Kirchhoff integral along the tilted side of a plate in the beam of a piston, there and back."""
    tilt, wave_number = math.radians(tilt_deg), 2 * math.pi / beam.wavelength_mm
    along = np.linspace(-side_mm / 2, side_mm / 2, 4001)
    away, aside = distance_mm + along * math.sin(tilt), along * math.cos(tilt)
    path = np.hypot(away, aside)
    x = np.maximum(beam.ka * np.abs(aside) / path, 1e-9)
    pressure = (2 * special.j1(x) / x) ** 2 * np.exp(2j * wave_number * path) * (distance_mm / path) ** 1.5
    return abs(np.trapezoid(pressure, along))


@pytest.mark.parametrize(
    ("khz", "piston_mm", "side_mm", "distance_mm"),
    [
        (200, 16, 20, 800),
        (200, 16, 20, 200),
        (200, 16, 100, 800),
        (200, 16, 100, 200),
        (200, 16, 50, 400),
        (200, 16, 10, 300),
        (200, 16, 10, 60),
        (80, 30, 100, 6000),
        (80, 30, 100, 1000),
        (80, 30, 100, 350),
        (80, 30, 50, 1000),
        (360, 8, 10, 300),
        (360, 8, 10, 100),
        (360, 8, 100, 300),
        (360, 8, 30, 150),
    ],
)
def test_largest_tilt(khz: float, piston_mm: float, side_mm: float, distance_mm: float) -> None:
    beam = Beam(piston_mm, 343.2 / khz)
    square = tilted_echo(0, side_mm, distance_mm, beam)
    true_deg = next(
        tilt for tilt in np.arange(0, 40, 0.02) if tilted_echo(tilt, side_mm, distance_mm, beam) < square / 2
    )
    assert 0.65 < largest_tilt_deg(beam, side_mm, distance_mm) / true_deg < 1.1


@pytest.mark.parametrize("distance_mm", [0, -1, math.nan, math.inf])
def test_no_distance_is_refused(distance_mm: float) -> None:
    with pytest.raises(ValueError, match=r"distance is .*; allowed: more than 0"):
        echo_margin(SENSOR, Plate(20, 20), distance_mm, COLD_STORE)


@pytest.mark.parametrize("shape", [lambda: Plate(0, 5), lambda: Sphere(math.nan), lambda: Cylinder(5, -1)])
def test_no_size_is_refused(shape: Callable[[], Target]) -> None:
    with pytest.raises(ValueError, match="allowed: more than 0"):
        shape()


def test_a_sensor_without_sound_is_refused() -> None:
    with pytest.raises(ValueError, match="frequency_hz is 0; allowed: more than 0"):
        EchoSensor(0, 16, 800, STANDARD_TARGET)
