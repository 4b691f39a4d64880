"""Directivity of a piston against tabulated values and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from rig.planning.beam import Beam, bessel_j1, directivity_bound, piston_directivity

SPEED_M_S = 343.2


def beam(khz: float, piston_mm: float) -> Beam:
    return Beam(piston_mm, SPEED_M_S / khz)


def test_bessel_j1_as_scipy_computes_it() -> None:
    for x in np.linspace(-250, 250, 2001):
        assert bessel_j1(float(x)) == pytest.approx(special.j1(x), abs=5e-15)


def test_directivity_near_the_axis_keeps_its_digits() -> None:
    for x in np.geomspace(1e-9, 10, 200):
        assert piston_directivity(float(x)) == pytest.approx(2 * special.j1(x) / x, rel=1e-11, abs=1e-13)


@pytest.mark.parametrize(
    ("x", "level_db"),
    # Half power "x = 1.6" and nulls 3.83 and 7.02 in any acoustics text; more digits by scipy root finding.
    [
        (1.616340, -3.0103),
        (1.613741, -3.0),
        (2.215089, -6.0206),
        (2.211785, -6.0),
        (2.731379, -10.0),
        (3.419739, -20.0),
        (5.13562, -17.570),
        (8.41724, -23.811),
    ],
)
def test_published_levels(x: float, level_db: float) -> None:
    assert 20 * math.log10(abs(piston_directivity(x))) == pytest.approx(level_db, abs=6e-4)


@pytest.mark.parametrize("x", [3.831706, 7.015587, 10.173468])
def test_published_nulls(x: float) -> None:
    assert piston_directivity(x) == pytest.approx(0, abs=1e-7)


@pytest.mark.parametrize(
    ("khz", "piston_mm", "ka", "half_3db_deg", "half_6db_deg"),
    [(40, 16, 5.8584, 16.016, 22.216), (200, 10, 18.3076, 5.065, 6.949), (200, 16, 29.2922, 3.163, 4.337)],
)
def test_published_half_angles(
    khz: float, piston_mm: float, ka: float, half_3db_deg: float, half_6db_deg: float
) -> None:
    found = beam(khz, piston_mm)
    assert found.ka == pytest.approx(ka, abs=5e-5)
    assert found.half_angle_deg(-3.0103) == pytest.approx(half_3db_deg, abs=6e-4)
    assert found.half_angle_deg(-6.0206) == pytest.approx(half_6db_deg, abs=6e-4)


@pytest.mark.parametrize(("khz", "length_mm"), [(40, 7.46), (200, 37.30)])
def test_published_near_field(khz: float, length_mm: float) -> None:
    assert beam(khz, 16).near_field_mm == pytest.approx(length_mm, abs=0.005)


def test_a_small_piston_has_no_edge() -> None:
    wide = beam(40, 10)
    assert wide.ka == pytest.approx(3.6615, abs=5e-5)  # below 3.83: no null anywhere
    assert wide.half_angle_deg(-40) == 90
    assert wide.radius_mm(300, -40) == math.inf


def test_bound_lies_on_the_main_lobe_and_above_every_side_lobe() -> None:
    x = np.linspace(1e-3, 300, 60_000)
    lobes = np.abs(2 * special.j1(x) / x)
    bound = np.array([directivity_bound(float(one)) for one in x])
    assert np.all(bound >= lobes - 1e-8)
    assert np.all(np.diff(bound) <= 0)
    assert bound[x < 3.2] == pytest.approx(lobes[x < 3.2], abs=1e-12)
    peaks = lobes[1:-1][(lobes[1:-1] > lobes[:-2]) & (lobes[1:-1] > lobes[2:])]
    at_peaks = bound[1:-1][(lobes[1:-1] > lobes[:-2]) & (lobes[1:-1] > lobes[2:])]
    assert np.all(at_peaks < 1.02 * peaks)


beams = st.builds(beam, st.floats(30, 500), st.floats(4, 60))


@given(beams, st.floats(-60, -0.5))
def test_beyond_the_half_angle_it_stays_quieter(one: Beam, level_db: float) -> None:
    angle_deg = one.half_angle_deg(level_db)
    if angle_deg < 90:
        assert one.level_db(angle_deg + 1e-4) <= level_db + 1e-6
    assert one.level_db(angle_deg - 1e-4) >= level_db - 1e-3


@given(st.floats(1, 60), st.floats(0.5, 10))
def test_piston_from_a_stated_beam_angle_round_trips(half_angle_deg: float, wavelength_mm: float) -> None:
    assert Beam.from_half_angle(half_angle_deg, wavelength_mm).half_angle_deg() == pytest.approx(
        half_angle_deg
    )


@given(beams, st.floats(10, 5000))
def test_footprint_grows_with_distance(one: Beam, distance_mm: float) -> None:
    radius_mm = one.radius_mm(distance_mm)
    assert one.radius_mm(2 * distance_mm) == pytest.approx(2 * radius_mm)
    assert one.radius_mm(distance_mm, -20) >= radius_mm


@pytest.mark.parametrize("sizes", [(0, 1.7), (16, 0), (math.nan, 1.7), (16, math.inf)])
def test_sizes_that_are_none_are_refused(sizes: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="allowed: more than 0"):
        Beam(*sizes)


def test_a_level_above_the_axis_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed: below 0"):
        beam(200, 16).half_angle_deg(0)


@pytest.mark.parametrize("angle_deg", [0, 90, -5])
def test_a_half_angle_that_is_none_is_refused(angle_deg: float) -> None:
    with pytest.raises(ValueError, match="allowed: between 0 and 90"):
        Beam.from_half_angle(angle_deg, 1.7)
