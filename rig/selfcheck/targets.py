"""The target of a rig: whether it goes where it is sent, as far as the rig itself can tell."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from hal.target.manual import ManualTarget
from rig.selfcheck.checks import Check, Figure, Finding, Outcome
from rig.selfcheck.work import Work
from wiring.profile import TargetKind
from wiring.saying import say


async def check_target(work: Work, check: Check) -> Finding:
    """The target goes where it is sent, as far as the rig itself can tell."""
    return await _TARGETS[work.bench.profile.target.kind](work, check)


_AWAY_MM = 300.0


async def _stage(work: Work, check: Check) -> Finding:
    target, profile = work.bench.target, work.bench.profile.target
    near_mm, far_mm = target.reach_mm
    far_mm = min(far_mm, near_mm + _AWAY_MM)
    await work.bench.interlock.arm()
    await target.move_to(near_mm)
    took_s = []
    for _ in range(2):
        begun_s = work.now_s
        await target.move_to(far_mm)
        took_s.append(work.now_s - begun_s)
        await target.move_to(near_mm)
    await target.clear()
    assert profile.speed_mm_s is not None, "a stage has a speed"
    least_s = (far_mm - near_mm) / profile.speed_mm_s + profile.settle_s
    figure = work.measured(check, Figure("move", max(took_s), None, 2 * least_s + 1.0))
    if not figure.within:
        return Finding(
            Outcome.FAILED,
            say(
                "a move of {far_mm:g} mm took {figure:.1f} s, by the profile's speed {least_s:.1f} s",
                far_mm=far_mm - near_mm,
                figure=figure.value,
                least_s=least_s,
            ),
            "Look for a stage (-A2) that runs hard, and compare target.speed_mm_s with its controller.",
        )
    words = say(
        "homed; {near_mm:g} and {far_mm:g} mm reached twice by its own count; the swing has no "
        "read-back: see that it has moved",
        near_mm=near_mm,
        far_mm=far_mm,
    )
    return Finding(Outcome.PASSED, words)


async def _slots(work: Work, _: Check) -> Finding:
    work.bench.interlock.rest()
    slots = work.bench.profile.target.slots
    for slot in slots:
        await work.bench.target.move_to(slot.position_mm)
    return Finding(
        Outcome.PASSED, say("the micro-switches of {count} slots close, each alone", count=len(slots))
    )


async def _scale(work: Work, check: Check) -> Finding:
    target, gauge, profile = work.bench.target, work.bench.gauge, work.bench.profile.target
    if gauge is None or not isinstance(target, ManualTarget):
        return Finding(
            Outcome.NOT_FITTED,
            "a target by hand without a gauge; `teachrig calibrate` holds it against a rule",
        )
    work.bench.interlock.rest()
    near_mm, far_mm = target.reach_mm
    span_mm = far_mm - near_mm
    read_mm, at_mm = [], [round(near_mm + share * span_mm) for share in (0.2, 0.6)]
    for place_mm in at_mm:
        await target.move_to(place_mm)
        await work.bench.waits.sleep(gauge.profile.lag_s + profile.settle_s)
        read_mm.append((await gauge.read()).position_mm)
    scale = profile.scale_error_percent / 100
    for place_mm, shown_mm in zip(at_mm, read_mm, strict=True):
        allowed_mm = profile.placement_mm + profile.zero_error_mm + scale * place_mm + gauge.profile.error_mm
        name = say("gauge at {place_mm:g} mm", place_mm=place_mm)
        work.measured(check, Figure(name, shown_mm, place_mm - allowed_mm, place_mm + allowed_mm, "mm"))
    return _gauge_finding(work, at_mm, read_mm)


def _gauge_finding(work: Work, at_mm: list[int], read_mm: list[float]) -> Finding:
    figures = [figure for part, figure in work.figures if part == "target"]
    gauge = work.bench.profile.target.gauge
    port = None if gauge is None else gauge.port
    if abs(read_mm[1] - read_mm[0]) < (at_mm[1] - at_mm[0]) / 2:
        return Finding(
            Outcome.FAILED,
            say(
                "the gauge shows {first_mm:.1f} and {last_mm:.1f} mm at {near_mm} and {far_mm} mm: it is stuck",
                first_mm=read_mm[0],
                last_mm=read_mm[1],
                near_mm=at_mm[0],
                far_mm=at_mm[1],
            ),
            say("Look for a loose coupling between gauge and target, then its cable at {port}.", port=port),
        )
    wrong = next((one for one in figures if not one.within), None)
    if wrong is not None:
        return Finding(
            Outcome.FAILED,
            say(
                "{name}: it shows {wrong:.1f} mm, allowed {low:.1f} to {high:.1f} mm",
                name=wrong.name,
                wrong=wrong.value,
                low=wrong.low,
                high=wrong.high,
            ),
            "Place the target again, by the edge that the scale is read at; then compare scale and gauge with a steel "
            "rule from the sensing face, and correct at_zero_mm of the gauge or the scale's place.",
        )
    return Finding(
        Outcome.PASSED,
        say("scale and gauge agree at {near_mm} and {far_mm} mm", near_mm=at_mm[0], far_mm=at_mm[1]),
    )


_TARGETS: dict[TargetKind, Callable[[Work, Check], Awaitable[Finding]]] = {
    TargetKind.STAGE: _stage,
    TargetKind.SLOTS: _slots,
    TargetKind.MANUAL: _scale,
}
