"""The relays of a nest, each alone: whether it does what it is told, as read back, and how long it takes."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from statistics import median

from hal.errors import Tripped
from hal.inputs import Input, RailPair
from hal.nest import Nest, OutputLevel
from rig.selfcheck.checks import LEAKAGE_A, STAMP_S, Check, Figure, Finding, Kind, Outcome
from rig.selfcheck.work import Work
from wiring.lines import RelayLine
from wiring.nest import Topology
from wiring.saying import say
from wiring.terms import Rail

CYCLES = 5
"""So often each relay is switched: the median of five bears two that the computer was late for."""

_LONGEST_S = 1.0
_HELD_S = 0.06
_WITHIN_S = 0.1

Edge = tuple[tuple[bool, ...], float]
"""The levels from this moment on, and the moment in loop time."""


class Times:
    """The times of one relay, cycle by cycle."""

    def __init__(self, line: RelayLine) -> None:
        self._line = line
        self._operate_s: list[float] = []
        self._release_s: list[float] = []
        self._bounce_s: list[float] = []

    def on(self, edges: list[Edge], wanted: tuple[bool, ...], since_s: float) -> None:
        """Take in what was seen after the coil was switched on."""
        made_s = [at_s for levels, at_s in edges if levels == wanted]
        if made_s:
            self._operate_s.append(made_s[0] - since_s)
            self._bounce_s.append(made_s[-1] - made_s[0])

    def off(self, edges: list[Edge], wanted: tuple[bool, ...], since_s: float) -> None:
        """Take in what was seen after the coil was switched off; `wanted` is what it leaves."""
        left_s = [at_s for levels, at_s in edges if levels != wanted]
        if left_s:
            self._release_s.append(left_s[0] - since_s)

    def figures(self) -> Iterator[Figure]:
        """The median of each, with the profile's limits."""
        line = self._line
        for name, seen_s, longest_s in (
            ("operate", self._operate_s, line.operate_s),
            ("release", self._release_s, line.release_s),
            ("bounce", self._bounce_s, line.bounce_s),
        ):
            if seen_s:
                yield Figure(name, median(seen_s), None, longest_s + STAMP_S)


@contextmanager
def edges_of_pair(pair: RailPair) -> Iterator[list[Edge]]:
    """Every edge on a pair of inputs while the block runs."""
    seen: list[Edge] = []

    def edge(at_plus: bool, at_minus: bool, at_s: float) -> None:
        seen.append(((at_plus, at_minus), at_s))

    pair.on_edge.append(edge)
    try:
        yield seen
    finally:
        pair.on_edge.remove(edge)


@contextmanager
def edges_of(source: Input) -> Iterator[list[Edge]]:
    """Every edge on an input while the block runs."""
    seen: list[Edge] = []

    def edge(active: bool, at_s: float) -> None:
        seen.append(((active,), at_s))

    source.on_edge.append(edge)
    try:
        yield seen
    finally:
        source.on_edge.remove(edge)


def _nest(work: Work, check: Check) -> Nest:
    assert check.nest is not None, "this check is about a nest"
    return work.bench.nests[check.nest - 1]


async def check_supply_relay(work: Work, check: Check) -> Finding:
    """The supply relay alone: read back where that is fitted."""
    nest, (profile, index) = _nest(work, check), work.nest_of(check)
    line, places = profile.supply, work.places
    sense = work.bench.interlock.guards[profile.name].supply_sense
    await work.bench.interlock.arm()
    if sense is None or profile.supply_sense is None:
        await nest.power_on()
        moved = _moved_output(work, nest, index)
        await nest.power_off()
        meter = say(
            "{index} and {index2}",
            index=places.unit_terminal(index, "L+"),
            index2=places.unit_terminal(index, "L-"),
        )
        words = "nothing senses the unit's L+ (supply_sense)"
        volts = f"{work.bench.profile.supply.voltage_v:g} V"
        advice = say(
            "Measure between {meter} once by hand: {volts} only while a unit works.", meter=meter, volts=volts
        )
        return moved or Finding(Outcome.NOT_FITTED, words, advice)
    times = Times(line)
    for _ in range(CYCLES):
        with edges_of(sense) as seen:
            begun_s = work.now_s
            await nest.power_on()
            await work.bench.waits.sleep(_HELD_S)
            times.on(seen, (True,), begun_s)
            if (moved := _moved_output(work, nest, index)) is not None:
                return moved
        with edges_of(sense) as seen:
            begun_s = work.now_s
            await nest.power_off()
            times.off(seen, (True,), begun_s)
    advice = say(
        "{line}; contact {line2}; {supply_sense}.",
        line=places.coil(line),
        line2=places.contact(line),
        supply_sense=places.reading(profile.supply_sense),
    )
    figures = [work.measured(check, one) for one in times.figures()]
    return work.judged(check, line, figures, advice)


async def check_teach(work: Work, check: Check) -> Finding:
    """The way from one rail to the teach wire: made, read back, opened."""
    nest, (profile, index) = _nest(work, check), work.nest_of(check)
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
        await work.bench.waits.sleep(_HELD_S)
        times.on(seen, wanted, contact.since_s)
        moved = _moved_output(work, nest, index)
    with edges_of_pair(guard.teach_wire) as seen:
        begun_s = work.now_s
        nest.release_teach()
        await nest.teach_released()
        times.off(seen, wanted, begun_s)
    return moved


