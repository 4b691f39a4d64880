"""The uncertainty budget of a set point, row by row, up to the guard of its checks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from rig.edges.edge import FINDING
from rig.edges.task import FINEST_BENCH_SHARE
from rig.explained.air import bench_speed, law_extra_m_s, middle_speed, speed
from rig.explained.sheet import Given, Sheet, given
from rig.planning.air import LIMITS, Air
from rig.planning.budget import CALIBRATED, COVERAGE
from rig.planning.planned import POINT_NAMES, Planned
from sequences.words import Rule, SetPoint
from wiring.profile import TargetProfile

RECTANGLE = "limits, taken as a rectangle (JCGM 100, 4.3.7)"
_BURSTS = given(460e-6, "bursts against sound at zero frequency, share (Morfey and Howell 1980)")


@dataclass(frozen=True, slots=True)
class Row:
    """One source of doubt: its half-width `a` over root three, and what a unit of it makes in mm, `s`."""

    source: str
    formula: str
    numbers: Mapping[str, Given]
    standard: str = RECTANGLE


def budget_formulas(sheet: Sheet, planned: Planned, point: SetPoint | None) -> Given:
    """The budget at the guard position of a set point, or at the end of the range; returns the guard."""
    position, measured = _position(sheet, planned, point), planned.case.measured
    rows: dict[str, Given] = {}
    _work_rows(sheet, _target(planned), position, rows)
    if measured:
        _finding(sheet, planned, rows)
    _work_rows(sheet, _air(sheet, planned), position, rows)
    if not measured:
        _work_rows(sheet, _unit(planned), position, rows)
    squares = " + ".join(f"{name}^2" for name in rows)
    combined = sheet.work(
        "combined standard uncertainty", f"u = sqrt({squares})", rows, "mm", "JCGM 100, 5.1.2"
    )
    why = f"{100 * COVERAGE:g} % of a normal distribution: every row has endless degrees of freedom (JCGM 100, G.6)"
    k = given(2, why)
    expanded = sheet.work(
        "expanded uncertainty", "U = k * u", {"k": k, "u": combined}, "mm", "JCGM 100, 6.2.1"
    )
    return _guard(sheet, planned, combined, expanded)


def guard_letter(planned: Planned) -> str:
    """What the guard is called in formulas: `U` where it is the expanded uncertainty itself."""
    return "U" if planned.case.rule.kind is Rule.GUARDED else "w"


def _guard(sheet: Sheet, planned: Planned, combined: Given, expanded: Given) -> Given:
    rule = planned.case.rule
    if rule.largest_risk is not None:
        risk = given(rule.largest_risk, "checks.largest_risk of the order")
        z = given(round(rule.guard(1.0, 1.0), 9), f"table of the normal distribution: Phi(-z) = {risk.text}")
        what = "guard: a value so far inside a limit is wrong with that risk at most"
        return sheet.work(what, "w = z * u", {"z": z, "u": combined}, "mm", "JCGM 106, 8")
    if rule.kind is Rule.GUARDED:
        return expanded
    return sheet.work("guard", "w = n", {"n": given(0, "simple acceptance: none")}, "mm", "JCGM 106, 8")


def _work_rows(sheet: Sheet, rows: Iterable[Row], position: Given, worked: dict[str, Given]) -> None:
    for row in rows:
        if row.numbers["a"].value > 0:
            numbers = {**row.numbers, "d": position} if row.formula.endswith("* d") else row.numbers
            name = f"u{len(worked) + 1}"
            worked[name] = sheet.work(row.source, f"{name} = {row.formula}", numbers, "mm", row.standard)


def _finding(sheet: Sheet, planned: Planned, worked: dict[str, Given]) -> None:
    """What the readings may leave open: so much that the bench keeps its share of the finest uncertainty."""
    share = given(
        FINEST_BENCH_SHARE, "share that the bench itself has in the finest uncertainty (our choice)"
    )
    grows = [row.formula.endswith("* d") for row in _target(planned) if row.numbers["a"].value > 0]
    bench = list(zip(list(worked.items()), grows, strict=True))
    for what, growing in ((FINDING, False), (f"{FINDING}, by distance", True)):
        rows = dict(pair for pair, one in bench if one is growing)
        squares, name = " + ".join(f"{row}^2" for row in rows), f"u{len(worked) + 1}"
        formula = f"{name} = sqrt(1 / s^2 - 1) * sqrt({squares})"
        worked[name] = sheet.work(what, formula, {"s": share, **rows}, "mm")


def guard_at(sheet: Sheet, planned: Planned, at_mm: float) -> Given:
    """The guard at any other position: the same rows, in short."""
    doubt = planned.zone.doubt
    numbers = {
        "k": Given("2"),
        "f": Given(
            f"{doubt.fixed_mm:.6g}",
            "what is the same everywhere in the budget of a single reading, combined, in mm",
        ),
        "g": Given(f"{doubt.share:.6g}", "what grows with the distance in it, combined, in mm a mm"),
        "d": given(at_mm, "the position, in mm"),
    }
    formula = "U = k * sqrt(f^2 + (g * d)^2)"
    return sheet.work(f"expanded uncertainty at {at_mm:g} mm", formula, numbers, "mm", "JCGM 100, 5.1.2")


def _position(sheet: Sheet, planned: Planned, point: SetPoint | None) -> Given:
    if point is None:
        return given(planned.zone.end, "the end of the range as it is checked, in mm")
    numbers = {
        "m": given(planned.setting.set_points_mm[point], f"{POINT_NAMES[point]}, in mm"),
        "T": given(planned.setting.tolerance_mm or 0.0, "tolerance, in mm"),
    }
    if planned.zone.scale == 1:
        return sheet.work("where the guard is taken: the end of the tolerance", "d = m + T", numbers, "mm")
    numbers |= {"cb": bench_speed(sheet, planned), "cm": middle_speed(sheet, planned)}
    what = "where the guard is taken, on the bench: the end of the tolerance"
    return sheet.work(what, "d = (m + T) * cb / cm", numbers, "mm")


def _target(planned: Planned) -> Iterator[Row]:
    target = planned.case.rig.target

    def row(source: str, formula: str, key: str) -> Row:
        return Row(source, formula, {"a": given(getattr(target, key), f"target.{key} of the rig")})

    yield _zero(target) or row("zero of the nest", "a / sqrt(3)", "zero_error_mm")
    yield row("step of the target", "a / 2 / sqrt(3)", "resolution_mm")
    if not planned.case.measured:
        yield row("placement of the target", "a / sqrt(3)", "placement_mm")
    yield _scale(target) or row("scale of the target", "a / 100 / sqrt(3) * d", "scale_error_percent")
    yield row("tilt of the target's way (cosine error)", "(1 - cos(a)) / sqrt(3) * d", "tilt_deg")


_CALIBRATED = "standard uncertainty by the calibration in force (teachrig calibrate)"
_FITTED = "a line by least squares (JCGM 100, H.3)"


def _zero(target: TargetProfile) -> Row | None:
    made, words = target.calibrated, f"{_CALIBRATED}, in mm"
    return (
        None
        if made is None
        else Row(f"zero of the nest{CALIBRATED}", "a", {"a": given(made.zero_u_mm, words)}, _FITTED)
    )


def _scale(target: TargetProfile) -> Row | None:
    made, words = target.calibrated, f"{_CALIBRATED}, in %"
    if made is None:
        return None
    numbers = {"a": given(made.scale_u_percent, words)}
    return Row(f"scale of the target{CALIBRATED}", "a / 100 * d", numbers, _FITTED)


def _air(sheet: Sheet, planned: Planned) -> Iterator[Row]:
    conditions, sensing = planned.case.conditions, planned.case.sensing
    if conditions.span is None:
        return
    if conditions.compensated:
        numbers = {
            "a": given(conditions.doubt.temperature_k, "air.temperature_error_k of the rig"),
            "e": given(sensing.drift_percent_per_k, "sensing.drift_percent_per_k of the type"),
        }
        yield Row("rest of the unit's own air correction", "e / 100 * a / sqrt(3) * d", numbers)
        return
    yield Row("sound of bursts above that of the law", "a / sqrt(3) * d", {"a": _BURSTS})
    middle, bench = middle_speed(sheet, planned), bench_speed(sheet, planned)
    yield _law("machine", conditions.machine, middle)
    yield _law("bench", conditions.bench, bench)
    doubt = conditions.doubt
    for name, field, half_width, key in (
        ("temperature", "temperature_c", doubt.temperature_k, "temperature_error_k"),
        ("humidity", "humidity_percent", doubt.humidity_percent, "humidity_error_percent"),
        ("pressure", "pressure_kpa", doubt.pressure_kpa, "pressure_error_kpa"),
    ):
        yield _reading(sheet, planned, f"{name}, bench", field, half_width, key)


def _law(place: str, air: Air, c: Given) -> Row:
    numbers, formula = {"a": given(300e-6, "Cramer 1993: within 300 ppm"), "c": c}, "a * c / sqrt(3) / c * d"
    extra = law_extra_m_s(air)
    if extra:
        numbers["w"] = given(
            extra, "0.05 m/s and 9 m/s times the squared share of vapour: the law is extended"
        )
        formula = "(a * c + w) / sqrt(3) / c * d"
    return Row(f"law of the speed of sound, {place}", formula, numbers)


def _reading(sheet: Sheet, planned: Planned, source: str, field: str, half_width: float, key: str) -> Row:
    """A reading of the air, with the slope of the speed of sound taken over its own doubt."""
    bench = planned.case.conditions.bench
    lowest, highest, _ = LIMITS[field]
    at, step = getattr(bench, field), max(half_width, 1e-3 * (highest - lowest))
    low, high = max(lowest, at - step), min(highest, at + step)
    where = f"on the bench, {source.split(',')[0]}"
    numbers = {
        "a": given(half_width, f"air.{key} of the rig"),
        "c1": speed(
            sheet, replace(bench, **{field: low}), f"{where} lower", "air of the rig, less its error"
        ),
        "c2": speed(
            sheet, replace(bench, **{field: high}), f"{where} higher", "air of the rig, and its error"
        ),
        "w": given(round(high - low, 9), "from the lower to the higher"),
        "c": bench_speed(sheet, planned),
    }
    return Row(source, "a / sqrt(3) * abs(c2 - c1) / w / c * d", numbers)


def _unit(planned: Planned) -> Iterator[Row]:
    sensing = planned.case.sensing
    step = given(sensing.resolution_mm or 0.0, "sensing.resolution_mm of the type")
    yield Row("step of the unit", "a / 2 / sqrt(3)", {"a": step})
    repeat = given(
        sensing.repeat_accuracy_percent, "sensing.repeat_accuracy_percent of the type: the whole width"
    )
    yield Row("repeat accuracy of the unit", "a / 2 / 100 / sqrt(3) * d", {"a": repeat})
