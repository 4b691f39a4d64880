"""What is less sure in a plan than it looks, in words for the person who reads it."""

from __future__ import annotations

from collections.abc import Iterator

from rig.planning.case import Case
from rig.planning.grounds import BeamGrounds, EchoGrounds, Grounds, PointRisk
from sequences.order import Setting
from wiring.saying import say

# Dust, drops and weather take this much from an echo (common practice, no source).
_RESERVE_DB = 6.0
_ROUNDING_DB = 1e-6
# A piston so small against the wavelength sounds to all sides, and its beam is only a guess.
_LOW_KA = 3.0
# More than every tenth unit left undecided is worth a word.
_MANY = 0.1


def marks_of(case: Case, setting: Setting, grounds: Grounds) -> Iterator[str]:
    """Every mark of a plan, the weightiest first."""
    yield from _air(case, setting, grounds)
    for echo in grounds.echoes:
        yield from _echo(echo)
    yield from _beam(grounds.beam)
    yield from _front(case)
    yield from _travel(case, setting)
    for risk in grounds.risks:
        yield from _risk(risk)


def _front(case: Case) -> Iterator[str]:
    if case.need.foreground_mm is not None:
        yield (
            say(
                "what stands in front may come nearer than the blind zone of {blind_zone_mm:g} mm, where "
                "the output can do anything",
                blind_zone_mm=case.sensing.blind_zone_mm,
            )
        )


def _air(case: Case, setting: Setting, grounds: Grounds) -> Iterator[str]:
    if grounds.air is None and setting.set_points_mm and not case.conditions.compensated:
        yield (
            say(
                "{name} is not temperature-compensated and the order states no [need.air]: set points "
                "hold in air of {temperature_c:g} °C, as on the bench",
                name=case.sensor_type.name,
                temperature_c=case.conditions.bench.temperature_c,
            )
        )
    if grounds.air is not None and not grounds.air.published:
        yield "air lies outside 0 to 30 °C or 75 to 102 kPa: the law of the speed of sound is extended, with more doubt"


def _echo(echo: EchoGrounds) -> Iterator[str]:
    what = say("echo of the {target} at {at_mm:g} mm", target=echo.target, at_mm=echo.at_mm)
    if not echo.at_machine:
        # On the bench it is clean and dry: what the type promises to hear needs no reserve.
        if echo.margin_db < -_ROUNDING_DB:
            yield say(
                "{what} is {lacking:.1f} dB too weak in the air of the bench",
                what=what,
                lacking=-echo.margin_db,
            )
        return
    if echo.margin_db < _RESERVE_DB:
        yield say("{what} has only {margin_db:.1f} dB to spare", what=what, margin_db=echo.margin_db)
    for doubt in echo.doubts:
        yield say("{what}: {doubt}", what=what, doubt=doubt)


def _beam(beam: BeamGrounds) -> Iterator[str]:
    if beam.ka < _LOW_KA:
        yield say(
            "sounding face is small against the wavelength (ka = {ka:.1f}): the beam is only a guess",
            ka=beam.ka,
        )


def _travel(case: Case, setting: Setting) -> Iterator[str]:
    points_mm = list(setting.set_points_mm.values())
    if not points_mm or setting.tolerance_mm is None:
        return
    usual_mm, largest_mm = (
        case.sensing.hysteresis_mm(points_mm[-1]),
        case.sensing.hysteresis_largest_mm(points_mm[-1]),
    )
    if usual_mm > 2 * setting.tolerance_mm:
        yield (
            say(
                "differential travel of usually {usual_mm:.1f} mm is wider than the whole tolerance: the "
                "output lets go outside of it",
                usual_mm=usual_mm,
            )
        )
    if len(points_mm) > 1 and largest_mm > points_mm[-1] - points_mm[0]:
        yield say(
            "differential travel of up to {largest_mm:.1f} mm is wider than the window", largest_mm=largest_mm
        )


def _risk(risk: PointRisk) -> Iterator[str]:
    if risk.undecided > _MANY:
        yield (
            say(
                "set point {point}: tolerance is fine against what the rig can prove: about "
                "{undecided:.0f} % of units left undecided, {passed_outside} passed though outside, "
                "{failed_inside} failed though inside",
                point=risk.point,
                undecided=100 * risk.undecided,
                passed_outside=_percent(risk.passed_outside),
                failed_inside=_percent(risk.failed_inside),
            )
        )
    for why in risk.why_open:
        yield say("{why}; such a unit is left undecided", why=why)


def _percent(share: float) -> str:
    return "less than 0.01 %" if share < 1e-4 else say("{share:.2g} %", share=100 * share)
