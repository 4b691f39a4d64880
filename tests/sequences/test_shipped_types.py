"""The shipped sensor types: what they teach, step by step, and the bounds that the trade keeps to."""

from __future__ import annotations

import pytest

from sequences.datasheet import BodyShape
from sequences.library import load_type, shipped_types
from sequences.sensor_type import SensorType
from sequences.steps import Clear, Contact, Cover, Expect, Place, PowerCycle, Rest, Sequence, Step
from wiring.terms import DetectionMode, OutputFunction, OutputType

NAMES = sorted(shipped_types())


def named(name: str) -> SensorType:
    return load_type(shipped_types()[name])


def in_short(step: Step) -> str:
    match step:
        case Contact(until=None):
            return f"{step.rail} {step.times} times"
        case Contact():
            return f"{step.rail} until {step.until}"
        case Place():
            return step.at
        case Expect():
            return f"expect {step.led or step.output}"
        case Cover() | Clear():
            return step.do
        case Rest() | PowerCycle():
            raise AssertionError("no shipped type rests or cycles the supply")


def taught(sensor_type: SensorType) -> dict[str, str]:
    return {
        f"{one.mode} {one.output_function or '-'}": ", ".join(in_short(step) for step in one.steps)
        for one in sensor_type.sequence
    }


# Common practice, no source: how a rail-order family codes mode and output function.
RAIL_ORDER = {
    "full-range -": "cover, L- until accepted, clear, L+ until accepted",
    "single-point NO": "clear, L+ until accepted, only, L- until accepted",
    "single-point NC": "clear, L- until accepted, only, L+ until accepted",
    "window NO": "near, L- until accepted, far, L+ until accepted",
    "window NC": "near, L+ until accepted, far, L- until accepted",
}

# Common practice, no source: distance on L-, output function on L+, both told by the span of the contact.
NEAR, FAR = "L- until near-span, expect stored", "L- until far-span, expect stored"
NO, NC = "L+ until near-span, expect stored", "L+ until far-span, expect stored"
CONTACT_LENGTH = {
    "full-range NO": f"clear, {NEAR}, {NO}",
    "full-range NC": f"clear, {NEAR}, {NC}",
    "single-point NO": f"only, {NEAR}, {NO}",
    "single-point NC": f"only, {NEAR}, {NC}",
    "window NO": f"near, {NEAR}, far, {FAR}, {NO}",
    "window NC": f"near, {NEAR}, far, {FAR}, {NC}",
}


def counted(count: int) -> str:
    return f"L- {count} times, expect stored-{count}"


# Common practice, no source: 1 only point, 2 near, 3 far, 4 full range, 5 NO, 6 NC.
CONTACT_COUNT = {
    "full-range NO": f"clear, {counted(4)}, {counted(5)}",
    "full-range NC": f"clear, {counted(4)}, {counted(6)}",
    "single-point NO": f"only, {counted(1)}, {counted(5)}",
    "single-point NC": f"only, {counted(1)}, {counted(6)}",
    "window NO": f"near, {counted(2)}, far, {counted(3)}, {counted(5)}",
    "window NC": f"near, {counted(2)}, far, {counted(3)}, {counted(6)}",
}


@pytest.mark.parametrize(
    ("name", "table"),
    [
        ("barrel-18-rail", RAIL_ORDER),
        ("barrel-18-plain", RAIL_ORDER),
        ("block-rail", RAIL_ORDER),
        ("barrel-30-length", CONTACT_LENGTH),
        ("barrel-12-count", CONTACT_COUNT),
    ],
)
def test_teaches_what_its_table_says(name: str, table: dict[str, str]) -> None:
    assert taught(named(name)) == table


def test_all_shipped_types_are_covered_here() -> None:
    assert NAMES == ["barrel-12-count", "barrel-18-plain", "barrel-18-rail", "barrel-30-length", "block-rail"]


@pytest.mark.parametrize("name", NAMES)
def test_file_is_named_after_the_type(name: str) -> None:
    assert named(name).name == name


