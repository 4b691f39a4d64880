"""How well a target is heard, from absorption and target strength to the margin over the weakest echo."""

from __future__ import annotations

from rig.explained.air import speed
from rig.explained.sheet import Given, Sheet, given
from rig.planning.air import REFERENCE_AIR, Air
from rig.planning.echo import Cylinder, Plate, Target
from rig.planning.grounds import EchoGrounds
from rig.planning.planned import Planned
from sequences.need import ObjectShape, Surface

_ISO = "ISO 9613-1:1993"
_SONAR = "sonar equation: there and back, each way spread out and swallowed"
_STRENGTH = "of a flat side L the lesser of L / sqrt(l) and sqrt(r / 2); of a radius b, a bent mirror"
_PROMISE = "what the type promises to hear: its standard target at the end of its range"


def echo_formulas(sheet: Sheet, planned: Planned, echo: EchoGrounds) -> None:
    """The margin of one target at one distance, in the air in which it is heard least."""
    case, hearing = planned.case, planned.case.hearing
    where = f"{echo.target} at {echo.at_mm:g} mm"
    if not echo.at_machine:
        side_mm = case.rig.target.side_mm
        target = Plate(side_mm, side_mm)
        levels = {
            "e": echo_level(sheet, planned, target, echo.at_mm, case.conditions.bench, where),
            "w": weakest_level(sheet, planned),
        }
        sheet.work(f"margin of the {where}", "M = e - w", levels, "dB", digits=4)
        return
    air = min(case.conditions.airs(), key=lambda one: hearing.margin(echo.at_mm, one).db)
    levels = {
        "e": echo_level(sheet, planned, hearing.target, echo.at_mm, air, where),
        "w": weakest_level(sheet, planned),
        "v": _tilt_level(sheet, planned, air),
        "s": _loss(sheet, planned, soft=True),
    }
    formula = "e + 2 * v - s - w"
    if hearing.loss_db:
        levels["n"] = echo_level(
            sheet, planned, hearing.sensor.range_target, echo.at_mm, air, "standard target"
        )
        levels["q"] = _loss(sheet, planned, soft=False)
        formula = f"min({formula}, n - s - q - w)"
    sheet.work(f"margin of the {where}, in the worst air", f"M = {formula}", levels, "dB", digits=4)


def weakest_level(sheet: Sheet, planned: Planned) -> Given:
    """The weakest echo that the type must hear."""
    sensor = planned.case.hearing.sensor
    words = f"{_PROMISE}, {sensor.range_mm:g} mm"
    return echo_level(sheet, planned, sensor.range_target, sensor.range_mm, REFERENCE_AIR, words)


def echo_level(sheet: Sheet, planned: Planned, target: Target, at_mm: float, air: Air, words: str) -> Given:
    """The level of an echo, in dB over the source at 1 m."""
    return sheet.once(
        ("echo", target, at_mm, air), lambda: _echo_level(sheet, planned, target, at_mm, air, words)
    )


def _echo_level(sheet: Sheet, planned: Planned, target: Target, at_mm: float, air: Air, words: str) -> Given:
    r = given(at_mm / 1000, "distance, in m")
    formula, sizes = _strength_formula(target)
    wave = {"l": _wavelength_m(sheet, planned, air), "r": r, **sizes}
    strength = sheet.work(f"target strength, {words}", f"S = 20 * log10({formula})", wave, "dB", _STRENGTH)
    numbers = {"S": strength, "r": Given(r.text), "g": _absorption(sheet, planned, air)}
    return sheet.work(f"echo, {words}", "e = S - 2 * (20 * log10(r) + g * r)", numbers, "dB", _SONAR)


def _strength_formula(target: Target) -> tuple[str, dict[str, Given]]:
    if isinstance(target, Cylinder):
        sizes = {
            "L": given(target.length_mm / 1000, "length, in m"),
            "b": given(target.diameter_mm / 2000, "radius, in m"),
        }
        return "min(L / sqrt(l), sqrt(r / 2)) * sqrt(r / 2 / (1 + r / b))", sizes
    width_mm, height_mm = target.flat_sides_mm
    sides = {
        "L": given(width_mm / 1000, "one side, in m"),
        "H": given(height_mm / 1000, "the other side, in m"),
    }
    return "min(L / sqrt(l), sqrt(r / 2)) * min(H / sqrt(l), sqrt(r / 2))", sides


def _wavelength_m(sheet: Sheet, planned: Planned, air: Air) -> Given:
    numbers = {"c": speed(sheet, air, _place(air), _source(planned, air)), "f": _frequency(planned)}
    return sheet.once(
        ("wavelength", air), lambda: sheet.work(f"wavelength {_place(air)}", "l = c / f", numbers, "m")
    )


