"""What keeps the relay coils alive, and what takes their supply away: pulses, heartbeat monitor, stop button."""

from __future__ import annotations

import asyncio
from contextlib import ExitStack

from hal.errors import TripKind, Tripped
from hal.nest import OutputLevel
from hal.operator import RequestKind
from rig.selfcheck.checks import STAMP_S, Check, Figure, Finding, Outcome
from rig.selfcheck.relays import Edge, edges_of, edges_of_pair
from rig.selfcheck.work import Work
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