def contact_line(work: Work, check: Check) -> RelayLine:
    """The relay whose contact a check of the teach wire closes."""
    profile, _ = work.nest_of(check)
    two = profile.minus_contact if check.kind is Kind.TEACH_MINUS else profile.plus_contact
    line = profile.teach_contact if profile.topology is Topology.SELECTOR else two
    assert line is not None, "the topology has it"
    return line


def teach_advice(work: Work, check: Check) -> str:
    """Where to look when the teach wire does not follow."""
    (profile, index), places = work.nest_of(check), work.places
    line = contact_line(work, check)
    source = profile.teach_at_plus if check.kind is Kind.TEACH_PLUS else profile.teach_at_minus
    selector = (
        say(
            "; rail selector {rail_selector}, {rail_selector2}",
            rail_selector=places.contact(profile.rail_selector),
            rail_selector2=places.coil(profile.rail_selector),
        )
        if profile.rail_selector is not None and check.kind is Kind.TEACH_PLUS
        else ""
    )
    return say(
        "{line}; contact {line2}{selector}; {index}; teach wire {index2}; {source}.",
        line=places.coil(line),
        line2=places.contact(line),
        selector=selector,
        index=places.teach_resistors(index),
        index2=places.unit_terminal(index, "teach"),
        source=places.reading(source),
    )


async def check_load(work: Work, check: Check) -> Finding:
    """The load relay alone, and the output's two inputs with it: without a unit's supply, and with it."""
    nest, (profile, _) = _nest(work, check), work.nest_of(check)
    await work.bench.interlock.arm()
    times = Times(profile.load)
    for _ in range(CYCLES):
        for rail in (Rail.PLUS, Rail.MINUS):
            with edges_of_pair(nest.output_line) as seen:
                begun_s = work.now_s
                await nest.pull_output(rail)
                await work.bench.waits.sleep(_HELD_S)
                (times.on if rail is Rail.PLUS else times.off)(seen, (True, False), begun_s)
            if (wrong := _wrong_output(work, check, rail, nest.output(), "")) is not None:
                return wrong
    figures = [work.measured(check, one) for one in times.figures()]
    advice = say(
        "{load}; contact {load2}.",
        load=work.places.coil(profile.load),
        load2=work.places.contact(profile.load),
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
    (profile, index), places = work.nest_of(check), work.places
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
            "the unit's side. Else {relay} does not move: {load}; contact {load2}; {readings}.",
            terminal=terminal,
            other=rail.other,
            relay=relay,
            load=places.coil(profile.load),
            load2=places.contact(profile.load),
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


def _moved_output(work: Work, nest: Nest, index: int) -> Finding | None:
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
            "wires of the relay coils, or a welded {load} (contact {load2}); {output_at_plus}; "
            "{output_at_minus}.",
            terminal=terminal,
            load=places.relay(profile.load),
            load2=places.contact(profile.load),
            output_at_plus=places.reading(profile.output_at_plus),
            output_at_minus=places.reading(profile.output_at_minus),
        ),
    )


async def check_leakage(work: Work, check: Check) -> Finding:
    """The current with nothing in the nest, one part of it after the other under voltage."""
    nest, (_, index) = _nest(work, check), work.nest_of(check)
    await work.bench.interlock.arm()
    if await work.bench.supply.current_a() is None:
        words = "the supply does not measure its current"
        return Finding(Outcome.NOT_FITTED, words, "A supply with a serial port would measure it.")
    async for name, terminal, current_a in _currents(work, nest, index):
        figure = work.measured(check, Figure(name, current_a, None, LEAKAGE_A, "A"))
        if not figure.within:
            return Finding(
                Outcome.FAILED,
                say(
                    "{current_a:.1f} mA with {name} and no unit, allowed {leakage_a:g} mA",
                    current_a=current_a * 1000,
                    name=name,
                    leakage_a=LEAKAGE_A * 1000,
                ),
                say(
                    "Take the unit out if one is left in the nest. Else take the wires off {terminal} and "
                    "measure again; look for a chafed cable, a wet or dirty plug, a strand that touches its "
                    "neighbour.",
                    terminal=terminal,
                ),
            )
    return Finding(Outcome.PASSED, say("no more than {leakage_a:g} mA anywhere", leakage_a=LEAKAGE_A * 1000))


async def _currents(work: Work, nest: Nest, index: int) -> AsyncIterator[tuple[str, str, float]]:
    places, supply, waits = work.places, work.bench.supply, work.bench.waits
    unit = say(
        "{index} and {index2}",
        index=places.unit_terminal(index, "L+"),
        index2=places.unit_terminal(index, "L-"),
    )
    yield "everything off", "-F1:2", await supply.current_a() or 0.0
    for rail in Rail:
        await nest.hold_teach(rail, longest_s=10.0)
        current_a = await supply.current_a() or 0.0
        nest.release_teach()
        await nest.teach_released()
        yield say("the teach wire at {rail}", rail=rail), places.unit_terminal(index, "teach"), current_a
    await nest.pull_output(Rail.PLUS)
    yield "the load at L+", places.unit_terminal(index, "output"), await supply.current_a() or 0.0
    await nest.pull_output(Rail.MINUS)
    await nest.power_on()
    await waits.sleep(_WITHIN_S)
    yield "the supply relay on", unit, await supply.current_a() or 0.0
    await nest.power_off()
