"""What the unit hears of the object, and the room that its beam wants."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rig.planning.air import REFERENCE_AIR, Air
from rig.planning.beam import Beam
from rig.planning.beam_edge import sine_at, slope_at
from rig.planning.grounds import EchoGrounds
from rig.planning.hearing import hearing_of, sensor_of
from sequences.need import ObjectNeed
from tests.looking import examples
from tests.rig.planning.cases import TYPES, needing

FEW = settings(max_examples=examples(20))
PLATE = {"shape": "plate", "width_mm": 1200.0, "height_mm": 760.0}


def heard(name: str, **wanted: Any) -> float:
    """How far a type hears an object in the reference air."""
    hearing = hearing_of(TYPES[name], ObjectNeed.model_validate(wanted))
    return hearing.heard_up_to_mm(TYPES[name].sensing.range_mm, [REFERENCE_AIR])


def at_machine(**changes: Any) -> list[EchoGrounds]:
    return [echo for echo in needing(**changes).plan.grounds.echoes if echo.at_machine]


@pytest.mark.parametrize("name", sorted(TYPES))
def test_standard_target_is_heard_to_the_end_of_the_range_and_not_beyond(name: str) -> None:
    sensing = TYPES[name].sensing
    side_mm = sensing.standard_target_mm
    assert heard(name, shape="plate", width_mm=side_mm, height_mm=side_mm) == pytest.approx(sensing.range_mm)
    assert hearing_of(TYPES[name], None).margin(sensing.range_mm, REFERENCE_AIR).db == pytest.approx(0)


@pytest.mark.parametrize("name", sorted(TYPES))
def test_weak_echoes_are_heard_as_far_as_the_data_sheet_derates_and_no_farther(name: str) -> None:
    sensing, derating = TYPES[name].sensing, TYPES[name].derating
    assert heard(name, shape="bulk") == pytest.approx(sensing.range_mm * derating.rough_percent / 100)
    assert heard(name, shape="bar", diameter_mm=2000, length_mm=2000) <= (
        sensing.range_mm * derating.round_percent / 100 + 1e-6
    )
    side_mm = sensing.standard_target_mm
    soft = heard(name, shape="plate", width_mm=side_mm, height_mm=side_mm, surface="soft")
    assert soft == pytest.approx(sensing.range_mm * derating.soft_percent / 100)
    # Soft and loose at once is weaker than either.
    assert heard(name, shape="bulk", surface="soft") < min(soft, heard(name, shape="bulk"))


@FEW
@given(st.sampled_from(sorted(TYPES)), st.floats(5, 300), st.floats(1.0, 5.0))
def test_a_larger_object_is_never_heard_less_far(name: str, size_mm: float, factor: float) -> None:
    small = heard(name, shape="plate", width_mm=size_mm, height_mm=size_mm)
    large = heard(name, shape="plate", width_mm=size_mm * factor, height_mm=size_mm)
    assert large >= small - 1e-6
    thin = heard(name, shape="bar", diameter_mm=size_mm, length_mm=300)
    thick = heard(name, shape="bar", diameter_mm=size_mm * factor, length_mm=300)
    assert thick >= thin - 1e-6


def test_margin_falls_with_distance_and_is_told_at_each() -> None:
    near, far = at_machine()
    assert (near.at_mm, far.at_mm) == (180.0, 420.0)
    assert near.margin_db > far.margin_db > 10
    bench = [echo for echo in needing().plan.grounds.echoes if not echo.at_machine]
    assert [echo.at_mm for echo in bench] == sorted(echo.at_mm for echo in bench)
    assert bench[0].margin_db > bench[-1].margin_db > 0


def test_the_worst_air_of_the_span_counts() -> None:
    # At 200 kHz warm, damp air swallows most (ISO 9613-1).
    mild = at_machine(need__air__warmest_c=10.0)[-1].margin_db
    hot = at_machine(need__air__warmest_c=45.0)[-1].margin_db
    assert hot < mild - 2


def test_a_tilted_object_is_heard_less() -> None:
    square, tilted = (at_machine(need__object={**PLATE, "tilt_deg": tilt})[-1] for tilt in (0.0, 3.0))
    assert tilted.margin_db < square.margin_db - 3
    assert tilted.largest_tilt_deg == square.largest_tilt_deg == pytest.approx(3.5, abs=0.3)
    assert at_machine(need__object={"shape": "bulk"})[-1].largest_tilt_deg is None


def test_a_weak_echo_and_a_doubtful_one_are_marked() -> None:
    weak = needing(need__farthest_mm=700.0, need__background_mm=790.0, need__object__tilt_deg=None).plan
    assert any("dB to spare" in one for one in weak.warnings)
    bar = needing(
        need__object={"shape": "bar", "diameter_mm": 1.2, "length_mm": 900.0}, need__farthest_mm=200.0
    )
    assert any("not large against the wavelength" in one for one in bar.plan.warnings)


def test_near_field_is_marked_where_objects_come_into_it() -> None:
    # A face of 14 mm at 200 kHz: near field of 28 mm, doubtful to 57 mm.
    sensor = sensor_of(TYPES["barrel-18-rail"])
    assert sensor.beam(REFERENCE_AIR).near_field_mm == pytest.approx(28.3, abs=0.3)
    case = needing("barrel-12-count", need={"nearest_mm": 30.0, "farthest_mm": 60.0, "object": PLATE})
    assert any("near field" in one for one in case.plan.warnings)


def test_a_stated_beam_angle_counts_before_the_size_of_the_face() -> None:
    rail = TYPES["barrel-18-rail"]
    body = rail.body.model_copy(update={"beam_angle_deg": 12.0})
    beam = sensor_of(rail.model_copy(update={"body": body})).beam(REFERENCE_AIR)
    assert beam.half_angle_deg() == pytest.approx(6.0)
    assert sensor_of(rail).beam(REFERENCE_AIR).half_angle_deg() == pytest.approx(3.6, abs=0.1)


@FEW
@given(st.floats(2, 40), st.floats(0.8, 9), st.floats(-30, -0.2))
def test_edges_of_beams_are_those_of_each_beam_within_a_tenth_of_a_decibel(
    piston_mm: float, wavelength_mm: float, level_db: float
) -> None:
    beam = Beam(piston_mm, wavelength_mm)
    sine = sine_at(beam, level_db)
    if sine < 1:
        angle_deg = math.degrees(math.asin(sine))
        assert level_db - 0.11 <= beam.level_db(angle_deg) <= level_db + 1e-6
        assert slope_at(beam, level_db) == pytest.approx(math.tan(math.radians(angle_deg)))
    else:
        assert beam.half_angle_deg(level_db - 0.1) == 90


def test_beam_wants_more_room_the_farther_it_has_to_see_and_the_less_the_air_swallows() -> None:
    near, far = (
        needing(need__mounting={}, need__farthest_mm=mm, need__background_mm=600.0) for mm in (250.0, 500.0)
    )
    assert near.plan.grounds.beam.machine_radius_mm < far.plan.grounds.beam.machine_radius_mm  # type: ignore[operator]
    beam = needing().plan.grounds.beam
    assert beam.machine_radius_mm is not None
    # Wider than the cone to -3 dB, as a standard target is heard well beyond that; not beyond all measure.
    assert 470 * 0.063 < beam.machine_radius_mm < 3 * 470 * 0.063


def test_neighbours_are_asked_for_the_spacing_over_the_wall_that_they_look_at() -> None:
    near = needing(need__farthest_mm=200.0, need__background_mm=260.0).plan.grounds.beam
    far = needing().plan.grounds.beam
    assert near.neighbour_spacing_mm is not None
    assert far.neighbour_spacing_mm is not None
    assert far.neighbour_spacing_mm > near.neighbour_spacing_mm > 50
    loose = needing(need__object={"shape": "bulk"}, need__background_mm=None).plan.grounds.beam
    assert loose.neighbour_spacing_mm == 14.0  # nothing to mirror a burst: face beside face


def test_a_plate_of_the_rig_as_large_as_the_standard_target_is_never_too_small() -> None:
    damp = Air(45.0, 90.0)
    assert sensor_of(TYPES["barrel-18-rail"]).echo_db(
        sensor_of(TYPES["barrel-18-rail"]).range_target, 800, damp
    ) < (sensor_of(TYPES["barrel-18-rail"]).weakest_echo_db())
    case = needing(need=None, setting={"mode": "full-range", "output_function": "NO"})
    hot = case.changed({"rig.air.temperature_c": 45.0, "rig.air.humidity_percent": 90.0})
    assert any("too weak in the air of the bench" in one for one in hot.plan.warnings)
    assert case.plan.warnings == ()
