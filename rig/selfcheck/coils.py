"""What keeps the relay coils alive, and what takes their supply away: pulses, heartbeat monitor, stop button."""

from __future__ import annotations

import asyncio
from contextlib import ExitStack

from hal.errors import TripKind, Tripped
from hal.nest import OutputLevel
from hal.operator import RequestKind
from rig.selfcheck.checks import STAMP_S, Check, Figure, Finding, Outcome
from rig.selfcheck.times import Edge, edges_of, edges_of_pair
from rig.selfcheck.work import Work
from wiring.lines import RelayLine
from wiring.saying import say
from wiring.terms import Rail

_STILL_ON = 3.0
"""After so many of its own times a heartbeat module does not drop any more."""


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
    if fell_s is None:
        return _never_fell(work)
    if stays:
        return _welded(work, load)
    # Seen at a relay, its own release comes on top.
    more_s = STAMP_S + (load.release_s if coil is None else 0.0)
    return _fell(work, check, fell_s - ended_s, timing.dropout_s + more_s)


def _never_fell(work: Work) -> Finding:
    timing = work.bench.profile.coil_supply
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


def _welded(work: Work, load: RelayLine) -> Finding:
    name = work.places.relay(load)
    return Finding(
        Outcome.FAILED,
        say("{name} stayed on although its coil had no supply any more", name=name),
        say("Change {name}: welded, contact {load}.", name=name, load=work.places.contact(load)),
    )


def _fell(work: Work, check: Check, took_s: float, longest_s: float) -> Finding:
    """Hold the time from the last pulse to the fall against what the heartbeat module is to take."""
    soonest_s = 2 * work.bench.profile.coil_supply.beat_s
    figure = work.measured(check, Figure("drop-out", took_s, soonest_s, longest_s))
    if figure.within:
        words = say(
            "the coils fell {figure:.0f} ms after the last pulse, by hardware alone",
            figure=took_s * 1000,
        )
        return Finding(Outcome.PASSED, words)
    return Finding(
        Outcome.FAILED,
        say(
            "the coils fell {figure:.0f} ms after the last pulse, allowed {beat_s:.0f} to {longest_s:.0f} ms",
            figure=took_s * 1000,
            beat_s=soonest_s * 1000,
            longest_s=longest_s * 1000,
        ),
        say(
            "Set the time of the monostable in -K1 {what} (its resistor and capacitor stand in the "
            "parts list), or correct dropout_s in the rig profile.",
            what="longer" if took_s < soonest_s else "shorter",
        ),
    )


def _first(edges: list[Edge], left: tuple[bool, ...]) -> float | None:
    return next((at_s for levels, at_s in edges if levels != left), None)


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
    if not pressed or pressed_s is None:
        return _not_seen(work)
    if coil is None:
        words = (
            "the input sees the button; that it cuts the coils cannot be read back without coil_supply.sense"
        )
        advice = "Measure 0 V between -K1:14 and -K1:A2 with the button pressed, once by hand."
        return Finding(Outcome.NOT_FITTED, words, advice)
    return _cut(work, check, None if fell_s is None else fell_s - pressed_s)


def _not_seen(work: Work) -> Finding:
    button = work.places.reading(work.bench.profile.coil_supply.stop_button)
    stop_line = say("-S1:21, -S1:22; {stop_button}", stop_button=button)
    return Finding(
        Outcome.FAILED,
        "the stop button was pressed but its input does not say so",
        say(
            "Do not use the bench. Look for a bridge or a coupler that stays on: {stop_line}.",
            stop_line=stop_line,
        ),
    )


def _cut(work: Work, check: Check, later_s: float | None) -> Finding:
    """Hold the time from the button to the fall against what the heartbeat module could do as well."""
    timing = work.bench.profile.coil_supply
    # The program ends the pulses at the same moment; the module needs at least this long to notice.
    soonest_s = timing.dropout_s - 2 * timing.beat_s
    took_s = 2 * timing.dropout_s if later_s is None else max(0.0, later_s)
    if work.measured(check, Figure("cut", took_s, None, soonest_s / 2)).within:
        words = say("the coils lost their supply {took_s:.0f} ms after the button", took_s=took_s * 1000)
        return Finding(Outcome.PASSED, words)
    return Finding(
        Outcome.FAILED,
        "the stop button does not cut the coil supply itself: only the end of the pulses dropped the relays",
        "Do not use the bench. Look for a bridge across -S1:11 and -S1:12, or a wire past the button to -K1:13.",
    )
