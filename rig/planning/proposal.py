"""Proposes what an order leaves out: mode, output function, set points and tolerance, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.case import Case
from rig.planning.grounds import Reason
from rig.planning.placing import place_points
from rig.planning.refusal import Refusal
from sequences.need import Need
from sequences.order import Setting
from wiring.saying import say
from wiring.terms import DetectionMode, OutputFunction


@dataclass(frozen=True, slots=True)
class Candidate:
    """A whole setting with its reasons; or as much of one as was found, with what stood against the rest."""

    setting: Setting
    reasons: tuple[Reason, ...]
    refusals: tuple[Refusal, ...] = ()


def candidates(case: Case) -> Iterator[Candidate]:
    """The settings that an order asks for or leaves open, the best first; one at least."""
    setting = case.order.setting
    if setting.is_whole:
        yield Candidate(setting, _as_ordered(setting) if case.order.need else ())
        return
    function = _function(setting, case.need)
    modes = list(_modes(case, OutputFunction(function.value)))
    if not modes:
        yield Candidate(setting, (), (_not_offered(case, function),))
    for mode in modes:
        yield _candidate(case, mode, function)


def _candidate(case: Case, mode: Reason, function: Reason) -> Candidate:
    part = case.order.setting.model_copy(
        update={"mode": DetectionMode(mode.value), "output_function": OutputFunction(function.value)}
    )
    placed = place_points(case, part)
    reasons = (mode, function, *placed.reasons)
    return Candidate(placed.setting or part, reasons, placed.refusals)


def _modes(case: Case, function: OutputFunction) -> Iterator[Reason]:
    ordered = case.order.setting.mode
    if ordered is not None:
        yield Reason("mode", str(ordered), "as ordered", proposed=False)
        return
    for mode, why in _thinkable(case):
        if case.sensor_type.sequence_for(mode, function) is not None:
            yield Reason("mode", str(mode), why, proposed=True)


def _thinkable(case: Case) -> Iterator[tuple[DetectionMode, str]]:
    need = case.need
    if need.foreground_mm is not None:
        in_front = f"what stands in front, up to {need.foreground_mm:g} mm, must not be reported"
        yield DetectionMode.WINDOW, f"{in_front}: the zone needs a near end too"
        return
    if need.background_mm is not None:
        behind = f"the background at {need.background_mm:g} mm must not be reported"
        yield DetectionMode.SINGLE_POINT, f"{behind}: the zone ends before it"
        yield DetectionMode.WINDOW, f"{behind}, and a single point cannot be taught here"
        yield DetectionMode.FULL_RANGE, "the background is too far away to be heard"
        return
    if case.order.setting.tolerance_mm is None:
        yield (
            DetectionMode.FULL_RANGE,
            "nothing stands behind the objects or in front: no set point is needed",
        )
        yield (
            DetectionMode.SINGLE_POINT,
            "nothing stands behind the objects, but full range cannot be taught here",
        )
    else:
        yield DetectionMode.SINGLE_POINT, "a tolerance is ordered, so there has to be a set point"
    yield (
        DetectionMode.WINDOW,
        "neither full range nor a single point can be taught here",
    )


def _function(setting: Setting, need: Need) -> Reason:
    if setting.output_function is not None:
        return Reason("output function", str(setting.output_function), "as ordered", proposed=False)
    function = need.output_function
    if function is None:
        why = "normally open is what the trade takes where nothing is said of a broken wire"
        return Reason("output function", str(OutputFunction.NO), why, proposed=True)
    why = f"a broken wire reads as off, and has to be taken for {need.broken_wire_reads}"
    return Reason("output function", str(function), why, proposed=True)


def _not_offered(case: Case, function: Reason) -> Refusal:
    wanted = " or ".join(str(mode) for mode, _ in _thinkable(case))
    offered = ", ".join(f"{mode} {function}" for mode, function in case.sensor_type.offered)
    return Refusal(
        say("{name} cannot be taught this", name=case.sensor_type.name),
        say("{wanted}, {function}", wanted=wanted, function=function.value),
        offered,
    )


def _as_ordered(setting: Setting) -> tuple[Reason, ...]:
    choices = [("mode", str(setting.mode)), ("output function", str(setting.output_function))]
    choices += [(f"set point {point}", f"{at_mm:g} mm") for point, at_mm in setting.set_points_mm.items()]
    if setting.tolerance_mm is not None:
        choices.append(("tolerance", f"{setting.tolerance_mm:g} mm"))
    return tuple(Reason(choice, value, "as ordered", proposed=False) for choice, value in choices)
