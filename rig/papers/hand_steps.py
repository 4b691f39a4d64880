"""The steps of teaching as a fitter does them, with a wire in the hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    Plan,
    PlannedStep,
    PowerCycle,
)
from sequences.words import SetPoint
from wiring.terms import LedKind, Rail

# Core colours and pins as IEC 60947-5-2 gives them (from memory); the teach wire has none.
RAIL_WORDS = {Rail.PLUS: "L+ (brown, pin 1)", Rail.MINUS: "L- (blue, pin 3)"}

_COUNTABLE_S = 1.0


@dataclass(frozen=True, slots=True)
class HandStep:
    """One thing to do, and what to look for."""

    do: str
    see: str = ""


def hand_steps(plan: Plan) -> Iterator[HandStep]:
    """Every step of a plan; the supply is switched first where the type only listens for a while after it."""
    if not isinstance(plan.steps[0], PowerCycle):
        within = f"then all below within {plan.teach_window_s:g} s"
        yield HandStep("Switch the sensor's supply off, wait 2 s, switch it on.", within)
    distances_mm = dict(plan.set_points)
    contacts = 0
    for step in plan.steps:
        if isinstance(step, PlaceTarget) and step.position_mm is not None and step.where != "cover":
            at_mm = distances_mm[SetPoint(step.where)]
            yield HandStep(
                f"Put the target square to the beam, {at_mm:g} mm from the sensing face.", "measure it"
            )
            continue
        contacts += isinstance(step, MakeContact)
        yield _hand_step(step, plan, again=isinstance(step, MakeContact) and contacts > 1)


def led_words(answer: Answer) -> str:
    """What the LED does, as one sees it."""
    match answer.kind:
        case LedKind.FLASHING:
            return f"flashes {answer.rate_hz:g} times a second"
        case LedKind.BLINKS:
            return f"blinks {'once' if answer.count == 1 else f'{answer.count} times'}"
        case LedKind.STEADY:
            return "is lit"
        case _:
            return "is dark"


def _hand_step(step: PlannedStep, plan: Plan, *, again: bool) -> HandStep:
    match step:
        case PlaceTarget(position_mm=None):
            return HandStep("Take everything out of the beam.")
        case PlaceTarget():
            return HandStep("Hold the target flat against the sensing face.")
        case MakeContact():
            return _contact(
                step, f"not later than {plan.teach_timeout_s:g} s after the last contact" if again else ""
            )
        case PowerCycle():
            return HandStep(f"Switch the sensor's supply off, wait {step.off_s:g} s, switch it on.")
        case AwaitAnswer():
            return HandStep("Look at the LED.", f"LED {led_words(step.answer)}, within {step.within_s:g} s")
        case AwaitOutput():
            return HandStep(
                "Look at the output.", f"{'on' if step.on else 'off'}, within {step.within_s:g} s"
            )
        case _:
            return HandStep(f"Wait {step.for_s:g} s.")


def _contact(step: MakeContact, when: str) -> HandStep:
    rail, span = RAIL_WORDS[step.rail], f"{step.shortest_s:g} to {step.longest_s:g} s"
    if step.until is not None:
        see = f"let go when the LED {led_words(step.until)} ({span})"
        return HandStep(f"Hold the teach wire to {rail}.", _joined(see, when))
    if step.times > 1:
        gap = "" if step.longest_gap_s is None else f"; gaps up to {step.longest_gap_s:g} s"
        do = (
            f"Tap the teach wire on {rail} {step.times} times, {step.for_s:g} s each, {step.gap_s:g} s apart."
        )
        return HandStep(do, _joined(f"{span} each{gap}", when))
    if step.for_s is not None and step.for_s < _COUNTABLE_S:
        return HandStep(f"Tap the teach wire on {rail} once, {step.for_s:g} s.", _joined(span, when))
    return HandStep(
        f"Hold the teach wire to {rail} for {step.for_s:g} s.", _joined(f"count the seconds: {span}", when)
    )


def _joined(*words: str) -> str:
    return "; ".join(one for one in words if one)
