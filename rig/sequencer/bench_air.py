"""The air at the bench as the probe measures it, against the air that the order was planned for."""

from __future__ import annotations

from rig.events import AirMeasured, Verdict
from rig.sequencer.any_work import AnyWork
from rig.sequencer.findings import Finding, Reason, undecided
from wiring.parts import AirProfile
from wiring.saying import say


async def doubt_air(work: AnyWork) -> Finding | None:
    """Measure the air where a probe is fitted; None when it is what the plan allows for, or nothing measures it."""
    measured = await work.measure_air()
    return None if measured is None else judge_air(work.planned_air, measured)


def judge_air(planned: AirProfile, measured: AirMeasured) -> Finding | None:
    """Judge a measurement by what the plan took for possible; None when it lies within.

    Positions were moved and tolerances guarded for that air: outside it they prove nothing, for or against the unit.
    """
    kelvin = abs(measured.temperature_c - planned.temperature_c)
    percent = abs(measured.humidity_percent - planned.humidity_percent)
    # Not a digit more than probes show: both sides are decimal numbers that were typed or sent.
    warm = round(kelvin, 6) > planned.temperature_error_k
    if not (warm or round(percent, 6) > planned.humidity_error_percent):
        return None
    return undecided(
        Reason.AIR_CHANGED,
        say(
            "the air is {temperature_c:.1f} °C, {humidity_percent:.0f} %; planned for "
            "{planned_c:g} ±{temperature_error_k:g} °C, {planned_percent:g} "
            "±{humidity_error_percent:g} %: wait, or plan with this air",
            temperature_c=measured.temperature_c,
            humidity_percent=measured.humidity_percent,
            planned_c=planned.temperature_c,
            temperature_error_k=planned.temperature_error_k,
            planned_percent=planned.humidity_percent,
            humidity_error_percent=planned.humidity_error_percent,
        ),
    )


async def confirm_air(work: AnyWork, finding: Finding) -> Finding:
    """What is left of a verdict when the air was not what it was planned for until the end."""
    if finding.verdict is Verdict.UNDECIDED:
        return finding
    return await doubt_air(work) or finding
