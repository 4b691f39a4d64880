"""What the checks may decide wrongly, and how long a unit takes."""

from __future__ import annotations

from rig.explained.sheet import Given, Sheet, given
from rig.planning.grounds import PointRisk
from rig.planning.planned import POINT_NAMES, Planned

_NORMAL = "Phi: table of the normal distribution (JCGM 106, 7)"
_SPREAD = (
    "the largest error of a data sheet holds for 95 % of units: two standard deviations (common practice)"
)


def risk_formulas(sheet: Sheet, planned: Planned, risk: PointRisk) -> None:
    """The spread of units about a set point, and the verdicts at the very end of its tolerance."""
    sensing, name = planned.case.sensing, POINT_NAMES[risk.point]
    percent, key = sensing.teach_error_percent, "teach_error_percent"
    if not percent:
        percent, key = sensing.repeat_accuracy_percent, "repeat_accuracy_percent"
    bench_mm = planned.setting.set_points_mm[risk.point] * planned.zone.scale
    numbers = {
        "e": given(percent, f"sensing.{key} of the type"),
        "P": given(round(bench_mm, 4), f"{name} on the bench, in mm"),
    }
    what = f"spread of units about the {name} (standard deviation)"
    sheet.work(what, "v = e / 100 / 2 * P", numbers, "mm", _SPREAD)
    at_limit = {
        "w": given(round(risk.guard_mm, 6), "guard of the rule, from the budget, in mm"),
        "u": given(round(risk.doubt_mm, 6), "combined standard uncertainty, in mm"),
    }
    what = "a unit just outside its tolerance passes"
    sheet.work(what, "q = Phi(-w / u)", at_limit, "of one", _NORMAL, digits=3)
    if planned.case.measured:
        what, formula = "a unit just inside its tolerance fails", "q = Phi(-w / u)"
    else:
        what = "a unit just inside its tolerance fails: both readings err"
        formula = "q = Phi(w / u) * Phi(-w / u)"
    sheet.work(what, formula, at_limit, "of one", _NORMAL, digits=3)


def motion_formulas(sheet: Sheet, planned: Planned) -> None:
    """How long passing objects and gaps are in front of the unit, and what speed it can follow."""
    motion, timing = planned.case.need.motion, planned.case.sensor_type.timing
    if motion is None:
        return
    speed = given(motion.speed_m_s, "need.motion.speed_m_s")
    length = given(motion.object_length_mm, "need.motion.object_length_mm")
    response = given(timing.response_on_s, "timing.response_on_s of the type")
    sheet.work("an object is in front of the unit for", "t = L / 1000 / v", {"L": length, "v": speed}, "s")
    what, numbers = "the highest speed at which it is seen", {"L": Given(length.text), "r": response}
    sheet.work(what, "V = L / 1000 / r", numbers, "m/s", "in front for a whole response time")
    if motion.gap_mm is not None:
        gap = {"g": given(motion.gap_mm, "need.motion.gap_mm"), "v": Given(speed.text)}
        sheet.work("a gap passes in", "t = g / 1000 / v", gap, "s")


def time_formulas(sheet: Sheet, planned: Planned) -> None:
    """The readings of one unit, and the whole time on the bench."""
    timing, checks = planned.case.sensor_type.timing, planned.case.order.checks
    numbers = {
        "f": given(checks.settle_factor, "checks.settle_factor of the order"),
        "r": given(checks.readings, "checks.readings of the order"),
        "t": given(
            max(timing.response_on_s, timing.response_off_s), "timing of the type: the longer response"
        ),
        "n": given(len(planned.plan.checks), "check positions"),
    }
    sheet.work("readings at checking", "w = n * (f + r) * t", numbers, "s")
    parts = {
        f"t{number}": given(round(part.seconds, 3), part.what)
        for number, part in enumerate(planned.plan.times, start=1)
    }
    sheet.work("a unit on the bench", f"t = {' + '.join(parts)}", parts, "s", digits=4)
