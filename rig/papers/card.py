"""The hand card: how a fitter sets the same unit at the machine, without a rig, on one page.

`card_of` says what stands on it, `rig.papers.card_pdf` puts it on paper. Every distance is one at the machine, in
the air there: a unit that stores an echo time gets a row for each air that the fitter may find.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rig.papers.hand_steps import HandStep, hand_steps, led_words
from rig.planning.bench_position import AirTransfer
from rig.planning.plan import Check, Plan, Requirement
from rig.planning.planned import Planned
from sequences.words import SetPoint
from wiring.terms import OutputFunction

CAUTIONS = (
    "Only where the sensor is part of no safety function. Stop the machine and secure it by its own rules first: the "
    "output switches while the sensor is taught, and nothing may move or count on it.",
    "24 V DC PELV only. Touch the teach wire to one rail at a time, never to both; a resistor of 1 kOhm in the wire "
    "bounds the current of a slip.",
    "Colours and pins as in IEC 60947-5-2. No standard fixes the teach wire: look at the sensor's own data sheet "
    "before you touch anything.",
    "Local codes and the instructions of the machine's maker come first. Where you are unsure, ask a qualified person.",
)

_POINT_WORDS = {SetPoint.NEAR: "near", SetPoint.FAR: "far", SetPoint.ONLY: "set point"}
_MOST_AIRS = 5
# What a person reads off a steel rule.
_RULE_MM = 0.5


@dataclass(frozen=True, slots=True)
class Mark:
    """A set point on the card, in mm from the sensing face."""

    name: str
    at_mm: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """Something at the machine that the card's scale shows, in mm from the sensing face; `end_mm` None: no end."""

    name: str
    start_mm: float
    end_mm: float | None


@dataclass(frozen=True, slots=True)
class AirRow:
    """In air of so many degrees: where the target stands for each set point, and where it is tried."""

    temperature_c: float
    distances_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class HandCheck:
    """One place to try, and what the output must do there."""

    target: str
    output: str


@dataclass(frozen=True, slots=True)
class Card:
    """All that stands on the card.

    Attributes:
        inside: output while an object is reported.
        air: in what air the distances hold; empty for a unit that corrects for it.
        air_columns: names of the distances of an `AirRow`.
        refusal: what to do when the unit says no.

    """

    order: str
    customer: str
    designation: str
    sensor_type: str
    setting: str
    blind_mm: float
    range_mm: float
    tolerance_mm: float
    points: tuple[Mark, ...]
    inside: str
    things: tuple[Stretch, ...]
    target: str
    air: str
    air_columns: tuple[str, ...]
    airs: tuple[AirRow, ...]
    steps: tuple[HandStep, ...]
    checks: tuple[HandCheck, ...]
    seen_at: str
    refusal: str
    notes: str
    made_by: str


def card_of(planned: Planned, made_by: str = "teachrig") -> Card:
    """What a fitter needs to set a unit of an order by hand at the machine; `made_by` names the program."""
    plan, order, sensor_type = planned.plan, planned.case.order, planned.case.sensor_type
    points = tuple(Mark(_POINT_WORDS[point], at_mm) for point, at_mm in plan.set_points)
    airs = tuple(_air_rows(planned))
    side_mm = sensor_type.sensing.standard_target_mm
    return Card(
        order=order.number,
        customer=order.customer,
        designation=planned.setting.reference_designation or "",
        sensor_type=f"{sensor_type.title} ({sensor_type.name})",
        setting=f"{plan.mode}, {plan.output_function}, {planned.setting.output_type}",
        blind_mm=sensor_type.sensing.blind_zone_mm,
        range_mm=sensor_type.sensing.range_mm,
        tolerance_mm=plan.tolerance_mm,
        points=points,
        inside=_output(plan, detected=True),
        things=tuple(_things(planned)),
        target=f"the object itself, or a hard flat plate of {side_mm:g} x {side_mm:g} mm or more",
        air=_air_words(planned, rows=len(airs)),
        air_columns=tuple(name for name, _ in _tried(planned)) if airs else (),
        airs=airs,
        steps=tuple(hand_steps(plan)),
        checks=tuple(_checks(planned)),
        seen_at="the sensor's LED (lit while on) or the controller's input"
        if sensor_type.led_shows_output
        else "the controller's input or a voltmeter; the LED does not show it",
        refusal=_refusal_words(plan),
        notes=" ".join(sensor_type.notes.split()),
        made_by=made_by,
    )


