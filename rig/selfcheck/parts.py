"""What a rig has beside the relays of its nests: supply, coil supply, heartbeat, pick-up, target, stop button."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import ExitStack

from hal.errors import TripKind, Tripped
from hal.instruments.supply import VOLTAGE_TOLERANCE
from hal.nest import OutputLevel
from hal.operator import RequestKind
from hal.rhythm import LedPattern
from hal.target.manual import ManualTarget
from rig.selfcheck.checks import (
    INDOORS_C,
    INDOORS_PERCENT,
    RESTLESS_K,
    STAMP_S,
    Check,
    Figure,
    Finding,
    Outcome,
)
from rig.selfcheck.relays import Edge, edges_of, edges_of_pair
from rig.selfcheck.work import Work
from wiring.profile import TargetKind
from wiring.saying import say
from wiring.terms import LedKind, Rail

_LED_S = 3.0
_STILL_ON = 3.0
"""After so many of its own times a heartbeat module does not drop any more."""


async def check_supply(work: Work, check: Check) -> Finding:
    """Voltage as measured, and what was set when the bench was opened."""
    profile = work.bench.profile.supply
    if profile.kind == "fixed":
        words = say("{voltage_v:g} V as typed in; nothing measures it", voltage_v=profile.voltage_v)
        return Finding(
            Outcome.NOT_FITTED,
            words,
            "Measure between -F1:2 and -T1:- with a meter, and read the limit at -T1.",
        )
    volts = await work.bench.supply.voltage_v()
    low_v, high_v = (profile.voltage_v * (1 + sign * VOLTAGE_TOLERANCE) for sign in (-1, 1))
    figure = work.measured(check, Figure("voltage", volts, low_v, high_v, "V"))
    if not figure.within:
        words = say(
            "the supply gives {volts:.2f} V where {voltage_v:g} V is set",
            volts=volts,
            voltage_v=profile.voltage_v,
        )
        return Finding(
            Outcome.FAILED, words, "Look for a load or a short on L+: -T1:+, -F1, the L+ terminals of -X1."
        )
    words = say(
        "{volts:.2f} V at its terminals, limit of {current_limit_a:g} A set and read back; the "
        "limit itself is not loaded",
        volts=volts,
        current_limit_a=profile.current_limit_a,
    )
    return Finding(Outcome.PASSED, words)


async def check_coils(work: Work, _: Check) -> Finding:
    """Arming: the coil supply comes with the pulses, not before."""
    await work.bench.interlock.arm()
    if work.bench.interlock.coil_sense is None:
        words = "nothing senses the coil supply; that the relays operate shows it"
        return Finding(Outcome.NOT_FITTED, words, "A wire from -K1:14 to an input (coil_supply.sense) would.")
    return Finding(Outcome.PASSED, "the coils get their supply with the pulses, and had none before")


async def check_heartbeat(work: Work, check: Check) -> Finding:
    """End the pulses under a load relay that is on, and measure how soon it falls by itself."""
    interlock, nest, profile = work.bench.interlock, work.bench.nests[0], work.bench.profile
    timing, load = profile.coil_supply, profile.nest[0].load
    await interlock.arm()
    await nest.pull_output(Rail.PLUS)
    sense, is_on = interlock.coil_sense, nest.output() is OutputLevel.AT_PLUS
    if sense is None and not is_on:
        return Finding(
            Outcome.NOT_DONE, "no relay was on whose fall could be seen; first mend the load relay"
        )
    with ExitStack() as stack:
        output = stack.enter_context(edges_of_pair(nest.output_line))
        coil = None if sense is None else stack.enter_context(edges_of(sense))
        ended_s = interlock.fall_silent()
        await work.bench.waits.sleep(_STILL_ON * timing.dropout_s + load.released_s)
        fell_s = _first(output, (True, False)) if coil is None else _first(coil, (True,))
        stays = is_on and _first(output, (True, False)) is None
    interlock.rest()
    if fell_s is not None and stays:
        name = work.places.relay(load)
        words = say("{name} stayed on although its coil had no supply any more", name=name)
        return Finding(
            Outcome.FAILED,
            words,
            say("Change {name}: welded, contact {load}.", name=name, load=work.places.contact(load)),
        )
    if fell_s is None:
        return Finding(
            Outcome.FAILED,
            say(
                "a relay was still on {still_on:.2g} s after the last pulse",
                still_on=_STILL_ON * timing.dropout_s,
            ),
            say(
                "Do not use the bench. The heartbeat monitor -K1 is bridged or defective: look for a "
                "wire across -K1:13 and -K1:14, a welded contact in it, and pulses at -K1:Y1 from "
                "{heartbeat}.",
                heartbeat=work.places.pin(timing.heartbeat),
            ),
        )
    # Seen at a relay, its own release comes on top.
    more_s = STAMP_S + (load.release_s if coil is None else 0.0)
    longest_s = timing.dropout_s + more_s
    figure = work.measured(check, Figure("drop-out", fell_s - ended_s, 2 * timing.beat_s, longest_s))
    if not figure.within:
        early = figure.value < 2 * timing.beat_s
        return Finding(
            Outcome.FAILED,
            say(
                "the coils fell {figure:.0f} ms after the last pulse, allowed {beat_s:.0f} to "
                "{longest_s:.0f} ms",
                figure=figure.value * 1000,
                beat_s=2000 * timing.beat_s,
                longest_s=longest_s * 1000,
            ),
            say(
                "Set the time of the monostable in -K1 {what} (its resistor and capacitor stand in the "
                "parts list), or correct dropout_s in the rig profile.",
                what="longer" if early else "shorter",
            ),
        )
    return Finding(
        Outcome.PASSED,
        say(
            "the coils fell {figure:.0f} ms after the last pulse, by hardware alone",
            figure=figure.value * 1000,
        ),
    )


def _first(edges: list[Edge], left: tuple[bool, ...]) -> float | None:
    return next((at_s for levels, at_s in edges if levels != left), None)


async def check_pickup(work: Work, check: Check) -> Finding:
    """Dark in the room, lit by a lamp in a person's hand at the place of the unit's LED, dark again."""
    profile, index = work.nest_of(check)
    pickup = work.bench.nests[index - 1].led
    if pickup is None or profile.led is None:
        return Finding(Outcome.NOT_FITTED, "no pick-up; a person looks at the LED")
    work.bench.interlock.rest()
    where = say(
        "{index}; {led}", index=work.places.unit_terminal(index, "LED"), led=work.places.reading(profile.led)
    )
    dark = await pickup.wait_for(_is(LedKind.DARK), _LED_S)
    if dark is None:
        return Finding(
            Outcome.FAILED,
            say("the pick-up sees light with no unit in nest {name}", name=profile.name),
            say(
                "Clip -B{index}1 over the place of the unit's LED and shade it from the room; {where}.",
                index=index,
                where=where,
            ),
        )
    at = say("at the place of the LED in nest {name}", name=profile.name)
    await work.ask(
        RequestKind.LIGHT_PICKUP,
        say("Hold a lit torch, not a lamp on the mains, to the pick-up {at}.", at=at),
    )
    if await pickup.wait_for(_is(LedKind.STEADY), _LED_S) is None:
        return Finding(
            Outcome.FAILED,
            say("the pick-up of nest {name} does not see the torch", name=profile.name),
            say(
                "Look whether -B{index}1 has fallen off, its supply between -X{index}1:6 and "
                "-X{index}1:7, and {where}.",
                index=index,
                where=where,
            ),
        )
    await work.ask(RequestKind.DARKEN_PICKUP, say("Take the torch away from nest {name}.", name=profile.name))
    if await pickup.wait_for(_is(LedKind.DARK), _LED_S) is None:
        return Finding(
            Outcome.FAILED,
            say("the pick-up of nest {name} stays on without the torch", name=profile.name),
            say("Shade it from the room; look for a short at {where}.", where=where),
        )
    flicker = "; flicker of the room's lamps reaches it and is filtered" if dark.noisy else ""
    return Finding(Outcome.PASSED, say("dark, lit by the torch, dark again{flicker}", flicker=flicker))


def _is(kind: LedKind) -> Callable[[LedPattern], bool]:
    return lambda pattern: pattern.kind is kind


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
                "the gauge shows {read_mm:.1f} and {read_mm2:.1f} mm at {at_mm} and {at_mm2} mm: it is stuck",
                read_mm=read_mm[0],
                read_mm2=read_mm[1],
                at_mm=at_mm[0],
                at_mm2=at_mm[1],
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
        say("scale and gauge agree at {at_mm} and {at_mm2} mm", at_mm=at_mm[0], at_mm2=at_mm[1]),
    )


_TARGETS: dict[TargetKind, Callable[[Work, Check], Awaitable[Finding]]] = {
    TargetKind.STAGE: _stage,
    TargetKind.SLOTS: _slots,
    TargetKind.MANUAL: _scale,
}


_LOOKS = 3


async def check_air(work: Work, check: Check) -> Finding:
    """The probe answers, and says what the air in a workshop can be."""
    looks = []
    for _ in range(_LOOKS):
        looks.append(await work.bench.air.read())
        await work.bench.waits.sleep(1.0)
    temperatures = [one.temperature_c for one in looks]
    figures = (
        Figure("temperature", temperatures[-1], *INDOORS_C, "degrees C"),
        Figure("humidity", looks[-1].humidity_percent, *INDOORS_PERCENT, "%"),
        Figure("unrest", max(temperatures) - min(temperatures), None, RESTLESS_K, "K"),
    )
    wrong = next((one for one in figures if not work.measured(check, one).within), None)
    said = say(
        "{temperatures:.1f} degrees C, {humidity_percent:.0f} %",
        temperatures=temperatures[-1],
        humidity_percent=looks[-1].humidity_percent,
    )
    if wrong is None:
        return Finding(Outcome.PASSED, say("{said}; hold a thermometer beside it now and then", said=said))
    return Finding(
        Outcome.FAILED,
        say(
            "the air probe says {said}; {name} {wrong:.1f} {unit} cannot be in a workshop",
            said=said,
            name=wrong.name,
            wrong=wrong.value,
            unit=wrong.unit,
        ),
        "Compare registers and scales of [air.probe] in the rig profile with the manual of the probe; then look for "
        "a probe in the sun, beside a heater, or wet.",
    )


async def check_stop(work: Work, check: Check) -> Finding:
    """The button cuts the coil supply itself: sooner than the heartbeat module could after the program's trip."""
    interlock, timing = work.bench.interlock, work.bench.profile.coil_supply
    await interlock.arm()
    sense = interlock.coil_sense
    with ExitStack() as stack:
        button = stack.enter_context(edges_of(interlock.stop_button))
        coil = None if sense is None else stack.enter_context(edges_of(sense))
        try:
            await work.ask(RequestKind.PRESS_STOP, "Press the stop button, and leave it in.")
        except Tripped as tripped:
            pressed = tripped.cause.kind is TripKind.STOP_PRESSED
        else:
            pressed = False
        # The waits of the bench are ended by the trip that this is about.
        await asyncio.sleep(2 * timing.dropout_s)
        pressed_s, fell_s = _first(button, (False,)), None if coil is None else _first(coil, (True,))
    stop_line = say("-S1:21, -S1:22; {stop_button}", stop_button=work.places.reading(timing.stop_button))
    if not pressed or pressed_s is None:
        return Finding(
            Outcome.FAILED,
            "the stop button was pressed but its input does not say so",
            say(
                "Do not use the bench. Look for a bridge or a coupler that stays on: {stop_line}.",
                stop_line=stop_line,
            ),
        )
    if coil is None:
        words = (
            "the input sees the button; that it cuts the coils cannot be read back without coil_supply.sense"
        )
        advice = "Measure 0 V between -K1:14 and -K1:A2 with the button pressed, once by hand."
        return Finding(Outcome.NOT_FITTED, words, advice)
    # The program ends the pulses at the same moment; the module needs at least this long to notice.
    soonest_s = timing.dropout_s - 2 * timing.beat_s
    took_s = max(0.0, fell_s - pressed_s) if fell_s is not None else 2 * timing.dropout_s
    figure = work.measured(check, Figure("cut", took_s, None, soonest_s / 2))
    if not figure.within:
        return Finding(
            Outcome.FAILED,
            "the stop button does not cut the coil supply itself: only the end of the pulses dropped the relays",
            "Do not use the bench. Look for a bridge across -S1:11 and -S1:12, or a wire past the button to -K1:13.",
        )
    return Finding(
        Outcome.PASSED,
        say("the coils lost their supply {took_s:.0f} ms after the button", took_s=took_s * 1000),
    )
