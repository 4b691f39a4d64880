"""Sensor type files: every wrong edit is refused on its line, with what was given and what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequences.library import load_type, shipped_types
from sequences.sensor_type import SensorType
from tests.badfiles import DataFileContract, Slip, check_slip, only_problem, problems_of
from wiring.tomlfile import parse_toml_model

RAIL = shipped_types()["barrel-18-rail"].read_text(encoding="utf-8")


def parse(text: str, file_name: str = "type.toml") -> SensorType:
    return parse_toml_model(text, file_name, SensorType, what="sensor type")


class TestTypeFile(DataFileContract):
    good_text = RAIL
    load = staticmethod(load_type)


IDENTITY = (
    Slip(
        "name as a title",
        'name = "barrel-18-rail"',
        'name = "Barrel 18"',
        "name",
        "is not written as it has to be",
        '"Barrel 18"',
        "lower-case letters, digits and single hyphens",
    ),
    Slip(
        "title missing",
        'title = "M18 barrel, 800 mm, taught by rail order"\n',
        "",
        "title",
        "is missing",
        "",
        "text of 1 to 80 characters",
        at=None,
    ),
    Slip(
        "title with a bell",
        'title = "M18 barrel, 800',
        'title = "M18\\u0007 800',
        "title",
        "cannot be printed, U+0007",
        '"M18\\x07 800 mm, taught by rail order"',
        "printable, on one line",
    ),
    Slip(
        "title that reads backwards",
        'title = "M18 barrel, 800',
        'title = "M18\\u202e 800',
        "title",
        "cannot be printed, U+202E",
        '"M18\\u202e 800 mm, taught by rail order"',
        "printable, on one line",
    ),
    Slip(
        "title on two lines",
        'title = "M18 barrel, 800',
        'title = "M18\\n800',
        "title",
        "holds a line end",
        '"M18\\n800 mm, taught by rail order"',
        "printable, on one line",
    ),
    Slip(
        "title with a loose space",
        'title = "M18 barrel, 800',
        'title = " 800',
        "title",
        "begins or ends with a space",
        '" 800 mm, taught by rail order"',
        "printable, on one line",
    ),
    Slip(
        "method mistyped",
        'teach_method = "rail-order"',
        'teach_method = "rail-ordr"',
        "teach_method",
        "did you mean rail-order?",
        '"rail-ordr"',
        '"contact-length"',
    ),
    Slip("table mistyped", "[body]", "[bdy]", "bdy", "unknown key, did you mean body?", "a table", "sensing"),
    Slip(
        "barrel without a thread",
        "thread_mm = 18\n",
        "",
        "body.thread_mm",
        "a barrel has a thread",
        "",
        'thread_mm only with shape = "barrel"',
        at="[body]",
    ),
    Slip(
        "block with a thread",
        'shape = "barrel"',
        'shape = "rectangular"',
        "body.thread_mm",
        "a rectangular body has none",
        "18",
        'thread_mm only with shape = "barrel"',
        at="thread_mm",
    ),
    Slip(
        "face as wide as the thread",
        "transducer_diameter_mm = 14",
        "transducer_diameter_mm = 18",
        "body.transducer_diameter_mm",
        "does not fit into the barrel",
        "18",
        "less than thread_mm = 18",
    ),
    Slip(
        "length in metres",
        "length_mm = 80",
        "length_mm = 0.08",
        "body.length_mm",
        "too small",
        "0.08",
        "10 to 300",
    ),
    Slip(
        "length as text",
        "length_mm = 80",
        'length_mm = "80"',
        "body.length_mm",
        "a number",
        '"80"',
        "10 to 300",
    ),
)

SENSING = (
    Slip(
        "blind zone reaches the range",
        "blind_zone_mm = 60",
        "blind_zone_mm = 800",
        "sensing.blind_zone_mm",
        "must be less than range_mm",
        "800",
        "less than range_mm = 800",
    ),
    Slip(
        "range in centimetres",
        "range_mm = 800",
        "range_cm = 80",
        "sensing.range_cm",
        "unknown key, did you mean range_mm?",
        "80",
        "range_mm",
    ),
    Slip(
        "range not a number",
        "range_mm = 800",
        "range_mm = nan",
        "sensing.range_mm",
        "finite number",
        "nan",
        "up to 10000",
    ),
    Slip(
        "usual hysteresis above the largest",
        "hysteresis_percent = 1.0",
        "hysteresis_percent = 4.0",
        "sensing.hysteresis_percent",
        "larger than the largest",
        "4.0",
        "up to hysteresis_largest_percent = 3",
    ),
    Slip(  # 20 % of the operate point: IEC 60947-5-2, from memory
        "hysteresis beyond the standard",
        "hysteresis_largest_percent = 3.0",
        "hysteresis_largest_percent = 21",
        "sensing.hysteresis_largest_percent",
        "too large",
        "21",
        "up to 20",
    ),
    Slip(
        "no room for a window",
        "smallest_window_mm = 20",
        "smallest_window_mm = 740",
        "sensing.smallest_window_mm",
        "no window fits",
        "740",
        "less than 740",
    ),
    Slip(
        "compensated, yet drifts like air",
        "drift_percent_per_k = 0.02",
        "drift_percent_per_k = 0.17",
        "sensing.drift_percent_per_k",
        "drifts less than the air itself",
        "0.17",
        "temperature_compensated = false",
    ),
    Slip(
        "cold above warm",
        "temperature_min_c = -20",
        "temperature_min_c = 70",
        "sensing.temperature_min_c",
        "must be less than temperature_max_c",
        "70",
        "less than temperature_max_c = 70",
    ),
    Slip(
        "rough goods reach further than the plate",
        "rough_percent = 70",
        "rough_percent = 170",
        "derating.rough_percent",
        "too large",
        "170",
        "up to 100",
    ),
)

ELECTRICAL = (
    Slip(
        "supply limits crossed",
        "voltage_min_v = 10",
        "voltage_min_v = 36",
        "supply.voltage_min_v",
        "must be less than voltage_max_v",
        "36",
        "less than voltage_max_v = 30",
    ),
    Slip(
        "current in milliamperes",
        "no_load_current_max_a = 0.050",
        "no_load_current_max_a = 50",
        "supply.no_load_current_max_a",
        "too large",
        "50",
        "up to 1",
    ),
    Slip(
        "current limits crossed",
        "no_load_current_min_a = 0.010",
        "no_load_current_min_a = 0.060",
        "supply.no_load_current_min_a",
        "must be less than no_load_current_max_a",
        "0.06",
        "less than no_load_current_max_a = 0.05",
    ),
    Slip("output type mistyped", '"NPN"]', '"NNP"]', "output.types#2", "not a word", '"NNP"', '"push-pull"'),
    Slip(
        "output type twice", '"NPN"]', '"PNP"]', "output.types", "listed twice", "PNP, PNP", "each one once"
    ),
    Slip("no output type", '["PNP", "NPN"]', "[]", "output.types", "too few", "an array of 0", "at least 1"),
    Slip(
        "response time of nothing",
        "response_on_s = 0.05",
        "response_on_s = 0",
        "timing.response_on_s",
        "too small",
        "0",
        "above 0",
    ),
    Slip(
        "contact limits crossed",
        "shortest_s = 1.0                    #",
        "shortest_s = 12.0 #",
        "contact.shortest_s",
        "must be less than longest_s",
        "12.0",
        "less than longest_s = 10",
    ),
    Slip(
        "gap where nothing is counted",
        "longest_s = 10.0 ",
        "longest_gap_s = 1.0\nlongest_s = 10.0 ",
        "contact.longest_gap_s",
        "teach method rail-order has no longest_gap_s",
        "1.0",
        'teach_method = "contact-count"',
    ),
    Slip(
        "flashing at no rate",
        'accepted = { kind = "flashing", rate_hz = 2.0 }',
        'accepted = { kind = "flashing" }',
        "led.accepted.rate_hz",
        "a sign of kind flashing needs rate_hz",
        "",
        'rate_hz with kind = "flashing"',
    ),
    Slip(
        "steady at a rate",
        'accepted = { kind = "flashing", rate_hz = 2.0 }',
        'accepted = { kind = "steady", rate_hz = 2.0 }',
        "led.accepted.rate_hz",
        "a sign of kind steady has no rate_hz",
        "2.0",
        'rate_hz with kind = "flashing"',
    ),
    Slip(
        "blinks without a count",
        'accepted = { kind = "flashing", rate_hz = 2.0 }',
        'accepted = { kind = "blinks" }',
        "led.accepted.count",
        "a sign of kind blinks needs count",
        "",
        'count with kind = "blinks"',
    ),
    Slip(
        "sign that nobody can tell",
        'refused = { kind = "flashing", rate_hz = 8.0 }',
        'refused = { kind = "unclear" }',
        "led.refused.kind",
        "not a word known here",
        '"unclear"',
        '"dark" or "steady" or "flashing" or "blinks"',
    ),
    Slip(
        "yes and no look alike",
        'refused = { kind = "flashing", rate_hz = 8.0 }',
        'refused = { kind = "flashing", rate_hz = 2.5 }',
        "led.refused",
        "cannot tell this sign from accepted",
        "flashing at 2.5 Hz",
        "a factor of 1.4 apart",
    ),
    Slip(
        "sign with a space in its name",
        "refused = {",
        '"not taken" = {',
        'led."not taken"',
        "is no name for a sign",
        '"not taken"',
        "up to 30 lower-case letters",
    ),
)


@pytest.mark.parametrize("slip", IDENTITY + SENSING + ELECTRICAL, ids=lambda slip: slip.name)
def test_wrong_edit_is_told_with_its_place(slip: Slip) -> None:
    check_slip(slip, RAIL, parse)


def test_one_mistake_gives_one_message(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(RAIL.replace("longest_s = 5.0 },\n]", "longest_s = 11 },\n]", 1), encoding="utf-8")
    assert only_problem(lambda: load_type(path)).key == "sequence#1.steps#4.longest_s"


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file() -> None:
    text = RAIL.replace("blind_zone_mm = 60", "blind_zone_mm = 900").replace('rail = "L+"', 'rail = "L"')
    problems = problems_of(lambda: parse(text))
    assert [problem.key for problem in problems] == [
        "sensing.blind_zone_mm",
        *(
            f"sequence#{number}.steps#{step}.rail"
            for number, step in ((1, 4), (2, 2), (3, 4), (4, 4), (5, 2))
        ),
    ]
