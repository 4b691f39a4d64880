"""The relays of supply and teach wire, each alone: whether it does what it is told, and how long it takes."""

from __future__ import annotations

from hal.errors import Tripped
from hal.nest import Nest
from rig.selfcheck.checks import Check, Finding, Kind, Outcome
from rig.selfcheck.outputs import moved_output
from rig.selfcheck.times import CYCLES, HELD_S, Times, edges_of, edges_of_pair
from rig.selfcheck.work import Work
from wiring.lines import RelayLine
from wiring.nest import Topology
from wiring.saying import say
from wiring.terms import Rail

_LONGEST_S = 1.0


async def check_supply_relay(work: Work, check: Check) -> Finding:
    """The supply relay alone: read back where that is fitted."""
    nest, (profile, index) = work.nest(check), work.profile_of(check)
    line, places = profile.supply, work.places
    sense = work.bench.interlock.guards[profile.name].supply_sense
    await work.bench.interlock.arm()
    if sense is None or profile.supply_sense is None:
        return await _without_sense(work, nest, index)
    times = Times(line)
    for _ in range(CYCLES):
        with edges_of(sense) as seen:
            begun_s = work.now_s
            await nest.power_on()
            await work.bench.waits.sleep(HELD_S)
            times.on(seen, (True,), begun_s)
            if (moved := moved_output(work, nest, index)) is not None:
                return moved
        with edges_of(sense) as seen:
            begun_s = work.now_s
            await nest.power_off()
            times.off(seen, (True,), begun_s)
    advice = say(
        "{coil}; contact {contact}; {reading}.",
        coil=places.coil(line),
        contact=places.contact(line),
        reading=places.reading(profile.supply_sense),
    )
    figures = [work.measured(check, one) for one in times.figures()]
    return work.judged(check, line, figures, advice)


async def _without_sense(work: Work, nest: Nest, index: int) -> Finding:
    """What can be said of a supply relay whose contact nobody reads back."""
    places = work.places
    await nest.power_on()
    moved = moved_output(work, nest, index)
    await nest.power_off()
    meter = say(
        "{plus} and {minus}",
        plus=places.unit_terminal(index, "L+"),
        minus=places.unit_terminal(index, "L-"),
    )
    words = "nothing senses the unit's L+ (supply_sense)"
    volts = f"{work.bench.profile.supply.voltage_v:g} V"
    advice = say(
        "Measure between {meter} once by hand: {volts} only while a unit works.", meter=meter, volts=volts
    )
    return moved or Finding(Outcome.NOT_FITTED, words, advice)


async def check_teach(work: Work, check: Check) -> Finding:
    """The way from one rail to the teach wire: made, read back, opened."""
    nest, (profile, index) = work.nest(check), work.profile_of(check)
    rail = Rail.PLUS if check.kind is Kind.TEACH_PLUS else Rail.MINUS
    line = contact_line(work, check)
    await work.bench.interlock.arm()
    times = Times(line)
    by_selector = rail is Rail.PLUS and profile.topology is Topology.SELECTOR
    # The selector moves only from rail to rail.
    rails = (Rail.MINUS, Rail.PLUS) if by_selector else (rail,)
    for way in rails * CYCLES:
        if (moved := await _one_contact(work, nest, way, index, times)) is not None:
            return moved
    if by_selector:
        assert profile.rail_selector is not None, "the topology has one"
        name = work.places.relay(profile.rail_selector)
        dead_time = f"{work.bench.profile.dead_time_s * 1000:g} ms"
        words = say(
            "{name} puts L+ on the teach wire each time, settled within its dead time of "
            "{dead_time}; it has no read-back of its own, so its times are not measured",
            name=name,
            dead_time=dead_time,
        )
        return Finding(Outcome.PASSED, words)
    figures = [work.measured(check, one) for one in times.figures()]
    return work.judged(check, line, figures, teach_advice(work, check))


async def _one_contact(work: Work, nest: Nest, rail: Rail, index: int, times: Times) -> Finding | None:
    guard = work.bench.interlock.guards[nest.name]
    wanted = (rail is Rail.PLUS, rail is Rail.MINUS)
    with edges_of_pair(guard.teach_wire) as seen:
        await nest.hold_teach(rail, longest_s=_LONGEST_S)
        contact = guard.path.closed_contact
        if contact is None:
            raise Tripped(work.bench.interlock.causes[0])  # opened again by what its closing has shown
        await work.bench.waits.sleep(HELD_S)
        times.on(seen, wanted, contact.since_s)
        moved = moved_output(work, nest, index)
    with edges_of_pair(guard.teach_wire) as seen:
        begun_s = work.now_s
        nest.release_teach()
        await nest.teach_released()
        times.off(seen, wanted, begun_s)
    return moved


def contact_line(work: Work, check: Check) -> RelayLine:
    """The relay whose contact a check of the teach wire closes."""
    profile, _ = work.profile_of(check)
    two = profile.minus_contact if check.kind is Kind.TEACH_MINUS else profile.plus_contact
    line = profile.teach_contact if profile.topology is Topology.SELECTOR else two
    assert line is not None, "the topology has it"
    return line


def teach_advice(work: Work, check: Check) -> str:
    """Where to look when the teach wire does not follow."""
    (profile, index), places = work.profile_of(check), work.places
    line = contact_line(work, check)
    source = profile.teach_at_plus if check.kind is Kind.TEACH_PLUS else profile.teach_at_minus
    selector = (
        say(
            "; rail selector {contact}, {coil}",
            contact=places.contact(profile.rail_selector),
            coil=places.coil(profile.rail_selector),
        )
        if profile.rail_selector is not None and check.kind is Kind.TEACH_PLUS
        else ""
    )
    return say(
        "{coil}; contact {contact}{selector}; {resistors}; teach wire {terminal}; {reading}.",
        coil=places.coil(line),
        contact=places.contact(line),
        selector=selector,
        resistors=places.teach_resistors(index),
        terminal=places.unit_terminal(index, "teach"),
        reading=places.reading(source),
    )
