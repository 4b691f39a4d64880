"""What a sensor type answers to those who plan with it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.library import load_type, shipped_types
from sequences.sensor_type import LedSign, SensorType
from wiring.terms import DetectionMode, LedKind, OutputFunction

BARREL = load_type(shipped_types()["barrel-18-rail"])
COUNT = load_type(shipped_types()["barrel-12-count"])

SIGNS = st.one_of(
    st.builds(LedSign, kind=st.sampled_from([LedKind.DARK, LedKind.STEADY])),
    st.builds(LedSign, kind=st.just(LedKind.FLASHING), rate_hz=st.floats(0.2, 20)),
    st.builds(LedSign, kind=st.just(LedKind.BLINKS), count=st.integers(1, 20)),
)


def test_full_range_without_a_choice_is_found_as_no_only() -> None:
    full_range = BARREL.sequence_for(DetectionMode.FULL_RANGE, OutputFunction.NO)
    assert full_range is not None
    assert full_range.output_function is None
    assert BARREL.sequence_for(DetectionMode.FULL_RANGE, OutputFunction.NC) is None


@pytest.mark.parametrize("sensor_type", [BARREL, COUNT], ids=lambda sensor_type: sensor_type.name)
def test_everything_offered_is_found_and_nothing_else(sensor_type: SensorType) -> None:
    for mode in DetectionMode:
        for function in OutputFunction:
            found = sensor_type.sequence_for(mode, function)
            assert (found is not None) == ((mode, function) in sensor_type.offered)


def test_hysteresis_is_a_share_of_the_distance_but_never_below_its_least() -> None:
    # 1 % usual, 3 % largest, 2 mm at least: the file's own figures.
    assert BARREL.sensing.hysteresis_mm(100) == 2.0
    assert BARREL.sensing.hysteresis_mm(400) == 4.0
    assert BARREL.sensing.hysteresis_largest_mm(50) == 2.0
    assert BARREL.sensing.hysteresis_largest_mm(400) == 12.0


@given(st.floats(0.1, 10000))
def test_hysteresis_never_exceeds_the_largest(distance_mm: float) -> None:
    assert BARREL.sensing.hysteresis_mm(distance_mm) <= BARREL.sensing.hysteresis_largest_mm(distance_mm)


@given(SIGNS, SIGNS)
def test_signs_look_alike_both_ways_or_not_at_all(one: LedSign, other: LedSign) -> None:
    assert one.looks_like(one)
    assert one.looks_like(other) == other.looks_like(one)


@pytest.mark.parametrize(
    ("one_hz", "other_hz", "alike"),
    [(2.0, 2.7, True), (2.0, 2.8, False), (5.0, 8.0, False), (8.0, 6.0, True)],
)
def test_flashing_rates_are_told_apart_by_their_ratio(one_hz: float, other_hz: float, alike: bool) -> None:
    one = LedSign(kind=LedKind.FLASHING, rate_hz=one_hz)
    assert one.looks_like(LedSign(kind=LedKind.FLASHING, rate_hz=other_hz)) is alike


def test_signs_are_said_as_a_person_says_them() -> None:
    assert {name: sign.words for name, sign in COUNT.led.items()} == {
        "stored-1": "1 blink",
        **{f"stored-{count}": f"{count} blinks" for count in range(2, 7)},
        "refused": "flashing at 8 Hz",
    }
    assert LedSign(kind=LedKind.DARK).words == "dark"


def test_signs_cannot_be_changed_once_read() -> None:
    with pytest.raises(TypeError, match="does not support item assignment"):
        BARREL.led["accepted"] = BARREL.led["refused"]  # type: ignore[index]
