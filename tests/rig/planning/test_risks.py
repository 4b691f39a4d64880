"""What checks decide wrongly: at the limit of the tolerance, and over all units of a type."""

from __future__ import annotations

import random

import pytest
from scipy.integrate import quad
from scipy.stats import norm

from rig.events import Verdict
from rig.planning.compile import make_plan
from rig.planning.grounds import PointRisk
from rig.statistics.edge_checks import EdgeChecks
from tests.reference.four_readings import judged
from tests.rig.planning.cases import needing

POINT = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0, "tolerance_mm": 8.0}


def risk(tolerance_mm: float, **changes: object) -> PointRisk:
    case = needing(need=None, setting={**POINT, "tolerance_mm": tolerance_mm}, **changes)
    return case.plan.grounds.risks[0]


def test_at_the_limit_one_unit_in_forty_four_is_decided_wrongly() -> None:
    # Two standard uncertainties, one side: 2.275 % (JCGM 106, specific risk of guarded acceptance).
    found = risk(8.0)
    assert found.passes_at_limit == pytest.approx(0.02275, abs=1e-4)
    assert found.fails_at_limit == pytest.approx(
        0.02275 * 0.97725, abs=1e-4
    )  # wrong twice: inside, and outside right


@pytest.mark.parametrize("tolerance_mm", [2.6, 3.5, 5.0, 8.0])
def test_shares_over_all_units_are_those_of_adaptive_quadrature(tolerance_mm: float) -> None:
    found = risk(tolerance_mm)
    edge = EdgeChecks(tolerance_mm, found.doubt_mm, found.guard_mm)

    def share(part: str, low_mm: float, high_mm: float) -> float:
        def density(off_mm: float) -> float:
            return float(norm.pdf(off_mm, 0.0, found.spread_mm)) * getattr(edge.outcome(off_mm), part)

        turns = [turn for turn in (*edge.inner_mm, *edge.outer_mm, 0.0) if low_mm < turn < high_mm]
        return float(quad(density, low_mm, high_mm, points=turns, limit=500, epsabs=1e-14)[0])

    far_mm = tolerance_mm + 12 * found.spread_mm
    passed_outside = share("good", -far_mm, -tolerance_mm) + share("good", tolerance_mm, far_mm)
    assert found.passed_outside == pytest.approx(passed_outside, rel=1e-6, abs=1e-12)
    failed_inside = share("bad", -tolerance_mm, tolerance_mm)
    assert found.failed_inside == pytest.approx(failed_inside, rel=1e-6, abs=1e-12)
    assert found.undecided == pytest.approx(share("undecided", -far_mm, far_mm), rel=1e-6, abs=1e-12)


def test_shares_over_all_units_by_trial() -> None:
    found, draw = risk(2.6), random.Random(5)
    edge = EdgeChecks(2.6, found.doubt_mm, found.guard_mm)
    undecided, trials = 0, 20_000
    for _ in range(trials):
        true_mm = draw.gauss(0.0, found.spread_mm)

        def seen(position_mm: float, true_mm: float = true_mm) -> bool:
            return draw.gauss(true_mm, found.doubt_mm) >= position_mm

        undecided += judged(edge, seen) is Verdict.UNDECIDED
    assert found.undecided == pytest.approx(undecided / trials, abs=0.01)


def test_a_tolerance_near_the_finest_leaves_many_undecided_and_says_so() -> None:
    case = needing(need=None, setting={**POINT, "tolerance_mm": 2.6})
    assert case.plan.grounds.risks[0].undecided > 0.2
    (warning,) = [one for one in case.plan.warnings if "left undecided" in one]
    assert "% passed though outside" in warning
    assert "failed though inside" in warning
    assert not needing(need=None, setting=POINT).plan.warnings


def test_a_type_that_stores_badly_spreads_wider() -> None:
    case = needing(need=None, setting=POINT)
    loose = case.sensor_type.sensing.model_copy(update={"teach_error_percent": 2.0})
    sensor_type = case.sensor_type.model_copy(update={"sensing": loose})
    found = make_plan(case.order, sensor_type, case.profile).grounds.risks[0]
    assert found.spread_mm == pytest.approx(400 * 0.02 / 2)
    assert found.undecided > case.plan.grounds.risks[0].undecided


def test_a_side_that_nothing_in_reach_can_prove_is_named() -> None:
    found = risk(8.0, rig__target__farthest_mm=408.0)
    assert found.why_open == ("outer set point not too far out: no position in reach could prove a unit bad",)
    assert risk(8.0).why_open == ()
