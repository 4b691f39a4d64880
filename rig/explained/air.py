"""The speed of sound in every air of a plan, and what the change of air does to a set point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from rig.explained.sheet import Given, Sheet, given
from rig.planning.air import Air, SoundLaw, speed_of_sound_m_s
from rig.planning.bench_position import AirRange
from rig.planning.grounds import PointGrounds
from rig.planning.planned import POINT_NAMES, Planned

CRAMER = "Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, eq. 15"
_WATER = (
    "xw = h / 100 * (1.00062 + 3.14e-8 * p + 5.6e-7 * t^2) * exp(1.2811805e-5 * (t + 273.15)^2 "
    "- 1.9509874e-2 * (t + 273.15) + 34.04926034 - 6353.6311 / (t + 273.15)) / p"
)
_SPEED = (
    "331.5024 + 0.603055 * t - 0.000528 * t^2"
    " + (51.471935 + 0.1495874 * t - 0.000782 * t^2) * xw"
    " + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t^2) * p"
    " + (-85.20931 - 0.228525 * t + 5.91e-5 * t^2) * xc"
    " - 2.835149 * xw^2 - 2.15e-13 * p^2 + 29.179762 * xc^2 + 0.000486 * xw * p * xc"
)
_HEAT = (
    "(1 - xw - xc) * (0.7808 * (3.5 + E(3393, T)) + 0.2095 * (3.5 + E(2273, T)) + 0.0097 * 2.5)"
    " + xw * (4 + E(2295, T) + E(5255, T) + E(5400, T))"
    " + xc * (3.5 + 2 * E(960, T) + E(1995, T) + E(3380, T))"
)
_MASS = "28.9635 * (1 - xw - xc) + 18.0153 * xw + 44.0095 * xc"
_IDEAL = (
    "ideal humid air: heat capacity over R, E(a, T) = (x / sinh(x))^2 with x = a / 2 / T; molar mass in g/mol"
)
_ECHO_TIME = "the unit stores the time of the echo, 2 * m / cm"
_TIED = "law of the ideal gas, tied to Cramer's equation at the nearest air that it covers"


def bench_speed(sheet: Sheet, planned: Planned) -> Given:
    """The speed of sound on the bench."""
    return speed(sheet, planned.case.conditions.bench, "on the bench", "air of the rig")


def middle_speed(sheet: Sheet, planned: Planned) -> Given:
    """The speed of sound in the middle of the machine's air."""
    return speed(sheet, planned.case.conditions.machine, "at the machine", "need.air, the middle")


def speed(sheet: Sheet, air: Air, where: str, source: str) -> Given:
    """The speed of sound in one air, in m/s; worked out only where it is asked for first."""
    return sheet.once(air, lambda: _speed_in(sheet, air, where, source))


def law_extra_m_s(air: Air) -> float:
    """What the law of the speed of sound adds to its half-width where it is extended."""
    return 0.0 if speed_of_sound_m_s(air).valid else 0.05 + 9 * air.water_fraction**2


def _speed_in(sheet: Sheet, air: Air, where: str, source: str) -> Given:
    words = f"{air.temperature_c:g} °C, {air.humidity_percent:g} %, {air.pressure_kpa:.6g} kPa"
    numbers = {
        "t": given(air.temperature_c, f"{source}: °C"),
        "h": given(air.humidity_percent, f"{source}: relative humidity in %"),
        "p": given(round(1000 * air.pressure_kpa, 1), f"{source}: pressure in Pa"),
    }
    water = sheet.work(f"share of water vapour, {words}", _WATER, numbers, "", "Cramer 1993, appendix")
    carbon = given(air.co2_ppm * 1e-6, "carbon dioxide taken for outdoor air of the mid 2020s")
    mixture = {"t": Given(numbers["t"].text), "p": Given(numbers["p"].text), "xw": water, "xc": carbon}
    what = f"speed of sound {where}, {words}"
    if speed_of_sound_m_s(air).law is SoundLaw.CRAMER:
        return sheet.work(what, f"c = {_SPEED}", mixture, "m/s", CRAMER, digits=9)
    return _tied_speed(sheet, what, mixture)


def drift_formulas(sheet: Sheet, planned: Planned) -> None:
    """Where each set point is taught for the machine's air, and how far that air moves it; nothing without one."""
    conditions = planned.case.conditions
    if conditions.span is None or not planned.setting.set_points_mm:
        return
    if conditions.compensated:
        _residual_drift(sheet, planned, conditions.span)
    else:
        _echo_time_drift(sheet, planned, conditions.span)


