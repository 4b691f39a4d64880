"""The need in order files: every wrong edit is refused on its line, and what is left open is really left open."""
# ruff: noqa: E501 - a table reads best with one row on one line
# fmt: off

from __future__ import annotations

import pytest

from sequences.library import shipped_orders
from sequences.order import Order
from tests.badfiles import Slip, check_slip, problems_of
from wiring.terms import OutputFunction
from wiring.tomlfile import parse_toml_model

BINS = shipped_orders()["cold-store-need"].read_text(encoding="utf-8")
DRUM = shipped_orders()["filling-hall-need"].read_text(encoding="utf-8")
POINT = shipped_orders()["tipper-point-no"].read_text(encoding="utf-8")


def parse(text: str, file_name: str = "order.toml") -> Order:
    return parse_toml_model(text, file_name, Order, what="order")


BIN_SLIPS = (
    Slip("nearest beyond farthest", "nearest_mm = 180", "nearest_mm = 440", "need.nearest_mm", "is more than farthest_mm", "440", "up to farthest_mm = 420"),
    Slip("nearest alone", "farthest_mm = 420\n", "", "need.farthest_mm", "nearest_mm needs farthest_mm with it", "", "both nearest_mm and farthest_mm", at="[need] "),
    Slip("no objects at all", "nearest_mm = 180\nfarthest_mm = 420\n", "", "need.nearest_mm", "set points can only be proposed for objects", "", "nearest_mm and farthest_mm, or the set points", at="[need] "),
    Slip("wall among the bins", "background_mm = 520 ", "background_mm = 400 ", "need.farthest_mm", "must be less than background_mm", "420", "less than background_mm = 400", at="farthest_mm"),
    Slip("foreground among the bins", "background_mm = 520 ", "foreground_mm = 200\nbackground_mm = 520 ", "need.foreground_mm", "must be less than nearest_mm", "200", "less than nearest_mm = 180", at="foreground_mm"),
    Slip("distance of nothing", "nearest_mm = 180", "nearest_mm = 0", "need.nearest_mm", "too small", "0", "above 0 up to 10000"),
    Slip("wire that reads as rain", '"no object"', '"rain"', "need.broken_wire_reads", "not a word", '"rain"', '"an object"'),
    Slip("mistyped key", "background_mm = 520 ", "back_ground_mm = 520 ", "need.back_ground_mm", "unknown key, did you mean background_mm?", "520", "nearest_mm, farthest_mm"),
    Slip("box", 'shape = "plate" ', 'shape = "box" ', "need.object.shape", "not a word", '"box"', '"plate" or "bar" or "bulk"'),
    Slip("plate without a height", "height_mm = 760\n", "", "need.object.height_mm", "shape plate needs height_mm", "", "width_mm, height_mm", at="[need.object]"),
    Slip("plate with a diameter", "height_mm = 760", "height_mm = 760\ndiameter_mm = 50", "need.object.diameter_mm", "shape plate has no diameter_mm", "50", "width_mm, height_mm", at="diameter_mm"),
    Slip("plate on edge", "tilt_deg = 2", "tilt_deg = 90", "need.object.tilt_deg", "too large", "90", "from 0 below 90"),
    Slip("wall on the axis", "side_wall_mm = 150", "side_wall_mm = 0", "need.mounting.side_wall_mm", "too small", "0", "above 0"),
    Slip("hole without a diameter", "side_wall_mm = 150", "recess_mm = 5", "need.mounting.recess_diameter_mm", "recess_mm needs recess_diameter_mm with it", "", "both recess_mm", at="[need.mounting]"),
    Slip("colder than any air", "coldest_c = -2", "coldest_c = -60", "need.air.coldest_c", "too small", "-60", "-40 to 70"),
    Slip("coldest warmer than warmest", "coldest_c = -2", "coldest_c = 8", "need.air.coldest_c", "is more than warmest_c", "8", "up to warmest_c = 6"),
    Slip("drier than dry", "driest_percent = 80", "driest_percent = -5", "need.air.driest_percent", "too small", "-5", "0 to 100"),
    Slip("dampest drier than driest", "dampest_percent = 95", "dampest_percent = 50", "need.air.driest_percent", "is more than dampest_percent", "80", "up to dampest_percent = 50", at="driest_percent"),
    Slip("no warmest", "warmest_c = 6\n", "", "need.air.warmest_c", "is missing", "", "-40 to 70", at="[need.air]"),
    Slip("pressure twice", "altitude_m = 210", "altitude_m = 210\npressure_kpa = 99", "need.air.altitude_m", "the pressure is stated already", "210", "pressure_kpa or altitude_m"),
    Slip("standing belt", "speed_m_s = 0.6 ", "speed_m_s = 0 ", "need.motion.speed_m_s", "too small", "0", "above 0"),
    Slip("millimetres per second", "speed_m_s = 0.6 ", "speed_m_s = 600 ", "need.motion.speed_m_s", "too large", "600", "in m/s"),
    Slip("supply that falls", "lowest_v = 20.4 ", "lowest_v = 28 ", "need.supply.lowest_v", "is more than highest_v", "28", "up to highest_v = 26.4"),
    Slip("set point without a mode", 'output_type = "PNP"', 'output_type = "PNP"\nat_mm = 470', "setting.at_mm", "a set point needs a mode", "470", 'mode = "single-point"', at="at_mm"),
    Slip("near end without a far end", 'output_type = "PNP"', 'output_type = "PNP"\nmode = "window"\nnear_mm = 150', "setting.far_mm", "mode window needs far_mm", "", "near_mm, far_mm", at="[setting]"),
    Slip("full range with a tolerance", 'output_type = "PNP"', 'output_type = "PNP"\nmode = "full-range"\ntolerance_mm = 5', "setting.tolerance_mm", "mode full-range has no tolerance_mm", "5", "no distance", at="tolerance_mm"),
    Slip("no output type", 'output_type = "PNP"\n', "", "setting.output_type", "is missing", "", '"PNP" or "NPN"', at="[setting]"),
)
DRUM_SLIPS = (
    Slip("bar with a width", "length_mm = 880", "length_mm = 880\nwidth_mm = 5", "need.object.width_mm", "shape bar has no width_mm", "5", "diameter_mm, length_mm", at="width_mm"),
    Slip("leaning apples", 'shape = "bar" ', 'shape = "bulk" ', "need.object.diameter_mm", "shape bulk has no diameter_mm", "580", "no size", at="diameter_mm"),
    Slip("deep hole", "recess_mm = 5", "recess_mm = 5000", "need.mounting.recess_mm", "too large", "5000", "in mm"),
)
POINT_SLIPS = (
    Slip("no mode and no need", 'mode = "single-point"\n', "", "setting.at_mm", "a set point needs a mode", "400", 'mode = "single-point"', at="at_mm"),
    Slip("no output function and no need", 'output_function = "NO"\n', "", "setting.output_function", "is missing, and there is no [need] to propose it", "", '"NO", "NC"', at="[setting]"),
    Slip("no tolerance and no need", "tolerance_mm = 8 ", "# ", "setting.tolerance_mm", "mode single-point needs tolerance_mm", "", "at_mm, tolerance_mm", at="[setting]"),
)
# fmt: on

