"""From the machine's air to the bench: positions, drift, and how far either may be trusted."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from hal.simulated.air import speed_of_sound_m_s
from rig.planning.conditions import Conditions, conditions_of
from sequences.need import AirNeed
from tests.looking import examples
from tests.rig.planning.cases import STAGE, TYPES, needing, shipped
from wiring.profile import AirProfile

PLAIN, RAIL = TYPES["barrel-18-plain"].sensing, TYPES["barrel-18-rail"].sensing
MANY = settings(max_examples=examples(60))
PLACES_C = st.floats(-20, 50)


def conditions(sensing: object, coldest_c: float, warmest_c: float, **more: float) -> Conditions:
    need = AirNeed(
        coldest_c=coldest_c, warmest_c=warmest_c, **{"driest_percent": 50, "dampest_percent": 50, **more}
    )
    return conditions_of(need, sensing, AirProfile())  # type: ignore[arg-type]


def test_cold_store_by_an_independent_law() -> None:
    """The simulated bench knows ideal gases only; within 0.1 % it finds the same place."""
    point = shipped("cold-store-need").plan.grounds.points[0]
    bench, machine = speed_of_sound_m_s(23, 50, 101.325), speed_of_sound_m_s(2, 87.5, 98.83)
    assert point.machine_mm == 462.0
    assert point.bench_mm == pytest.approx(462.0 * bench / machine, rel=1e-3)
    for celsius, humidity, drift_mm in ((-2, 80, point.drift_nearest_mm), (6, 95, point.drift_farthest_mm)):
        there = speed_of_sound_m_s(celsius, humidity, 98.83)
        assert drift_mm == pytest.approx(462.0 * there / machine, abs=0.4)


def test_hot_hall_moves_the_target_in_on_the_bench() -> None:
    point = shipped("filling-hall-need").plan.grounds.points[0]
    assert point.bench_mm < point.machine_mm - 7
    # 7.5 K either way at 0.17 % per kelvin, and the damp on top.
    assert point.machine_mm - point.drift_nearest_mm > 302 * 0.0017 * 7.5 * 0.9
    assert point.drift_farthest_mm - point.machine_mm > 302 * 0.0017 * 7.5 * 0.9


def test_a_compensated_type_stays_put_and_drifts_by_its_residual() -> None:
    plan = shipped("cold-store-need").changed({"type_name": "barrel-18-rail"}).plan
    point, air = plan.grounds.points[0], plan.grounds.air
    assert air is not None
    assert (air.scale, air.compensated, point.bench_mm) == (1.0, True, point.machine_mm)
    # 25 K below the bench at 0.02 % per kelvin; what humidity does to sound it cannot feel.
    residual_mm = point.machine_mm * 0.0002 * 25
    assert residual_mm <= point.machine_mm - point.drift_nearest_mm < residual_mm + 0.001 * point.machine_mm


@MANY
@given(PLACES_C, st.floats(0, 20), st.floats(10.0, 6000.0))
def test_bench_position_and_inverse_come_round_to_a_micrometre(
    coldest_c: float, span_k: float, machine_mm: float
) -> None:
    for sensing in (PLAIN, RAIL):
        transfer = conditions(sensing, coldest_c, coldest_c + span_k).transfer
        there_and_back = transfer.machine_distance_mm(transfer.bench_position_mm(machine_mm))
        assert there_and_back == pytest.approx(machine_mm, abs=1e-3)


@MANY
@given(PLACES_C, st.floats(0.5, 15))
def test_a_warmer_machine_brings_the_bench_position_of_an_uncompensated_type_nearer(
    celsius: float, warmer_k: float
) -> None:
    cool, warm = (conditions(PLAIN, at_c, at_c) for at_c in (celsius, celsius + warmer_k))
    assert warm.scale < cool.scale
    assert conditions(RAIL, celsius, celsius).scale == 1.0


@MANY
@given(PLACES_C, st.floats(0.0, 15), st.floats(0.1, 10))
def test_a_wider_span_never_drifts_less(coldest_c: float, span_k: float, more_k: float) -> None:
    # Beyond these no air is modelled at all (rig.planning.air.LIMITS).
    assume(coldest_c - more_k >= -40 and coldest_c + span_k + more_k <= 70)
    for sensing in (PLAIN, RAIL):
        narrow = conditions(sensing, coldest_c, coldest_c + span_k)
        wide = conditions(sensing, coldest_c - more_k, coldest_c + span_k + more_k)
        assert wide.drift_inward + wide.drift_outward >= narrow.drift_inward + narrow.drift_outward


def test_compensation_leaves_less_drift_than_none_over_an_ordinary_span() -> None:
    plain, rail = (conditions(sensing, 15, 31) for sensing in (PLAIN, RAIL))
    assert rail.drift_outward < 0.25 * plain.drift_outward


def test_without_a_stated_air_set_points_hold_on_the_bench() -> None:
    here = conditions_of(None, PLAIN, STAGE.air)
    assert (here.scale, here.drift_inward, here.drift_outward, here.band(400.0)) == (1.0, 0.0, 0.0, None)
    assert here.airs() == (here.bench,)
    setting = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0, "tolerance_mm": 8.0}
    warnings = needing("barrel-18-plain", need=None, setting=setting).plan.warnings
    assert any("not temperature-compensated" in one and "23 °C, as on the bench" in one for one in warnings)
    assert needing("barrel-18-rail", need=None, setting=setting).plan.warnings == ()


def test_altitude_stands_for_its_pressure() -> None:
    high = conditions(PLAIN, 10, 20, altitude_m=2000.0)
    stated = conditions(PLAIN, 10, 20, pressure_kpa=high.machine.pressure_kpa)
    assert high.machine.pressure_kpa == pytest.approx(79.50, abs=0.01)  # ISO 2533 standard atmosphere at 2 km
    assert high.scale == stated.scale


def test_air_outside_the_published_law_is_marked() -> None:
    mark = "law of the speed of sound is extended"
    assert any(mark in one for one in shipped("filling-hall-need").plan.warnings)
    assert not any(mark in one for one in needing().plan.warnings)