def _absorption(sheet: Sheet, planned: Planned, air: Air) -> Given:
    return sheet.once(("absorption", air), lambda: _absorption_in(sheet, planned, air))


def _absorption_in(sheet: Sheet, planned: Planned, air: Air) -> Given:
    source = _source(planned, air)
    T = given(round(air.temperature_k, 6), "temperature in K")  # noqa: N806  # the symbol of the standard
    p = given(round(air.pressure_kpa, 4), f"{source}: pressure in kPa")
    damp = {"h": given(air.humidity_percent, f"{source}: relative humidity in %"), "p": p, "T": T}
    formula = "x = h * 101.325 / p * 10^(-6.8346 * (273.16 / T)^1.261 + 4.6151)"
    x = sheet.work("water in the air, in % of molecules", formula, damp, "%", f"{_ISO}, annex B")
    formula = "o = p / 101.325 * (24 + 4.04e4 * x * (0.02 + x) / (0.391 + x))"
    o = sheet.work("relaxation of oxygen", formula, {"p": Given(p.text), "x": x}, "Hz", f"{_ISO}, (3)")
    here = {"p": Given(p.text), "T": Given(T.text), "x": x}
    formula = (
        "n = p / 101.325 * (T / 293.15)^(-0.5) * (9 + 280 * x * exp(-4.17 * ((T / 293.15)^(-1 / 3) - 1)))"
    )
    n = sheet.work("relaxation of nitrogen", formula, here, "Hz", f"{_ISO}, (4)")
    formula = (
        "g = 8.686 * f^2 * (1.84e-11 * 101.325 / p * sqrt(T / 293.15) + (T / 293.15)^(-2.5) * "
        "(0.01275 * exp(-2239.1 / T) / (o + f^2 / o) + 0.1068 * exp(-3352 / T) / (n + f^2 / n)))"
    )
    numbers = {"f": _frequency(planned), **here, "o": o, "n": n}
    return sheet.work(f"absorption {_place(air)}", formula, numbers, "dB/m", f"{_ISO}, (5)")


def _tilt_level(sheet: Sheet, planned: Planned, air: Air) -> Given:
    """How far under the axis the beam is at the tilt of the object, one way."""
    sensor, tilt_deg = planned.case.hearing.sensor, planned.case.hearing.tilt_deg
    if not tilt_deg:
        return Given("0", "one-way level of the beam in dB: the object stands square")

    def work() -> Given:
        numbers = {
            "D": given(sensor.piston_mm / 1000, "sounding face of the type, in m"),
            "l": _wavelength_m(sheet, planned, air),
            "a": given(tilt_deg, "need.object.tilt_deg"),
        }
        x = sheet.work(
            "place in the beam", "x = 3.14159265 * D / l * sin(a)", numbers, "", "piston in a wall"
        )
        # No plan tilts an object out of the main lobe.
        why = "Kinsler and Frey, 7.4; J1 from a table of Bessel functions"
        return sheet.work(
            "level of the beam there, one way", "v = 20 * log10(2 * J1(x) / x)", {"x": x}, "dB", why
        )

    return sheet.once(("tilt", air), work)


def _loss(sheet: Sheet, planned: Planned, *, soft: bool) -> Given:
    """What the data sheet takes off for a soft surface, or for the shape, in dB."""
    wanted, derating = planned.case.need.object, planned.case.sensor_type.derating
    if wanted is None or (wanted.surface is not Surface.SOFT if soft else wanted.shape is ObjectShape.PLATE):
        return Given("0", f"nothing is taken off for the {'surface' if soft else 'shape'}")
    key = "soft_percent" if soft else "round_percent" if wanted.shape is ObjectShape.BAR else "rough_percent"
    percent = getattr(derating, key)
    sensor = planned.case.hearing.sensor
    words = f"standard target at {percent:g} % of the range (derating.{key} of the type)"

    def work() -> Given:
        at_mm = sensor.range_mm * percent / 100
        levels = {
            "e": echo_level(sheet, planned, sensor.range_target, at_mm, REFERENCE_AIR, words),
            "w": weakest_level(sheet, planned),
        }
        return sheet.work(f"what {key.split('_')[0]} objects lack", "q = e - w", levels, "dB")

    return sheet.once(("loss", key), work)


def _frequency(planned: Planned) -> Given:
    return given(planned.case.hearing.sensor.frequency_hz, "body.frequency_khz of the type, in Hz")


def _place(air: Air) -> str:
    return f"at {air.temperature_c:g} °C, {air.humidity_percent:g} %, {air.pressure_kpa:.6g} kPa"


def _source(planned: Planned, air: Air) -> str:
    if air == planned.case.conditions.bench:
        return "air of the rig"
    return "air of sensing ranges (IEC 60947-5-2)" if air == REFERENCE_AIR else "need.air"
