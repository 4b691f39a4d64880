"""When units may be taught: what the last self-check of a rig, and the rig's profile, say to it."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest

from rig.selfcheck.checks import Outcome
from rig.selfcheck.gate import LastCheck, standing_of
from rig.store.hashing import content_of
from wiring.profile import RigProfile, find_profile, load_profile

TODAY = date(2026, 3, 4)
_BOARD = load_profile(find_profile("single-nest"))


def board(needed: str | None = None) -> RigProfile:
    data: dict[str, Any] = _BOARD.model_dump(mode="json")
    if needed is not None:
        data["self_check"] = {"needed": needed}
    return RigProfile.model_validate_json(json.dumps(data))


def last(outcome: Outcome, rig: RigProfile, day: str = "2026-03-04") -> LastCheck:
    return LastCheck(f"{day}T12:00:00.000Z", outcome, content_of(rig.model_dump(mode="json"))[0])


@pytest.mark.parametrize("needed", [None, "daily"])
@pytest.mark.parametrize("outcome", [Outcome.FAILED, Outcome.NOT_DONE])
@pytest.mark.parametrize("day", ["2026-03-04", "2026-02-01"])
def test_a_failed_self_check_counts_until_one_passes(needed: str | None, outcome: Outcome, day: str) -> None:
    rig = board(needed)
    standing = standing_of(rig, last(outcome, rig, day), TODAY)
    assert "teachrig selfcheck --rig single-nest" in standing.refusal


def test_without_one_today_there_is_a_note_or_a_refusal_as_the_profile_demands() -> None:
    for before in (None, last(Outcome.PASSED, board(), "2026-03-03")):
        assert "no self-check today" in standing_of(board(), before, TODAY).warning
        assert standing_of(board(), before, TODAY).refusal == ""
        assert "no self-check today" in standing_of(board("daily"), before, TODAY).refusal


def test_one_that_passed_today_says_nothing_and_a_worn_relay_is_told() -> None:
    rig = board("daily")
    assert standing_of(rig, last(Outcome.PASSED, rig), TODAY) == standing_of(board("never"), None, TODAY)
    worn = standing_of(rig, last(Outcome.WORN, rig), TODAY)
    assert worn.refusal == ""
    assert "worn" in worn.warning


def test_a_profile_that_was_changed_since_has_to_be_checked_again() -> None:
    standing = standing_of(board("daily"), last(Outcome.PASSED, board()), TODAY)
    assert "has changed" in standing.refusal


def test_a_rig_that_never_needs_one_and_the_simulated_bench_are_let_pass() -> None:
    rig = board("never")
    assert standing_of(rig, last(Outcome.FAILED, rig), TODAY).refusal == ""
    simulated = load_profile(find_profile("simulated"))
    assert standing_of(simulated, last(Outcome.FAILED, simulated), TODAY).refusal == ""
