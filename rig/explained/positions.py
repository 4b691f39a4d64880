"""Where the output is read on the bench, and what is left between a set point and the things around it."""

from __future__ import annotations

from collections.abc import Mapping

from rig.deciding.requirement import RANGE_END_SHARE
from rig.explained.air import bench_distance, bench_speed, middle_speed
from rig.explained.budget import guard_at, guard_letter
from rig.explained.sheet import Given, Sheet, given
from rig.planning.grounds import Clearance, PointGrounds
from rig.planning.plan import Check, Requirement
from rig.planning.planned import POINT_NAMES, Planned
from sequences.words import SetPoint
from wiring.saying import say

_GUARDED = "acceptance and rejection with the guard of the rule (JCGM 106, 8)"
_TRAVEL = "a good unit's largest differential travel"

# For the outer edge of the zone and the inner one: requirement, formula of the first reading and of the second.
_EDGES: Mapping[bool, tuple[tuple[Requirement, str, str], ...]] = {
    True: (
        (Requirement.OUTER_NOT_FAR, "P + T - U", "P + T + U"),
        (Requirement.OUTER_NOT_NEAR, "P - T + U", "P - T - U"),
        (Requirement.OUTER_RELEASE, "P + T - U + H", "P + T + U + H"),
    ),
    False: (
        (Requirement.INNER_NOT_NEAR, "P - T + U", "P - T - U"),
        (Requirement.INNER_NOT_FAR, "P + T - U", "P + T + U"),
        (Requirement.INNER_RELEASE, "P - T + U - H", "P - T - U - H"),
    ),
}


def edge_formulas(sheet: Sheet, planned: Planned, grounds: PointGrounds, guard: Given) -> None:
    """The readings on either side of one set point, on the bench."""
    letter = guard_letter(planned)
    numbers = {**_on_the_bench(sheet, planned, grounds), letter: guard}
    numbers["H"] = _travel(sheet, planned, grounds.point, numbers)
    for requirement, *formulas in _EDGES[grounds.point is not SetPoint.NEAR]:
        check = _check(planned, requirement)
        if check is None:
            continue
        first, second = (formula.replace("U", letter) for formula in formulas)
        wanted = {name: number for name, number in numbers.items() if name in first}
        sheet.work(str(requirement), f"x = {first}", wanted, "mm", _GUARDED, then=_set_at(check.position_mm))
        if check.proof_mm is not None:
            what = say(
                "{requirement}: read again after a wrong answer, to prove the unit bad",
                requirement=requirement,
            )
            sheet.work(what, f"y = {second}", wanted, "mm", _GUARDED, then=_set_at(check.proof_mm))


def measured_formulas(sheet: Sheet, planned: Planned, grounds: PointGrounds, guard: Given) -> None:
    """Between which values a measured edge is good, and beyond which it is bad, as finely as the rig can measure."""
    letter, outwards = guard_letter(planned), grounds.point is not SetPoint.NEAR
    numbers = {**_on_the_bench(sheet, planned, grounds), letter: guard}
    rows = (
        ("operate point: good from", f"a = P - T + {letter}"),
        ("operate point: good up to", f"b = P + T - {letter}"),
        ("operate point: bad below", f"c = P - T - {letter}"),
        ("operate point: bad above", f"e = P + T + {letter}"),
    )
    for what, formula in rows:
        sheet.work(what, formula, numbers, "mm", _GUARDED)
    numbers["H"] = _travel(sheet, planned, grounds.point, numbers)
    known = {name: numbers[name] for name in ("P", "T", "H")}
    formula = "L = P + T + H" if outwards else "L = P - T - H"
    sheet.work(say("release point: limit{what}", what="" if outwards else ", nearest"), formula, known, "mm")


def end_formulas(sheet: Sheet, planned: Planned) -> None:
    """The readings inside the zone and at the ends of the sensing range."""
    target, zone = planned.case.rig.target, planned.zone
    check = _check(planned, Requirement.DETECTS_INSIDE)
    if check is not None:
        ends = {
            "a": given(zone.start, "the nearest position at which every good unit detects, in mm"),
            "b": given(zone.end, "the farthest, in mm"),
        }
        sheet.work(str(check.requirement), "x = (a + b) / 2", ends, "mm", then=_set_at(check.position_mm))
    check = _check(planned, Requirement.BLIND_END)
    if check is not None:
        blind = _in_bench_air(sheet, planned, "blind_zone_mm")
        numbers = {
            "B": blind,
            "U": guard_at(sheet, planned, blind.value),
            "n": given(target.nearest_mm, "target.nearest_mm of the rig"),
        }
        why = "clear of the blind zone by two guards, and by 2 mm or 4 % of it at least"
        formula = "x = max(B + max(2 * U, min(2, 0.04 * B)), n)"
        sheet.work(str(check.requirement), formula, numbers, "mm", why, then=_set_at(check.position_mm))
    check = _check(planned, Requirement.RANGE_END)
    if check is not None:
        reach = _in_bench_air(sheet, planned, "range_mm")
        numbers = {
            "s": given(RANGE_END_SHARE, "share of the range at which a good unit still detects"),
            "R": reach,
            "U": guard_at(sheet, planned, reach.value),
            "f": given(target.farthest_mm, "target.farthest_mm of the rig"),
        }
        formula = "x = min(s * R, R - U, f)"
        sheet.work(str(check.requirement), formula, numbers, "mm", then=_set_at(check.position_mm))


