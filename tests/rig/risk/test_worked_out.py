"""The closed form: what it comes to in cases that can be checked by hand, and that trials confirm it."""

from __future__ import annotations

from statistics import NormalDist

import pytest

from rig.risk.axis import axes_of
from rig.risk.case import Case
from rig.risk.draw import NO_FAULT
from rig.risk.looks import Looks, Pair
from rig.risk.report import Report
from rig.risk.study import OneCase, Study, run_study
from rig.risk.trial import Result
from rig.risk.worked_out import worked_out
from sequences.words import Rule
from tests.rig.risk.cases import LIBRARY, case, rates
from wiring.terms import DetectionMode

PHI = NormalDist().cdf


def stored(low: float, high: float, share: float = 1.0) -> dict[str, object]:
    return {"kind": "stores-wrongly", "share": share, "offset_tolerances": (low, high)}


def test_one_look_at_each_position_is_the_plain_normal_chance() -> None:
    looks = Looks(Pair(6.0, 10.0), Pair(-6.0, -10.0), noise_mm=1.0, placement_mm=0.0, until_read=2, watched=0)
    for beyond_mm in (-11.0, -9.0, -6.0, 0.0, 5.0, 6.5, 10.5):
        outcome = looks.outcome(beyond_mm)
        wrong_off, wrong_on = PHI(beyond_mm - 6.0), PHI(-6.0 - beyond_mm)
        proven_off, proven_on = PHI(beyond_mm - 10.0), PHI(-10.0 - beyond_mm)
        # Right at the first reading and at the last.
        assert outcome.good == pytest.approx(((1 - wrong_off) * (1 - wrong_on)) ** 2, abs=1e-12)
        assert outcome.bad == pytest.approx(
            1 - (1 - wrong_off * proven_off) * (1 - wrong_on * proven_on), abs=1e-12
        )
        assert outcome.good + outcome.bad + outcome.undecided == pytest.approx(1.0)


def test_more_looks_see_more_where_nothing_must_be_seen() -> None:
    def good(watched: int, beyond_mm: float) -> float:
        looks = Looks(Pair(6.0, 10.0), Pair(-6.0, -10.0), 1.0, 0.0, until_read=2, watched=watched)
        return looks.outcome(beyond_mm).good

    assert good(0, 5.0) == pytest.approx((1 - PHI(-1.0)) ** 2)
    # Ten looks at first, one when it is read once more.
    assert good(9, 5.0) == pytest.approx((1 - PHI(-1.0)) ** 11)


def test_a_position_without_proof_never_makes_a_unit_bad() -> None:
    looks = Looks(Pair(6.0, None), Pair(-6.0, None), 1.0, 0.2, until_read=5, watched=5)
    assert looks.outcome(30.0).bad == 0.0
    assert looks.outcome(30.0).undecided == pytest.approx(1.0)


def test_sound_units_alone_are_no_risk_at_a_generous_tolerance() -> None:
    stated = worked_out(case())[NO_FAULT]
    assert stated.escapes < 1e-12
    assert stated.doubts < 1e-6


def test_simple_acceptance_lets_more_escape_than_guarded() -> None:
    made = {"table": rates(stored(-2.0, 2.0)), "tolerance_mm": 4.0}
    simple, guarded = (
        worked_out(case(rule=rule, **made))["stores-wrongly"] for rule in (Rule.SIMPLE, Rule.GUARDED)
    )
    assert simple.escapes > 20 * guarded.escapes
    assert simple.doubts < guarded.doubts


def test_one_of_four_other_kinds_looks_alike() -> None:
    found = worked_out(case(table=rates({"kind": "wrong-kind", "share": 1.0})))["wrong-kind"]
    assert found.unseen == pytest.approx(1 / 4)
    found = worked_out(case("store-window-no", rates({"kind": "wrong-kind", "share": 1.0})))["wrong-kind"]
    assert found.unseen == 0.0


