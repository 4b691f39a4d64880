"""Orders: serials, set points, and the shipped examples against the types they name."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.checks import CheckPlan
from sequences.library import find_type, load_order, load_type, shipped_orders
from sequences.order import Order, SerialRun
from sequences.words import SetPoint
from wiring.terms import DetectionMode, OutputFunction, OutputType

NAMES = sorted(shipped_orders())


def named(name: str) -> Order:
    return load_order(shipped_orders()[name])


WHOLE = [name for name in NAMES if named(name).setting.is_whole]


def test_examples_show_every_mode_both_functions_and_all_output_types() -> None:
    settings = [named(name).setting for name in WHOLE]
    assert {setting.mode for setting in settings} == set(DetectionMode)
    assert {setting.output_function for setting in settings} == set(OutputFunction)
    assert {setting.output_type for setting in settings} == set(OutputType)
    assert len({named(name).number for name in NAMES}) == len(NAMES)


@pytest.mark.parametrize("name", WHOLE)
def test_example_can_be_done_with_the_type_it_names(name: str) -> None:
    order = named(name)
    sensor_type = load_type(find_type(order.sensor_type, order=shipped_orders()[name]))
    setting, sensing = order.setting, sensor_type.sensing
    assert setting.mode is not None
    assert setting.output_function is not None
    assert sensor_type.sequence_for(setting.mode, setting.output_function) is not None
    assert setting.output_type in sensor_type.output.types
    for distance_mm in setting.set_points_mm.values():
        assert setting.tolerance_mm is not None
        assert sensing.blind_zone_mm < distance_mm - setting.tolerance_mm
        assert distance_mm + setting.tolerance_mm < sensing.range_mm
        # A tolerance finer than the unit repeats could only ever be undecided.
        assert setting.tolerance_mm > distance_mm * sensing.repeat_accuracy_percent / 100


def test_examples_that_leave_the_setting_to_a_proposal_state_the_need() -> None:
    left_open = [named(name) for name in NAMES if name not in WHOLE]
    assert len(left_open) >= 2
    for order in left_open:
        assert order.need is not None
        assert None not in (order.need.nearest_mm, order.need.farthest_mm, order.need.object, order.need.air)


def test_serials_of_all_examples_differ() -> None:
    serials = [serial for name in NAMES for serial in named(name).unit_serials()]
    assert len(set(serials)) == len(serials)


def test_serials_count_up_padded() -> None:
    serials = named("tipper-point-no").unit_serials()
    assert (len(serials), serials[0], serials[-1]) == (12, "QOC18-0041", "QOC18-0052")


def test_listed_serials_keep_their_order() -> None:
    assert named("stack-window-nc").unit_serials() == ("QOCB-0007", "QOCB-0009", "QOCB-0012")


def test_set_points_are_named_nearest_first() -> None:
    assert list(named("hopper-window-no").setting.set_points_mm.items()) == [
        (SetPoint.NEAR, 150),
        (SetPoint.FAR, 450),
    ]
    assert dict(named("tray-point-nc").setting.set_points_mm) == {SetPoint.ONLY: 180}
    assert not named("infeed-full-range").setting.set_points_mm


def test_checks_left_out_are_thorough_ones() -> None:
    assert named("stack-window-nc").checks == CheckPlan(readings=5, settle_factor=3.0, near_blind_zone=True)


@given(st.integers(1, 10), st.data())
def test_run_gives_each_unit_a_serial_of_its_own_and_equal_length(digits: int, data: st.DataObject) -> None:
    quantity = data.draw(st.integers(1, min(300, 10**digits)))
    first = data.draw(st.integers(0, 10**digits - quantity))
    serials = SerialRun(prefix="Q-", first=first, digits=digits).serials(quantity)
    assert len(set(serials)) == quantity
    assert {len(serial) for serial in serials} == {len("Q-") + digits}
    assert list(serials) == sorted(serials)