@pytest.mark.parametrize("name", NAMES)
def test_figures_lie_where_the_trade_has_them(name: str) -> None:
    # Common practice, no source: barrels 40 to 90 mm long, rectangular bodies 120 mm, ranges 300 mm to 6 m.
    sensor_type = named(name)
    lengths_mm = (120, 120) if sensor_type.body.shape is BodyShape.RECTANGULAR else (40, 90)
    assert lengths_mm[0] <= sensor_type.body.length_mm <= lengths_mm[1]
    assert 300 <= sensor_type.sensing.range_mm <= 6000
    assert sensor_type.supply.voltage_min_v <= 24 <= sensor_type.supply.voltage_max_v
    # IEC 60947-5-2, from memory: available within 300 ms; square target of 20 mm to 800 mm range, 100 mm above.
    assert sensor_type.timing.availability_delay_s <= 0.3
    assert sensor_type.sensing.standard_target_mm == (20 if sensor_type.sensing.range_mm <= 800 else 100)


@pytest.mark.parametrize(
    ("name", "blind_zone_mm", "range_mm", "output_type"),
    [
        ("barrel-18-rail", 60, 800, OutputType.PNP),
        ("barrel-18-plain", 60, 800, OutputType.PNP),
        ("barrel-30-length", 350, 6000, OutputType.PNP),
        ("barrel-12-count", 25, 300, OutputType.NPN),
        ("block-rail", 120, 2000, OutputType.PUSH_PULL),
    ],
)
def test_distances_and_usual_output(
    name: str, blind_zone_mm: float, range_mm: float, output_type: OutputType
) -> None:
    sensor_type = named(name)
    assert (sensor_type.sensing.blind_zone_mm, sensor_type.sensing.range_mm) == (blind_zone_mm, range_mm)
    assert sensor_type.output.types[0] is output_type


@pytest.mark.parametrize("name", NAMES)
def test_every_contact_keeps_clear_of_where_its_meaning_changes(name: str) -> None:
    # Ends of spans and limits as the four families code them: common practice, no source.
    edges_s = {"rail-order": (10.0,), "contact-length": (2.0, 5.0, 8.0), "contact-count": (0.1, 0.8)}
    sensor_type = named(name)
    for sequence in sensor_type.sequence:
        for contact in contacts(sequence):
            for edge_s in edges_s[sensor_type.teach_method]:
                assert contact.longest_s <= edge_s - 0.1 or contact.shortest_s >= edge_s + 0.1


@pytest.mark.parametrize("name", NAMES)
def test_answers_are_over_before_patience_is(name: str) -> None:
    # A count is taken after longest_gap_s, each blink takes 0.4 s and 0.6 s of dark end them.
    sensor_type = named(name)
    for sequence in sensor_type.sequence:
        for step in sequence.steps:
            if isinstance(step, Expect) and step.led is not None:
                blinks = sensor_type.led[step.led].count or 0
                assert (sensor_type.contact.longest_gap_s or 0) + 0.4 * blinks + 0.6 < step.within_s


@pytest.mark.parametrize("name", NAMES)
def test_longest_teaching_fits_the_teach_window(name: str) -> None:
    sensor_type = named(name)
    for sequence in sensor_type.sequence:
        assert sum(longest_s(step) for step in sequence.steps) < sensor_type.timing.teach_window_s / 2


def longest_s(step: Step) -> float:
    if isinstance(step, Contact):
        return step.times * (step.longest_s + (step.gap_s or 0))
    return step.within_s if isinstance(step, Expect) else 0.0


def contacts(sequence: Sequence) -> list[Contact]:
    return [step for step in sequence.steps if isinstance(step, Contact)]


@pytest.mark.parametrize("name", NAMES)
def test_every_mode_can_be_had_as_no(name: str) -> None:
    for mode in DetectionMode:
        sequence = named(name).sequence_for(mode, OutputFunction.NO)
        assert sequence is not None
        assert (sequence.mode, sequence.taught_function) == (mode, OutputFunction.NO)
