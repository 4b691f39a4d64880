"""Figures worked out: every line comes out on another calculator, and its result is the one that the plan uses."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.edges.edge import FINDING
from rig.explained.calculator import FUNCTIONS, worked_out
from rig.explained.explain import explain
from rig.explained.sheet import Worked
from rig.library import Library
from rig.planning.budget import CALIBRATED
from rig.planning.compile import make_plan
from rig.planning.planned import POINT_NAMES, Planned, planned
from sequences.library import shipped_orders
from sequences.need import AirNeed, Need, ObjectNeed, ObjectShape, Surface
from sequences.order import Order
from sequences.words import Rule, SetPoint
from tests.rig.calculators import KEYS, prints_as, value_of
from wiring.profile import Calibrated
from wiring.terms import Verification

SHIPPED = Library(home=None)
HALL = AirNeed(coldest_c=2, warmest_c=38, driest_percent=20, dampest_percent=90, altitude_m=1200)


def made(
    name: str,
    rig: str = "simulated",
    change: Callable[[Order], Order] = lambda order: order,
    bench_c: float = 23.0,
    calibrated: Calibrated | None = None,
) -> Planned:
    order, sensor_type = SHIPPED.read_order(name)
    order, profile = change(order), SHIPPED.read_rig(rig)
    air = profile.air.model_copy(update={"temperature_c": bench_c})
    target = profile.target.model_copy(update={"calibrated": calibrated})
    profile = profile.model_copy(update={"air": air, "target": target})
    return planned(order, sensor_type, profile, make_plan(order, sensor_type, profile))


def with_need(**need: Any) -> Callable[[Order], Order]:
    def change(order: Order) -> Order:
        old = order.need or Need()
        return order.model_copy(update={"need": old.model_copy(update=need)})

    return change


def with_tolerance(tolerance_mm: float) -> Callable[[Order], Order]:
    return lambda order: order.model_copy(
        update={"setting": order.setting.model_copy(update={"tolerance_mm": tolerance_mm})}
    )


def proved(**checks: Any) -> Callable[[Order], Order]:
    return lambda order: order.model_copy(update={"checks": order.checks.model_copy(update=checks)})


PLATE = ObjectNeed(shape=ObjectShape.PLATE, width_mm=600, height_mm=400, tilt_deg=1.5)

CASES: Mapping[str, Planned] = {
    **{name: made(name) for name in shipped_orders()},
    "cold bench": made("cold-store-need", bench_c=12.0),
    "cold bench, full range": made("infeed-full-range", bench_c=12.0),
    "hot bench": made("tray-point-nc", bench_c=31.0),
    "by hand": made("tipper-point-no", "single-nest", with_tolerance(20.0)),
    "compensated in a hall": made("hopper-window-no", change=with_need(air=HALL)),
    "soft and tilted": made(
        "tipper-point-no",
        change=with_need(
            object=PLATE.model_copy(update={"surface": Surface.SOFT}), nearest_mm=200.0, farthest_mm=280.0
        ),
    ),
    "loose goods": made(
        "hopper-window-no",
        change=with_need(object=ObjectNeed(shape=ObjectShape.BULK), nearest_mm=200.0, farthest_mm=400.0),
    ),
    "simple": made("hopper-window-no", change=proved(rule=Rule.SIMPLE)),
    "by risk": made("tipper-point-no", change=proved(rule=Rule.RISK, largest_risk=0.001)),
    "measured": made("hopper-window-no", change=proved(method=Verification.MEASURED)),
    "measured, simple": made(
        "cold-store-need", change=proved(method=Verification.MEASURED, rule=Rule.SIMPLE), bench_c=12.0
    ),
    "measured, by risk": made(
        "tray-point-nc", change=proved(method=Verification.MEASURED, rule=Rule.RISK, largest_risk=0.01)
    ),
    "measured, full range": made("infeed-full-range", change=proved(method=Verification.MEASURED)),
    "calibrated": made("cold-store-need", calibrated=Calibrated(zero_u_mm=0.031, scale_u_percent=0.0012)),
    "calibrated, measured": made(
        "hopper-window-no",
        change=proved(method=Verification.MEASURED),
        calibrated=Calibrated(zero_u_mm=0.031, scale_u_percent=0.0012),
    ),
    "tilted": made("tipper-point-no", change=with_need(object=PLATE, nearest_mm=200.0, farthest_mm=280.0)),
}

IDS = list(CASES)


def formulas(case: Planned) -> Iterator[Worked]:
    for chapter in explain(case):
        yield from chapter.formulas


def chapter(case: Planned, title: str) -> dict[str, Worked]:
    """The formulas of one chapter by what they work out; the first where two work out the same."""
    found: dict[str, Worked] = {}
    for one in next(chapter for chapter in explain(case) if chapter.title.startswith(title)).formulas:
        found.setdefault(one.what, one)
    return found


def result(formula: Worked) -> float:
    return float(formula.result)


@pytest.mark.parametrize("name", IDS)
def test_every_line_comes_out_on_another_calculator(name: str) -> None:
    for one in formulas(CASES[name]):
        assert prints_as(value_of(one.numbers), one.result), (one.what, one.numbers, one.result)


@pytest.mark.parametrize("name", IDS)
def test_every_letter_is_put_in_and_every_number_has_a_source_or_stands_above(name: str) -> None:
    above: set[str] = set()
    for one in formulas(CASES[name]):
        letters = set(re.findall(r"(?<![\w.])[A-Za-z]\w*", one.numbers))
        assert letters <= KEYS.keys(), one.numbers
        sourced = {number.text for _, number in one.inputs}
        constants = set(re.findall(_NUMBER, one.formula))
        for number in set(re.findall(_NUMBER, one.numbers)) - constants:
            assert {number, f"-{number}"} & (sourced | above), (one.what, number)
        above |= {one.result, *sourced}


_NUMBER = r"(?<![\w.])\d+(?:\.\d+)?(?:e-?\d+)?(?![\w.])"


@pytest.mark.parametrize("name", IDS)
def test_the_guard_and_each_row_are_those_of_the_budget(name: str) -> None:
    case = CASES[name]
    for point, budget in case.budgets():
        title = "the end of the range" if point is None else f"the {POINT_NAMES[point]}"
        worked = chapter(case, f"uncertainty {'at' if point is None else 'of'} {title} (JCGM 100)")
        for row in budget.rows:
            assert result(worked[row.source]) == pytest.approx(row.contribution_mm, rel=1e-4), row.source
        rows = [one for one in worked.values() if re.fullmatch(r"u\d+", one.symbol)]
        assert [one.what for one in rows] == [row.source for row in budget.rows]
        # All but what was read are rectangles: what the table calls their distribution.
        limits = (one for one in rows if not one.what.startswith(FINDING) and CALIBRATED not in one.what)
        assert all("/ sqrt(3)" in one.formula for one in limits)
        guard = next(one for one in worked.values() if one.symbol == "U")
        assert result(guard) == pytest.approx(budget.expanded_mm, rel=1e-5)


@pytest.mark.parametrize("name", IDS)
def test_bench_positions_and_drift_are_those_of_the_plan(name: str) -> None:
    case = CASES[name]
    worked = {one.what: one for one in formulas(case)}
    for one in case.plan.grounds.points:
        point = POINT_NAMES[one.point]
        if case.zone.scale != 1:
            assert result(worked[f"{point} on the bench"]) == pytest.approx(one.bench_mm, abs=0.0501)
            nearest = worked[f"nearest place of the {point} over the machine's air"]
            farthest = worked[f"farthest place of the {point} over the machine's air"]
            assert result(nearest) == pytest.approx(one.drift_nearest_mm, rel=5e-6)
            assert result(farthest) == pytest.approx(one.drift_farthest_mm, rel=5e-6)
        elif case.case.conditions.span is not None:
            drift = worked[f"drift of the {point} over the machine's air, to either side"]
            assert result(drift) == pytest.approx(one.machine_mm - one.drift_nearest_mm, rel=1e-4)
            assert result(drift) == pytest.approx(one.drift_farthest_mm - one.machine_mm, rel=1e-4)
        for clearance in one.clear_of:
            left = worked[f"left between the {point} at its worst and {clearance.of}"]
            assert result(left) == pytest.approx(clearance.spare_mm, abs=2e-3)


@pytest.mark.parametrize("name", IDS)
def test_check_positions_are_those_of_the_plan_rounded_to_the_safe_side(name: str) -> None:
    case = CASES[name]
    worked = {one.what: one for one in formulas(case)}
    for check in case.plan.checks:
        if check.position_mm is None:
            continue
        _stands_at(worked[str(check.requirement)], check.position_mm)
        if check.proof_mm is not None and check.proof_mm != check.position_mm:
            again = f"{check.requirement}: read again after a wrong answer, to prove the unit bad"
            _stands_at(worked[again], check.proof_mm)


def _stands_at(formula: Worked, position_mm: float) -> None:
    """Rounded to a step, up or down as is safe; what the plan says of the place is said here too."""
    assert result(formula) == pytest.approx(position_mm, abs=0.101)
    assert f"stands at {position_mm:.1f} mm" in formula.then


@pytest.mark.parametrize("name", IDS)
def test_echo_margins_are_those_of_the_plan(name: str) -> None:
    case = CASES[name]
    worked = {one.what.removesuffix(", in the worst air"): one for one in formulas(case)}
    for echo in case.plan.grounds.echoes:
        margin = worked[f"margin of the {echo.target} at {echo.at_mm:g} mm"]
        assert result(margin) == pytest.approx(echo.margin_db, abs=0.02)


@pytest.mark.parametrize("name", IDS)
def test_risks_and_times_are_those_of_the_plan(name: str) -> None:
    case = CASES[name]
    for risk in case.plan.grounds.risks:
        worked = chapter(case, f"risks of deciding on the {POINT_NAMES[risk.point]}")
        spread = worked[f"spread of units about the {POINT_NAMES[risk.point]} (standard deviation)"]
        assert result(spread) == pytest.approx(risk.spread_mm, rel=1e-4)
        passes, fails = (
            worked["a unit just outside its tolerance passes"],
            next(
                worked[what] for what in worked if what.startswith("a unit just inside its tolerance fails")
            ),
        )
        assert result(passes) == pytest.approx(risk.passes_at_limit, rel=5e-3)
        assert result(fails) == pytest.approx(risk.fails_at_limit, rel=5e-3)
    times = chapter(case, "time")
    assert result(times["a unit on the bench"]) == pytest.approx(case.plan.expected_s, abs=0.02)
    parts = {part.what: part.seconds for part in case.plan.times}
    assert result(times["readings at checking"]) == pytest.approx(parts["readings at checking"])


def test_a_soft_object_a_shape_and_a_tilt_each_take_their_decibels() -> None:
    """The margins of the cases above differ as data sheet and beam say, so none of them rests on nothing."""
    soft, plain = CASES["soft and tilted"], CASES["tilted"]
    margins = [case.plan.grounds.echoes[0].margin_db for case in (soft, plain)]
    assert margins[0] < margins[1] - 3
    assert "what soft objects lack" in {one.what for one in formulas(soft)}
    assert "what rough objects lack" in {one.what for one in formulas(CASES["loose goods"])}
    assert "what round objects lack" in {one.what for one in formulas(CASES["filling-hall-need"])}
    assert "place in the beam" in {one.what for one in formulas(plain)}


LINES = st.recursive(
    st.floats(0.1, 9).map(lambda number: f"{number:.3g}"),
    lambda inner: (
        st.builds("({} {} {})".format, inner, st.sampled_from("+-*/"), inner)
        | st.builds("{}({})".format, st.sampled_from(["abs", "Phi", "J1"]), inner)
        | inner.map(lambda text: f"(-{text})")
    ),
    max_leaves=6,
)


@given(LINES)
def test_both_calculators_agree_on_any_line(line: str) -> None:
    try:
        expected = value_of(line)
    except ZeroDivisionError:
        with pytest.raises(ZeroDivisionError):
            worked_out(line)
        return
    assert worked_out(line) == pytest.approx(expected, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("line", ["2^3", "10^(-0.5)", "-2^2", "E(3393, 296.15)", "log10(2)", "max(1, 2)"])
def test_powers_and_functions_mean_what_they_mean_elsewhere(line: str) -> None:
    assert worked_out(line) == pytest.approx(value_of(line))


@pytest.mark.parametrize(
    "line", ["x", "open(1)", "1 if 2 else 3", "'a'", "[1]", "2 // 1", "(1).real", "abs.real"]
)
def test_the_calculator_takes_figures_only(line: str) -> None:
    with pytest.raises(ValueError, match="cannot work out"):
        worked_out(line)


def test_the_calculators_have_the_same_keys() -> None:
    assert FUNCTIONS.keys() == KEYS.keys()


@pytest.mark.parametrize("name", [name for name in IDS if CASES[name].plan.measuring])
def test_limits_of_measured_edges_are_those_that_judge(name: str) -> None:
    case = CASES[name]
    assert case.plan.measuring is not None
    required = {one.name: one for one in case.plan.measuring.required}
    for one in case.plan.grounds.points:
        worked = chapter(case, f"limits of the {POINT_NAMES[one.point]} as it is measured")
        edge = "inner" if one.point is SetPoint.NEAR else "outer"
        guard_mm = case.zone.rule_guard(one.machine_mm * case.zone.scale)
        operate, release = required[f"operate point, {edge}"], required[f"release point, {edge}"]
        assert operate.low is not None
        assert operate.high is not None
        assert result(worked["operate point: good from"]) == pytest.approx(operate.low + guard_mm, abs=0.01)
        assert result(worked["operate point: bad above"]) == pytest.approx(operate.high + guard_mm, abs=0.01)
        limit = next(worked[what] for what in worked if what.startswith("release point"))
        assert result(limit) == pytest.approx(release.high or release.low, abs=0.01)
