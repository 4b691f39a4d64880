"""Spacing of units that could hear one another."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.planning.air import Air
from rig.planning.echo import EchoSensor, Plate
from rig.planning.neighbours import spacing_beside_mm, spacing_over_wall_mm

AIR = Air(2, 85)
SENSOR = EchoSensor(frequency_hz=200e3, piston_mm=16, range_mm=800, range_target=Plate(20, 20))


def heard_over_wall_db(spacing_mm: float, wall_mm: float) -> float:
    """Level of the neighbour's burst by the mirror image of the neighbour behind the wall."""
    angle_deg = math.degrees(math.atan(spacing_mm / (2 * wall_mm)))
    path_mm = math.hypot(2 * wall_mm, spacing_mm)
    return 2 * SENSOR.beam(AIR).level_db(angle_deg) - SENSOR.one_way_loss_db(path_mm, AIR)


@given(st.floats(100, 800))
def test_over_a_wall_the_burst_is_too_weak_from_the_spacing_on(wall_mm: float) -> None:
    spacing_mm = spacing_over_wall_mm(SENSOR, wall_mm, AIR)
    assert heard_over_wall_db(spacing_mm, wall_mm) == pytest.approx(SENSOR.weakest_echo_db(), abs=1e-6)
    for wider_mm in (1.001 * spacing_mm, 1.3 * spacing_mm, 3 * spacing_mm):
        assert heard_over_wall_db(wider_mm, wall_mm) < SENSOR.weakest_echo_db()


def test_beside_the_burst_leaves_and_arrives_at_a_right_angle() -> None:
    spacing_mm = spacing_beside_mm(SENSOR, AIR)
    heard_db = 2 * SENSOR.beam(AIR).level_db(90) - SENSOR.one_way_loss_db(spacing_mm, AIR)
    assert heard_db == pytest.approx(SENSOR.weakest_echo_db())


def test_a_wall_far_behind_the_range_brings_nothing_back() -> None:
    assert spacing_over_wall_mm(SENSOR, 5000, AIR) == 0


def test_a_wider_beam_needs_more_room() -> None:
    wide = EchoSensor(frequency_hz=200e3, piston_mm=6, range_mm=800, range_target=Plate(20, 20))
    assert spacing_over_wall_mm(wide, 500, AIR) > spacing_over_wall_mm(SENSOR, 500, AIR)
    assert spacing_beside_mm(wide, AIR) > spacing_beside_mm(SENSOR, AIR)
