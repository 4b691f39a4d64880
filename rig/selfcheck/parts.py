"""What a rig has beside relays and target: supply, LED pick-up, air probe."""

from __future__ import annotations

from collections.abc import Callable

from hal.instruments.supply import VOLTAGE_TOLERANCE
from hal.operator import RequestKind
from hal.rhythm import LedPattern
from rig.selfcheck.checks import INDOORS_C, INDOORS_PERCENT, RESTLESS_K, Check, Figure, Finding, Outcome
from rig.selfcheck.work import Work
from wiring.saying import say
from wiring.terms import LedKind

_LED_S = 3.0


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


async def check_pickup(work: Work, check: Check) -> Finding:
    """Dark in the room, lit by a lamp in a person's hand at the place of the unit's LED, dark again."""
    profile, index = work.profile_of(check)
    pickup = work.nest(check).led
    if pickup is None or profile.led is None:
        return Finding(Outcome.NOT_FITTED, "no pick-up; a person looks at the LED")
    work.bench.interlock.rest()
    where = say(
        "{place}; {reading}",
        place=work.places.unit_terminal(index, "LED"),
        reading=work.places.reading(profile.led),
    )
    dark = await pickup.wait_for(_is(LedKind.DARK), _LED_S)
    if dark is None:
        return Finding(
            Outcome.FAILED,
            say("the pick-up sees light with no unit in nest {name}", name=profile.name),
            say(
                "Clip -B{nest}1 over the place of the unit's LED and shade it from the room; {where}.",
                nest=index,
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
                "Look whether -B{nest}1 has fallen off, its supply between -X{nest}1:6 and "
                "-X{nest}1:7, and {where}.",
                nest=index,
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