SLIPS = [
    pytest.param(text, slip, id=slip.name)
    for text, slips in ((BINS, BIN_SLIPS), (DRUM, DRUM_SLIPS), (POINT, POINT_SLIPS))
    for slip in slips
]


@pytest.mark.parametrize(("good_text", "slip"), SLIPS)
def test_wrong_edit_is_told_with_its_place(good_text: str, slip: Slip) -> None:
    check_slip(slip, good_text, parse)


def test_everything_that_a_need_contradicts_is_told_at_once() -> None:
    text = BINS.replace("tilt_deg = 2", "tilt_deg = 99").replace("coldest_c = -2", "coldest_c = -99")
    problems = problems_of(lambda: parse(text.replace("speed_m_s = 0.6 ", "speed_m_s = -1 ")))
    assert {problem.key for problem in problems} == {
        "need.object.tilt_deg",
        "need.air.coldest_c",
        "need.motion.speed_m_s",
    }


@pytest.mark.parametrize("left_out", ["at_mm = 400", "tolerance_mm = 8 ", 'output_function = "NO"'])
def test_with_a_need_the_setting_may_be_left_open(left_out: str) -> None:
    need = "\n[need]\nnearest_mm = 280\nfarthest_mm = 310\n"
    order = parse(POINT.replace(left_out, "# ") + need)
    assert not order.setting.is_whole


def test_a_whole_setting_stays_whole_and_needs_no_need() -> None:
    assert parse(POINT).setting.is_whole
    assert parse(POINT).need is None
    assert parse(POINT + "\n[need.air]\ncoldest_c = 5\nwarmest_c = 15\n").setting.is_whole


def test_unknown_humidity_is_anything() -> None:
    air = parse(POINT + "\n[need.air]\ncoldest_c = 5\nwarmest_c = 15\n").need
    assert air is not None
    assert air.air is not None
    assert (air.air.driest_percent, air.air.dampest_percent) == (0.0, 100.0)


@pytest.mark.parametrize(
    ("reads", "function"),
    [('"no object"', OutputFunction.NO), ('"an object"', OutputFunction.NC)],
)
def test_a_broken_wire_names_the_output_function(reads: str, function: OutputFunction) -> None:
    need = parse(BINS.replace('"no object"', reads)).need
    assert need is not None
    assert need.output_function is function
