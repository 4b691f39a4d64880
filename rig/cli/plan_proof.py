"""What the checks of a plan are worth: set points, uncertainty budgets, echoes, risks."""

from __future__ import annotations

from rig.cli.layout import Page
from rig.edges.edge import FINDING
from rig.planning.budget import CALIBRATED
from rig.planning.grounds import BudgetRow, PointRisk, PositionBudget
from rig.planning.planned import POINT_NAMES, Planned
from sequences.words import Rule, SetPoint


def print_proof(planned: Planned, page: Page) -> None:
    """The sections on what is proven and how well."""
    print_points(planned, page)
    for point, budget in planned.budgets():
        _print_budget(planned, page, point, budget)
    _print_echoes(planned, page)
    for risk in planned.plan.grounds.risks:
        _print_risk(page, risk)


def print_points(planned: Planned, page: Page) -> None:
    """Set points, tolerance and guard."""
    points = planned.plan.grounds.points
    if not points:
        return
    page.heading("set points")
    drifts = planned.case.conditions.span is not None
    columns = [
        "",
        ">machine mm",
        ">bench mm",
        ">tolerance mm",
        ">guard mm",
        *([">over the air mm"] if drifts else []),
    ]
    page.table(
        columns,
        [
            (
                POINT_NAMES[one.point],
                f"{one.machine_mm:g}",
                f"{one.bench_mm:.1f}",
                f"{one.tolerance_mm:g}",
                f"{one.guard_mm:.2f}",
                *([f"{one.drift_nearest_mm:.1f} to {one.drift_farthest_mm:.1f}"] if drifts else []),
            )
            for one in points
        ],
    )
    if drifts:
        where = "on the bench" if planned.case.conditions.compensated else "in the middle of that air"
        page.say(f"over the air: where a set point goes that is right {where}; the tolerance comes on top")


def _print_budget(planned: Planned, page: Page, point: SetPoint | None, budget: PositionBudget) -> None:
    what = "the end of the range" if point is None else f"the {POINT_NAMES[point]}"
    page.heading(f"uncertainty of {what}, at {budget.position_mm:.1f} mm on the bench (JCGM 100)")
    columns = ("source", ">std unc.", "unit", "type, dof", ">mm/unit", ">mm", ">%")
    page.table(columns, [_budget_cells(row) for row in budget.rows])
    freedom = "endless" if budget.degrees_of_freedom is None else f"{budget.degrees_of_freedom:.1f}"
    page.pairs(
        [
            (
                "type",
                "B rect: limits, taken as a rectangle; A: from readings; inf: endless degrees of freedom",
            ),
            ("combined", f"u = {budget.combined_mm:.3f} mm, with {freedom} effective degrees of freedom"),
            (
                "expanded",
                f"U = {budget.expanded_mm:.2f} mm, k = {budget.coverage_factor:.2f} for "
                f"{100 * budget.coverage:.2f} %",
            ),
            ("guard", _guard_words(planned, budget)),
        ]
    )


def _guard_words(planned: Planned, budget: PositionBudget) -> str:
    """What the rule of the order makes of an uncertainty."""
    rule, guard_mm = planned.case.rule, planned.zone.guards * budget.expanded_mm
    if rule.kind is Rule.SIMPLE:
        return "none: simple acceptance"
    how = "w = U" if rule.largest_risk is None else f"for a risk of {100 * rule.largest_risk:g} % at most"
    return f"{guard_mm:.2f} mm inside the tolerance is good, as far outside bad: {how}"


def _budget_cells(row: BudgetRow) -> tuple[str, ...]:
    freedom = "inf" if row.degrees_of_freedom is None else f"{row.degrees_of_freedom:g}"
    return (
        row.source,
        f"{row.standard_uncertainty:.3g}",
        row.unit,
        f"{_type(row.source)}, {freedom}",
        f"{row.sensitivity:.4g}",
        f"{row.contribution_mm:.3f}",
        f"{100 * row.share:.1f}",
    )


def _type(source: str) -> str:
    from_readings = source.startswith(FINDING) or source.endswith(CALIBRATED)
    return "A" if from_readings else "B rect"


def _print_echoes(planned: Planned, page: Page) -> None:
    page.heading("echo margins: 0 dB is the weakest echo that the type promises to hear")
    page.table(
        ("target", ">at mm", "where", ">dB", ">bears tilt deg"),
        [
            (
                echo.target,
                f"{echo.at_mm:g}",
                "machine" if echo.at_machine else "bench",
                f"{echo.margin_db:.1f}",
                "-" if echo.largest_tilt_deg is None else f"{echo.largest_tilt_deg:.1f}",
            )
            for echo in planned.plan.grounds.echoes
        ],
    )
    beam = planned.plan.grounds.beam
    page.say(
        f"beam: {2 * beam.half_angle_deg:.1f} degrees to -3 dB (ka {beam.ka:.1f}), "
        f"near field {beam.near_field_mm:.0f} mm"
    )


def _print_risk(page: Page, risk: PointRisk) -> None:
    page.heading(f"risks of deciding on the {POINT_NAMES[risk.point]} (JCGM 106)")
    page.pairs(
        [
            (
                "taken",
                f"units spread by {risk.spread_mm:.2f} mm about it (standard deviation), a reading by "
                f"{risk.doubt_mm:.2f} mm; guard {risk.guard_mm:.2f} mm",
            ),
            (
                "at the limit",
                f"a unit just outside tolerance passes with {_percent(risk.passes_at_limit)}, "
                f"one just inside fails with {_percent(risk.fails_at_limit)}",
            ),
            (
                "of all units",
                f"{_percent(risk.passed_outside)} passed though outside, {_percent(risk.failed_inside)} "
                f"failed though inside, {_percent(risk.undecided)} left undecided",
            ),
        ]
    )


def _percent(share: float) -> str:
    percent = 100 * share
    if percent < 0.0001:
        return "less than 0.0001 %"
    return f"{percent:.2g} %" if percent < 10 else f"{percent:.0f} %"