def test_a_travel_between_the_types_and_the_orders_limit_is_not_seen() -> None:
    # 3 % is the type's largest; the release point is checked at 400 + 6.75 + 12.24 mm: 4.7 % for a unit in the middle.
    shares = {
        percent: worked_out(
            case(table=rates({"kind": "wide-hysteresis", "share": 1.0, "percent": (percent, percent)}))
        )["wide-hysteresis"].unseen
        for percent in (2.0, 3.8, 7.0)
    }
    assert shares[2.0] == 0.0
    assert shares[3.8] > 0.8
    assert shares[7.0] < 1e-3


def test_full_range_has_no_axis_and_nothing_to_fear_of_set_points() -> None:
    made = case("infeed-full-range", rates({"kind": "dead", "share": 0.1}))
    assert made.setting.mode is DetectionMode.FULL_RANGE
    assert tuple(axes_of(made)) == ()
    assert worked_out(made)[NO_FAULT].doubts == 0.0


def report(made: object, units: int, seed: int = 1) -> Report:
    *_, last = run_study(Study(OneCase(made), seed, units), cores=1, state=None)  # type: ignore[arg-type]
    return Report(made, seed, last.tally, last.cpu_s)  # type: ignore[arg-type]


@pytest.mark.parametrize("order", ["tipper-point-no", "tray-point-nc"])
def test_trials_confirm_the_figures_of_the_example_orders(order: str) -> None:
    table = rates(
        stored(-2.0, 2.0, 0.4), {"kind": "wrong-kind", "share": 0.1}, {"kind": "dead", "share": 0.1}
    )
    found = report(case(order, table), 100)
    assert found.agrees, [one for one in found.compared if one.agrees is False]
    assert found.within_stated_risk
    doubts = next(
        one for one in found.compared if (one.fault, one.result) == ("stores-wrongly", Result.DOUBT)
    )
    assert doubts.seen.count > 2


def test_trials_confirm_what_a_tight_tolerance_leaves_open() -> None:
    # So tight that a third of all sound units stay undecided: a figure that few trials can confirm.
    found = report(case(tolerance_mm=2.7), 150)
    doubts = next(one for one in found.compared if one.result is Result.DOUBT)
    assert doubts.worked_out == pytest.approx(0.323, abs=0.005)
    assert doubts.worked_out in doubts.seen.bounds


@pytest.mark.slow
@pytest.mark.parametrize(
    "order",
    [
        "tipper-point-no",
        "tray-point-nc",
        "store-window-no",
        "stack-window-nc",
        "hopper-window-no",
        "cold-store-need",
        "filling-hall-need",
        "infeed-full-range",
    ],
)
def test_thousands_of_trials_confirm_every_example_order(order: str) -> None:
    table = rates(
        stored(-2.0, 2.0, 0.5),
        {"kind": "wrong-kind", "share": 0.05},
        {"kind": "wide-hysteresis", "share": 0.1, "percent": (1.5, 20.0)},
    )
    found = report(case(order, table), 2000)
    assert found.agrees, [one for one in found.compared if one.agrees is False]
    assert found.within_stated_risk


@pytest.mark.slow
def test_trials_confirm_how_much_more_a_simple_rule_lets_pass() -> None:
    made = {"table": rates(stored(-2.0, 2.0)), "tolerance_mm": 4.0}
    simple, guarded = (report(case(rule=rule, **made), 1500) for rule in (Rule.SIMPLE, Rule.GUARDED))
    assert simple.agrees
    assert guarded.agrees
    assert simple.tally.count(Result.ESCAPE) > 10 > guarded.tally.count(Result.ESCAPE)


def test_units_that_start_up_at_the_very_limit_stay_open_where_that_is_measured() -> None:
    order, sensor_type = LIBRARY.read_order("spares-window-measured")
    made = Case(order, sensor_type, LIBRARY.read_rig("simulated"), rates())
    # Delays lie between 0.7 and 1 times 300 ms, evenly; 0.577 ms below the limit nothing can be told.
    assert worked_out(made)[NO_FAULT].doubts == pytest.approx(0.577 / 90, rel=0.02)
