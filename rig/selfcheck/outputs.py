"""The way of the unit's output alone: its load relay, its two inputs, and that nothing else moves it."""

from __future__ import annotations

from hal.nest import Nest, OutputLevel
from rig.selfcheck.checks import Check, Finding, Outcome
from rig.selfcheck.times import CYCLES, HELD_S, Times, edges_of_pair
from rig.selfcheck.work import Work
from wiring.saying import say
from wiring.terms import Rail

_WITHIN_S = 0.1


async def check_load(work: Work, check: Check) -> Finding:
    """The load relay alone, and the output's two inputs with it: without a unit's supply, and with it."""
    nest, (profile, _) = work.nest(check), work.profile_of(check)
    await work.bench.interlock.arm()
    times = Times(profile.load)
    for _ in range(CYCLES):
        for rail in (Rail.PLUS, Rail.MINUS):
            with edges_of_pair(nest.output_line) as seen:
                begun_s = work.now_s
                await nest.pull_output(rail)
                await work.bench.waits.sleep(HELD_S)
                (times.on if rail is Rail.PLUS else times.off)(seen, (True, False), begun_s)
            if (wrong := _wrong_output(work, check, rail, nest.output(), "")) is not None:
                return wrong
    figures = [work.measured(check, one) for one in times.figures()]
    advice = say(
        "{coil}; contact {contact}.",
        coil=work.places.coil(profile.load),
        contact=work.places.contact(profile.load),
    )
    finding = work.judged(check, profile.load, figures, advice, "output follows both ways")
    if finding.outcome is Outcome.FAILED:
        return finding  # what is read by the profile's times means nothing then
    await nest.power_on()
    for rail in (Rail.PLUS, Rail.MINUS):
        await nest.pull_output(rail)
        level = await nest.settled_output(_WITHIN_S)
        wrong = _wrong_output(work, check, rail, level, " while the supply relay is on")
        if wrong is not None:
            return wrong
    await nest.power_off()
    return finding


_AT = {Rail.PLUS: OutputLevel.AT_PLUS, Rail.MINUS: OutputLevel.AT_MINUS}


def _wrong_output(work: Work, check: Check, rail: Rail, level: OutputLevel, when: str) -> Finding | None:
    if level is _AT[rail]:
        return None
    (profile, index), places = work.profile_of(check), work.places
    terminal = places.unit_terminal(index, "output")
    relay, resistor = places.relay(profile.load), f"-R{index}7"
    words = say(
        "the output is {level} where {relay} pulls it to {rail}{when}",
        level=level,
        relay=relay,
        rail=rail,
        when=when,
    )
    readings = say(
        "{output_at_plus}; {output_at_minus}",
        output_at_plus=places.reading(profile.output_at_plus),
        output_at_minus=places.reading(profile.output_at_minus),
    )
    if level is _AT[rail.other]:
        advice = say(
            "Take the wire off {terminal}: if the output is right then, it was shorted to {other} on "
            "the unit's side. Else {relay} does not move: {coil}; contact {contact}; {readings}.",
            terminal=terminal,
            other=rail.other,
            relay=relay,
            coil=places.coil(profile.load),
            contact=places.contact(profile.load),
            readings=readings,
        )
    else:
        advice = say(
            "Look for an open or loose wire at {relay}:11, {resistor}, {terminal}; {readings}.",
            relay=relay,
            resistor=resistor,
            terminal=terminal,
            readings=readings,
        )
    return Finding(Outcome.FAILED, words, advice)


def moved_output(work: Work, nest: Nest, index: int) -> Finding | None:
    """What it means that the output left L- while another relay was switched; None if it did not."""
    level = nest.output()
    if level is OutputLevel.AT_MINUS:
        return None
    profile, places = work.bench.profile.nest[index - 1], work.places
    terminal = places.unit_terminal(index, "output")
    return Finding(
        Outcome.FAILED,
        say("the output is {level} although its load relay is off", level=level),
        say(
            "Look for a unit left in the nest, a wire at {terminal} that touches another, exchanged "
            "wires of the relay coils, or a welded {relay} (contact {contact}); {output_at_plus}; "
            "{output_at_minus}.",
            terminal=terminal,
            relay=places.relay(profile.load),
            contact=places.contact(profile.load),
            output_at_plus=places.reading(profile.output_at_plus),
            output_at_minus=places.reading(profile.output_at_minus),
        ),
    )
