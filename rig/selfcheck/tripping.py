"""What a trip in the middle of a check means for the part that was being checked, and where to look."""

from __future__ import annotations

from collections.abc import Callable

from hal.errors import BenchError, TripCause, TripKind
from rig.selfcheck.checks import Check, Finding, Kind, Outcome
from rig.selfcheck.relays import contact_line, teach_advice
from rig.selfcheck.work import Work
from wiring.saying import say


def found_by_trip(work: Work, check: Check, cause: TripCause) -> Finding:
    """The finding of a check that ended in a trip."""
    told = _TOLD.get(cause.kind)
    advice = cause.check if told is None else say("{check} {work}", check=cause.check, work=told(work, check))
    return Finding(Outcome.FAILED, str(cause), advice.strip())


def found_by_error(check: Check, failure: BenchError) -> Finding:
    """The finding of a check that an instrument, or its silence, ended."""
    return Finding(
        Outcome.FAILED,
        str(failure),
        say("{check} {kind}", check=failure.check, kind=_DEVICES.get(check.kind, "")).strip(),
    )


_DEVICES = {
    Kind.SUPPLY: "It is -T1, behind it -F1.",
    Kind.LEAKAGE: "It is -T1, behind it -F1.",
    Kind.TARGET: "The stage is -A2; its port and speed stand in [target] of the rig profile.",
}


def _teach(work: Work, check: Check) -> str:
    if check.kind not in (Kind.TEACH_MINUS, Kind.TEACH_PLUS):
        return _any_teach(work, check)
    name = work.places.relay(contact_line(work, check))
    return say("That is {name}: {work}", name=name, work=teach_advice(work, check))


def _dead(work: Work, check: Check) -> str:
    if work.bench.interlock.coil_sense is not None:
        return _teach(work, check)
    return say(
        "{teach} If no other relay moves either: {coils}",
        teach=_teach(work, check),
        coils=_coils(work, check),
    )


def _any_teach(work: Work, check: Check) -> str:
    index = check.nest or 1
    return say(
        "The teach wire is {terminal}, watched by -K{nest}5.",
        terminal=work.places.unit_terminal(index, "teach"),
        nest=index,
    )


def _wrong_rail(work: Work, check: Check) -> str:
    index = check.nest or 1
    nest, places = work.bench.profile.nest[index - 1], work.places
    rails = say(
        "{teach_at_plus}; {teach_at_minus}",
        teach_at_plus=places.reading(nest.teach_at_plus),
        teach_at_minus=places.reading(nest.teach_at_minus),
    )
    if nest.rail_selector is None:
        return say("{work} Both inputs: {rails}.", work=_teach(work, check), rails=rails)
    selector = nest.rail_selector
    return say(
        "The rail selector is {relay}: {coil}; contact {contact}; {rails}.",
        relay=places.relay(selector),
        coil=places.coil(selector),
        contact=places.contact(selector),
        rails=rails,
    )


def _supply_relay(work: Work, check: Check) -> str:
    index = check.nest or 1
    nest, places = work.bench.profile.nest[index - 1], work.places
    sense = (
        ""
        if nest.supply_sense is None
        else say("; {supply_sense}", supply_sense=places.reading(nest.supply_sense))
    )
    return say(
        "The supply relay is {relay}: contact {contact}; fuse -F1; the unit's L+ is {terminal}; "
        "{coil}{sense}.",
        relay=places.relay(nest.supply),
        contact=places.contact(nest.supply),
        terminal=places.unit_terminal(index, "L+"),
        coil=places.coil(nest.supply),
        sense=sense,
    )


def _coils(work: Work, _: Check) -> str:
    coils, places = work.bench.profile.coil_supply, work.places
    sense = "" if coils.sense is None else say(" {sense};", sense=places.reading(coils.sense))
    return say(
        "Fuse -F2; stop button -S1:11, -S1:12; heartbeat monitor -K1: pulses at -K1:Y1 from "
        "{heartbeat}, its contact -K1:13, -K1:14;{sense} {work}",
        heartbeat=places.pin(coils.heartbeat),
        sense=sense,
        work=_supply_limit(work),
    )


def _supply_limit(work: Work) -> str:
    volts = work.bench.profile.electrical.control_voltage_v
    return f"the control supply -T2 has to give {volts:g} V."


def _stop(work: Work, _: Check) -> str:
    line = work.bench.profile.coil_supply.stop_button
    return say("A broken wire reads as pressed: -S1:21, -S1:22; {line}.", line=work.places.reading(line))


_TOLD: dict[TripKind, Callable[[Work, Check], str]] = {
    TripKind.READBACK_WELDED: _teach,
    TripKind.READBACK_DEAD: _dead,
    TripKind.READBACK_UNEXPECTED: _teach,
    TripKind.READBACK_WRONG_RAIL: _wrong_rail,
    TripKind.SUPPLY_DEAD: _supply_relay,
    TripKind.SUPPLY_WELDED: _supply_relay,
    TripKind.COIL_SUPPLY_LOST: _coils,
    TripKind.COIL_SUPPLY_STUCK: _coils,
    TripKind.HEARTBEAT_LATE: _coils,
    TripKind.STOP_PRESSED: _stop,
}
