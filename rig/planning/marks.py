"""What is less sure in a plan than it looks, in words for the person who reads it."""

from __future__ import annotations

from collections.abc import Iterator

from rig.planning.case import Case
from rig.planning.grounds import BeamGrounds, EchoGrounds, Grounds, PointRisk
from sequences.order import Setting

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
            f"what stands in front may come nearer than the blind zone of {case.sensing.blind_zone_mm:g} mm, "
            f"where the output can do anything"
        )


def _air(case: Case, setting: Setting, grounds: Grounds) -> Iterator[str]:
    if grounds.air is None and setting.set_points_mm and not case.conditions.compensated:
        yield (
            f"{case.sensor_type.name} is not temperature-compensated and the order states no [need.air]: "
            f"set points hold in air of {case.conditions.bench.temperature_c:g} °C, as on the bench"
        )
    if grounds.air is not None and not grounds.air.published:
        yield "air lies outside 0 to 30 °C or 75 to 102 kPa: the law of the speed of sound is extended, with more doubt"


def _echo(echo: EchoGrounds) -> Iterator[str]:
    what = f"echo of the {echo.target} at {echo.at_mm:g} mm"
    if not echo.at_machine:
        # On the bench it is clean and dry: what the type promises to hear needs no reserve.
        if echo.margin_db < -_ROUNDING_DB:
            yield f"{what} is {-echo.margin_db:.1f} dB too weak in the air of the bench"
        return
    if echo.margin_db < _RESERVE_DB:
        yield f"{what} has only {echo.margin_db:.1f} dB to spare"
    for doubt in echo.doubts:
        yield f"{what}: {doubt}"


def _beam(beam: BeamGrounds) -> Iterator[str]:
    if beam.ka < _LOW_KA:
        yield f"sounding face is small against the wavelength (ka = {beam.ka:.1f}): the beam is only a guess"


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
            f"differential travel of usually {usual_mm:.1f} mm is wider than the whole tolerance: "
            f"the output lets go outside of it"
        )
    if len(points_mm) > 1 and largest_mm > points_mm[-1] - points_mm[0]:
        yield f"differential travel of up to {largest_mm:.1f} mm is wider than the window"


def _risk(risk: PointRisk) -> Iterator[str]:
    if risk.undecided > _MANY:
        yield (
            f"set point {risk.point}: tolerance is fine against what the rig can prove: about "
            f"{100 * risk.undecided:.0f} % of units left undecided, {_percent(risk.passed_outside)} passed though "
            f"outside, {_percent(risk.failed_inside)} failed though inside"
        )
    for why in risk.why_open:
        yield f"{why}; such a unit is left undecided"


def _percent(share: float) -> str:
    return "less than 0.01 %" if share < 1e-4 else f"{100 * share:.2g} %"