def _output(plan: Plan, *, detected: bool) -> str:
    return "on" if detected is not (plan.output_function is OutputFunction.NC) else "off"


def _things(planned: Planned) -> Iterator[Stretch]:
    need = planned.case.need
    if need.foreground_mm is not None:
        yield Stretch("in front", 0.0, need.foreground_mm)
    if need.nearest_mm is not None and need.farthest_mm is not None:
        yield Stretch("objects", need.nearest_mm, need.farthest_mm)
    if need.background_mm is not None:
        yield Stretch("background", need.background_mm, None)


def _air_words(planned: Planned, rows: int) -> str:
    conditions = planned.case.conditions
    if conditions.compensated or not planned.plan.set_points:
        return ""
    if conditions.span is None:
        return (
            "This sensor does not correct for the air. Set it while the air is as it usually is at its place."
        )
    middle_c = conditions.machine.temperature_c
    words = f"This sensor does not correct for the air. The distances on this card hold at {middle_c:g} °C"
    return f"{words}; at another temperature take those of the table." if rows > 1 else f"{words}."


def _air_rows(planned: Planned) -> Iterator[AirRow]:
    conditions = planned.case.conditions
    if conditions.compensated or conditions.span is None:
        return
    for celsius in _temperatures(conditions.span.coldest_c, conditions.span.warmest_c):
        air = replace(conditions.machine, temperature_c=celsius)
        transfer = AirTransfer(
            machine=conditions.machine, bench=air, compensation=conditions.transfer.compensation
        )
        yield AirRow(celsius, tuple(_on_a_rule(transfer.bench_position_mm(mm)) for _, mm in _tried(planned)))


def _temperatures(coldest_c: float, warmest_c: float) -> Sequence[float]:
    step_c = (warmest_c - coldest_c) / (_MOST_AIRS - 1)
    return sorted({round(2 * (coldest_c + index * step_c)) / 2 + 0.0 for index in range(_MOST_AIRS)})


def _on_a_rule(at_mm: float) -> float:
    return round(at_mm / _RULE_MM) * _RULE_MM


def _tried(planned: Planned) -> Iterator[tuple[str, float]]:
    """The distances of every set point: where it is taught, then where the output must not and must report."""
    plan = planned.plan
    for point, at_mm in plan.set_points:
        name = "" if point is SetPoint.ONLY else f"{_POINT_WORDS[point]}: "
        outside_mm, inside_mm = _sides_mm(point, at_mm, plan.tolerance_mm)
        yield f"{name}set at", at_mm
        yield f"{name}{_output(plan, detected=False)} at", outside_mm
        yield f"{name}{_output(plan, detected=True)} at", inside_mm


def _sides_mm(point: SetPoint, at_mm: float, tolerance_mm: float) -> tuple[float, float]:
    outward = -1 if point is SetPoint.NEAR else 1
    return at_mm + outward * tolerance_mm, at_mm - outward * tolerance_mm


def _checks(planned: Planned) -> Iterator[HandCheck]:
    """The beam clear, then each set point from outside and from inside its tolerance."""
    plan = planned.plan
    yield HandCheck("nothing in the beam", _output(plan, detected=False))
    for point, at_mm in plan.set_points:
        outside_mm, inside_mm = _sides_mm(point, at_mm, plan.tolerance_mm)
        yield HandCheck(f"brought in from the side at {outside_mm:g} mm", _output(plan, detected=False))
        moved = "out" if point is SetPoint.NEAR else "in"
        yield HandCheck(f"then moved {moved} to {inside_mm:g} mm", _output(plan, detected=True))
    if not plan.set_points:
        yield from (_range_check(plan, check) for check in plan.checks if check.requirement in _IN_RANGE)


_IN_RANGE = (Requirement.DETECTS_INSIDE, Requirement.RANGE_END)


def _range_check(plan: Plan, check: Check) -> HandCheck:
    return HandCheck(
        f"brought in from the side at {check.machine_mm or 0.0:.0f} mm", _output(plan, detected=True)
    )


def _refusal_words(plan: Plan) -> str:
    if plan.refused is None:
        return "If the LED does not answer as it should, begin again with step 1."
    again = "begin again with step 1, once only" if plan.retries else "put another unit in its place"
    return f"If the LED {led_words(plan.refused)}, the unit refuses: {again}."
