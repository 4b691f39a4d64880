"""What no reading can show is said, and nothing else is excused."""

from __future__ import annotations

from typing import Any

import pytest

from rig.risk.beyond import REMEDIES, Beyond, beyond_of, excuses_of
from rig.risk.case import Case
from rig.risk.draw import unit_seed
from rig.risk.report import Report
from rig.risk.tally import tally_of
from rig.risk.trial import Outcome, Result, try_unit
from rig.risk.truth import Defect
from tests.rig.risk.cases import LIBRARY, case, rates

ALWAYS = {Beyond.LOOK_ALIKE, Beyond.CHANGED, Beyond.SLIPPED}


def shipped(order: str, table: Any = None) -> Case:
    """A shipped order as it is, on the bench for which it was written."""
    made, sensor_type = LIBRARY.read_order(order)
    return Case(made, sensor_type, LIBRARY.read_rig("simulated"), table or rates())


@pytest.mark.parametrize(
    ("order", "more"),
    [
        ("tipper-point-no", {Beyond.TRAVEL, Beyond.REPEAT}),
        ("store-window-no", {Beyond.TRAVEL, Beyond.REPEAT}),
        ("infeed-full-range", {Beyond.REPEAT, Beyond.BLIND_ZONE}),
        ("spares-window-measured", set()),
    ],
)
def test_each_way_of_proving_says_what_it_cannot_tell(order: str, more: set[Beyond]) -> None:
    assert set(beyond_of(shipped(order).plan)) == ALWAYS | more


def test_everything_that_cannot_be_told_comes_with_its_reason() -> None:
    assert set(REMEDIES) == set(Beyond)


def excuses(order: str, *defects: Defect, late: bool = False, early: bool = False) -> tuple[Beyond, ...]:
    return excuses_of(shipped(order).plan, defects, changed_late=late, slipped_early=early)


def test_a_unit_is_excused_only_if_all_that_is_wrong_with_it_is() -> None:
    assert excuses("tipper-point-no") == ()
    assert excuses("tipper-point-no", Defect.WIDE_TRAVEL, Defect.NOISY) == (Beyond.TRAVEL, Beyond.REPEAT)
    assert excuses("tipper-point-no", Defect.WIDE_TRAVEL, Defect.OPERATE_POINT) == ()
    assert excuses("spares-window-measured", Defect.WIDE_TRAVEL) == ()
    assert excuses("tipper-point-no", Defect.LONG_BLIND_ZONE) == ()
    assert excuses("infeed-full-range", Defect.LONG_BLIND_ZONE) == (Beyond.BLIND_ZONE,)
    assert excuses("infeed-full-range", Defect.SHORT_RANGE) == ()


def test_what_a_slipped_scale_does_not_explain_is_not_excused_by_it() -> None:
    assert excuses("tipper-point-no", Defect.OPERATE_POINT, early=True) == (Beyond.SLIPPED,)
    assert excuses("tipper-point-no", Defect.OVER_CURRENT, early=True) == ()
    assert excuses("tipper-point-no", Defect.OPERATE_POINT, late=True) == (Beyond.CHANGED,)
    assert excuses("tipper-point-no", late=True) == ()


def tried(made: Case, units: int) -> list[Outcome]:
    return [try_unit(made, unit_seed(7, number)) for number in range(units)]


def test_where_nothing_is_read_close_to_the_blind_zone_the_report_says_so_and_counts() -> None:
    drifts = {"kind": "drifted", "share": 1.0, "offset_tolerances": (-0.9, -0.3), "after_s": (0.0, 0.0)}
    made = shipped("infeed-full-range", rates(drifts))
    outcomes = tried(made, 3)
    assert {one.result for one in outcomes} == {Result.UNSEEN}
    report = Report(made, 7, tally_of(outcomes), 0.0)
    assert report.beyond[Beyond.BLIND_ZONE] == 3
    assert report.escapes.count == 0
    told = {one["what"]: one["count"] for one in report.as_dict()["beyond_the_proof"]}
    assert told[str(Beyond.BLIND_ZONE)] == 3


@pytest.mark.parametrize("after_s", [0.0, 12.0])
@pytest.mark.parametrize("order", ["infeed-full-range", "tipper-point-no"])
def test_a_target_that_stays_in_the_beam_costs_no_sound_unit_its_verdict(order: str, after_s: float) -> None:
    left = {"kind": "target-left-in", "share": 1.0, "after_s": (after_s, after_s)}
    for one in tried(shipped(order, rates(bench=(left,))), 4):
        assert one.result is Result.DOUBT, one
        assert one.reason == "target-left-in-beam"
        assert "leaves the beam" in one.words


def test_a_unit_that_refuses_is_bad_where_the_target_is_seen_to_leave() -> None:
    made = case("tipper-point-no", rates({"kind": "refuses-teach", "share": 1.0}))
    for one in tried(made, 3):
        assert (one.result, one.reason) == (Result.RIGHT, "teach-refused")