def _echo_time_drift(sheet: Sheet, planned: Planned, span: AirRange) -> None:
    bench_speed(sheet, planned)
    middle = middle_speed(sheet, planned)
    airs = sorted(span.corners(), key=lambda air: speed_of_sound_m_s(air).value_m_s)
    slowest = speed(sheet, airs[0], "in the slowest air of the machine", "need.air")
    fastest = speed(sheet, airs[-1], "in the fastest air of the machine", "need.air")
    for one in planned.plan.grounds.points:
        name, m = POINT_NAMES[one.point], Given(f"{one.machine_mm:.10g}")
        bench_distance(sheet, planned, one)
        for c, word in ((slowest, "nearest"), (fastest, "farthest")):
            what = f"{word} place of the {name} over the machine's air"
            sheet.work(what, "D = m * c / cm", {"m": m, "c": c, "cm": middle}, "mm", _ECHO_TIME)


def bench_distance(sheet: Sheet, planned: Planned, one: PointGrounds) -> Given:
    """The distance on the bench that is a set point at the machine; the same for a unit that corrects for the air."""
    m = given(one.machine_mm, f"{POINT_NAMES[one.point]} at the machine, in mm")
    if planned.zone.scale == 1:
        return m

    def work() -> Given:
        numbers = {"m": m, "cb": bench_speed(sheet, planned), "cm": middle_speed(sheet, planned)}
        then = f"the target stands at {one.bench_mm:g} mm, the nearest place that can be set"
        what = f"{POINT_NAMES[one.point]} on the bench"
        return sheet.work(what, "P = m * cb / cm", numbers, "mm", _ECHO_TIME, digits=7, then=then)

    return sheet.once(("bench", one.point), work)


def _residual_drift(sheet: Sheet, planned: Planned, span: AirRange) -> None:
    """What the unit's own correction leaves over in the worst corner: it feels temperature, but no humidity."""
    conditions, sensing = planned.case.conditions, planned.case.sensing
    bench, half_damp = conditions.bench, {"humidity_percent": 50.0}

    def left_over(air: Air) -> float:
        damp = [_value(one) / _value(replace(one, **half_damp)) for one in (bench, air)]
        return sensing.drift_percent_per_k / 100 * abs(air.temperature_c - bench.temperature_c) + abs(
            damp[0] / damp[1] - 1
        )

    worst = max(span.corners(), key=left_over)
    numbers = {
        "d": given(sensing.drift_percent_per_k, "sensing.drift_percent_per_k of the type"),
        "t": given(worst.temperature_c, "need.air, worst corner, in °C"),
        "tb": given(bench.temperature_c, "air.temperature_c of the rig"),
        "ca": speed(sheet, worst, "in the worst air of the machine", "need.air"),
        "ch": speed(sheet, replace(worst, **half_damp), "there at 50 %", "need.air"),
        "cb": bench_speed(sheet, planned),
        "cg": speed(sheet, replace(bench, **half_damp), "on the bench at 50 %", "air of the rig"),
    }
    for one in planned.plan.grounds.points:
        m = given(one.machine_mm, f"{POINT_NAMES[one.point]}, in mm")
        formula = "r = m * (d / 100 * abs(t - tb) + abs(cb / cg / (ca / ch) - 1))"
        what = f"drift of the {POINT_NAMES[one.point]} over the machine's air, to either side"
        sheet.work(
            what, formula, {"m": m, **numbers}, "mm", "the unit corrects for temperature, not for humidity"
        )


def _value(air: Air) -> float:
    return speed_of_sound_m_s(air).value_m_s


def _tied_speed(sheet: Sheet, what: str, mixture: Mapping[str, Given]) -> Given:
    """The ideal gas at two airs, scaled to Cramer's equation at the nearer one."""
    t, p, xw, xc = (mixture[name] for name in ("t", "p", "xw", "xc"))
    border = "where Cramer's equation ends: 0 to 30 °C, 75 to 102 kPa, water up to 6 %"
    nearest = {
        "t": given(min(max(t.value, 0.0), 30.0), f"{border}, °C"),
        "p": given(min(max(p.value, 75_000), 102_000), f"{border}, Pa"),
        "xw": xw if xw.value < 0.06 else given(0.06, border),
        "xc": xc,
    }
    tied = sheet.work(
        "speed at the nearest air that is covered", f"c0 = {_SPEED}", nearest, "m/s", CRAMER, digits=9
    )
    parts = {"c0": tied}
    for name, (celsius, water) in {"": (t, xw), "0": (nearest["t"], nearest["xw"])}.items():
        kelvin = given(round(celsius.value + 273.15, 6), "the temperature in K")
        here = {"T": kelvin, "xw": water, "xc": Given(xc.text)}
        parts[f"k{name}"] = sheet.work("heat capacity", f"k{name} = {_HEAT}", here, "R", _IDEAL, digits=9)
        parts[f"M{name}"] = sheet.work("molar mass", f"M{name} = {_MASS}", here, "g/mol", _IDEAL, digits=9)
        parts[f"T{name}"] = Given(kelvin.text)
    formula = "c = c0 * sqrt(k / (k - 1) * T / M) / sqrt(k0 / (k0 - 1) * T0 / M0)"
    return sheet.work(what, formula, parts, "m/s", _TIED, digits=9)