def _in_bench_air(sheet: Sheet, planned: Planned, key: str) -> Given:
    """A distance of the data sheet as the air of the bench leaves it."""
    own_mm, here_mm = getattr(planned.case.sensing, key), getattr(planned.zone.sensing, key)
    stated = given(own_mm, f"sensing.{key} of the type")
    if here_mm == own_mm:
        return stated
    factor = Given(f"{here_mm / own_mm:.6g}", "what the air of the bench makes of it, at worst")
    what = say(
        "{line} in the air of the bench; data sheets hold at 23 °C",
        line=key.removesuffix("_mm").replace("_", " "),
    )
    return sheet.work(what, "Z = z * q", {"z": stated, "q": factor}, "mm")


def clearance_formulas(sheet: Sheet, planned: Planned, grounds: PointGrounds) -> None:
    """What is left between a set point at its worst and the things at the machine."""
    for clearance in grounds.clear_of:
        _clearance(sheet, planned, grounds, clearance)


def _clearance(sheet: Sheet, planned: Planned, grounds: PointGrounds, clearance: Clearance) -> None:
    outwards = clearance.at_mm > grounds.machine_mm
    drift_mm = grounds.drift_farthest_mm if outwards else grounds.drift_nearest_mm
    numbers = {
        "z": given(clearance.at_mm, f"{clearance.of}, in mm"),
        "D": Given(
            f"{drift_mm:.6g}", "farthest place over the machine's air" if outwards else "nearest place of it"
        ),
        "T": given(grounds.tolerance_mm, "tolerance, in mm"),
        "U": Given(f"{grounds.guard_mm:.6g}", "guard at the machine: that of the bench over cb / cm"),
    }
    lets_go = outwards is not (grounds.point is SetPoint.NEAR)
    travel = " - H" if lets_go else ""
    if lets_go:
        sign = 1 if outwards else -1
        operate_mm = max(0.0, grounds.machine_mm + sign * grounds.tolerance_mm)
        largest_mm = planned.case.sensing.hysteresis_largest_mm(operate_mm)
        numbers["H"] = Given(f"{largest_mm:.6g}", _TRAVEL)
    what = say(
        "left between the {point_names} at its worst and {of}",
        point_names=POINT_NAMES[grounds.point],
        of=clearance.of,
    )
    formula = f"s = z - D - T - U{travel}" if outwards else f"s = D - T - U{travel} - z"
    sheet.work(what, formula, numbers, "mm", digits=5)


def _on_the_bench(sheet: Sheet, planned: Planned, grounds: PointGrounds) -> dict[str, Given]:
    distance = bench_distance(sheet, planned, grounds)
    tolerance = given(grounds.tolerance_mm, "tolerance at the machine, in mm")
    if planned.zone.scale == 1:
        return {"P": distance, "T": tolerance}
    speeds = {"cb": bench_speed(sheet, planned), "cm": middle_speed(sheet, planned)}
    numbers = {"e": tolerance, **speeds}
    return {"P": distance, "T": sheet.work("tolerance on the bench", "T = e * cb / cm", numbers, "mm")}


def _travel(sheet: Sheet, planned: Planned, point: SetPoint, numbers: Mapping[str, Given]) -> Given:
    sensing = planned.case.sensing
    limits = {
        "h": given(sensing.hysteresis_largest_percent, "sensing.hysteresis_largest_percent of the type"),
        "n": given(sensing.hysteresis_min_mm, "sensing.hysteresis_min_mm of the type"),
    }
    sign = "-" if point is SetPoint.NEAR else "+"
    known = {name: numbers[name] for name in ("P", "T")}
    return sheet.work(_TRAVEL, f"H = max(n, h / 100 * (P {sign} T))", {**known, **limits}, "mm")


def _check(planned: Planned, requirement: Requirement) -> Check | None:
    return next((check for check in planned.plan.checks if check.requirement is requirement), None)


def _set_at(position_mm: float | None) -> str:
    return say(
        "the target stands at {position_mm:.1f} mm: rounded to a step that can be set, to the safe side",
        position_mm=position_mm,
    )
