"""When units may be worked on, as far as the check unit is concerned: what rig and order ask, shifts, signals."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from rig.control.chart import Watching
from rig.control.check_unit import Account, Cause, CheckUnit, LookedAt, Measured, charted
from rig.control.gate import leave_of, shift_at
from wiring.profile import RigProfile, find_profile, load_profile

BEGINS = ("06:00", "14:00", "22:00")
NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


def rig(needed: str | None = None) -> RigProfile:
    data: dict[str, Any] = load_profile(find_profile("simulated")).model_dump(mode="json")
    if needed is not None:
        data["check_unit"] = {"needed": needed}
    return RigProfile.model_validate_json(json.dumps(data))


def account(*values_mm: float, hours_ago: float = 1.0, looked_after: int | None = None) -> Account:
    utc = (NOW - timedelta(hours=hours_ago)).isoformat()
    measured = tuple(Measured(utc, {"outer": (one, 0.5)}) for one in values_mm)
    looked = (
        () if looked_after is None else (LookedAt(looked_after, utc, "Maren", "belt", Cause.RIG, "signal"),)
    )
    unit = CheckUnit("simulated", "Q-1", {}, {}, Watching())
    return charted(Account(unit, measured, looked, measured[-1] if measured else None))


@pytest.mark.parametrize("needed", [None, "each-shift", "advised", "never"])
def test_a_signal_stops_work_whatever_the_profile_says(needed: str | None) -> None:
    refusal = leave_of(rig(needed), account(0.0, 3.0), NOW).refusal
    assert "Q-1" in refusal
    assert "teachrig checkunit look --rig simulated" in refusal


def test_without_a_check_unit_only_those_who_ask_for_it_are_stopped() -> None:
    for needed in (None, "advised", "never"):
        assert leave_of(rig(needed), None, NOW) == leave_of(rig("never"), None, NOW)
        assert leave_of(rig(needed), None, NOW, needed=True).refusal
    assert "keeps none" in leave_of(rig("each-shift"), None, NOW).refusal


def test_what_was_measured_in_the_shift_before_counts_no_more() -> None:
    old, fresh = account(0.0, hours_ago=5), account(0.0, hours_ago=3)
    assert "the shift began at 06:00" in leave_of(rig("each-shift"), old, NOW).refusal
    assert "the shift began at 06:00" in leave_of(rig(), old, NOW).warning
    assert leave_of(rig("never"), old, NOW).warning == ""
    leave = leave_of(rig("each-shift"), fresh, NOW)
    assert leave.refusal == leave.warning == ""
    assert leave.until == datetime(2026, 3, 4, 14, tzinfo=UTC)
    assert leave_of(rig(), fresh, NOW).until is None


def test_a_leave_ends_with_the_shift() -> None:
    leave = leave_of(rig(), account(0.0), NOW, needed=True)
    assert leave.over(NOW + timedelta(hours=4)) == ""
    assert "a new shift began at 14:00" in leave.over(NOW + timedelta(hours=4.5))


def test_after_a_look_the_check_unit_is_measured_again_before_work_goes_on() -> None:
    looked = account(0.0, 3.0, looked_after=2)
    assert "nobody has measured check unit Q-1 again" in leave_of(rig("each-shift"), looked, NOW).refusal
    assert leave_of(rig(), looked, NOW).refusal == ""
    assert leave_of(rig("each-shift"), account(0.0, 3.0, 0.1, looked_after=2), NOW).refusal == ""
    assert "gave a signal" in leave_of(rig(), account(0.0, 3.0, 3.1, looked_after=2), NOW).refusal


def test_a_measurement_that_came_to_nothing_is_none() -> None:
    nothing = account(0.0).with_measurement(Measured(NOW.isoformat(), {}, "", "undecided: unit draws 0 mA"))
    assert "came to nothing (undecided: unit draws 0 mA)" in leave_of(rig("each-shift"), nothing, NOW).refusal


@pytest.mark.parametrize(
    ("clock", "begin", "end"),
    [
        ("2026-03-04T05:59", (3, 22), (4, 6)),
        ("2026-03-04T06:00", (4, 6), (4, 14)),
        ("2026-03-04T23:10", (4, 22), (5, 6)),
    ],
)
def test_shifts_go_round_midnight(clock: str, begin: tuple[int, int], end: tuple[int, int]) -> None:
    first, last = shift_at(datetime.fromisoformat(clock).replace(tzinfo=UTC), BEGINS)
    assert (first.day, first.hour) == begin
    assert (last.day, last.hour) == end


def test_one_shift_a_day_lasts_a_day() -> None:
    first, last = shift_at(NOW, ("07:00",))
    assert last - first == timedelta(days=1)
    assert first <= NOW < last
