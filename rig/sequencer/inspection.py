"""Inspection: what nest and unit must show before the teach wire is touched."""

from __future__ import annotations

from rig.events import SupplyMeasured
from rig.sequencer.any_work import AnyWork, Moment
from rig.sequencer.findings import Finding, Reason, bad, undecided
from rig.sequencer.output_type import Drive, drive_of
from wiring.saying import say
from wiring.terms import LedKind, OutputType

VOLTAGE_SHARE = 0.1
"""A supply further off than this share is not the supply that was set."""


async def inspect(work: AnyWork) -> Finding | None:
    """Try the output wire, power the unit up, look at supply and resting output; None when nothing is wrong."""
    if work.led_now(Moment.UNFED).kind is LedKind.STEADY:
        return undecided(
            Reason.LED_ROOM_LIGHT, "LED pick-up sees light from a unit without supply: put it over the LED"
        )
    return await inspect_supply(work) or await _inspect_at_rest(work)


async def inspect_supply(work: AnyWork) -> Finding | None:
    """Clear the beam, try the output wire, power the unit up, look at its supply; None when nothing is wrong."""
    await work.clear_beam()
    # Before anything is read through them: load relay, output wire and inputs must work.
    unfed = drive_of(await work.read_unfed())
    await work.power_on()
    measured = await work.measure_supply()
    return _judge_no_current(work, measured, unfed) or judge_supply(work, measured) or _judge_unfed(unfed)


async def doubt_output_wire(work: AnyWork) -> Finding | None:
    """Before a unit is blamed for its output stage: whether wire and load still work without it."""
    await work.power_off()
    return _judge_unfed(drive_of(await work.read_unfed()))


def judge_supply(work: AnyWork, measured: SupplyMeasured) -> Finding | None:
    """Judge what the unit draws and what it gets; None when both are right or cannot be measured."""
    # The output may be on and feed the load; that is not the unit's own current.
    largest_a = work.plan.inspection.current_max_a
    if measured.current_a is not None and measured.current_a > largest_a + work.load_a:
        return bad(
            Reason.OVER_CURRENT,
            say(
                "unit draws {current_a}, its type at most {largest_a}",
                current_a=_ma(measured.current_a),
                largest_a=_ma(largest_a),
            ),
        )
    wanted_v = work.supply_v
    if measured.voltage_v is not None and abs(measured.voltage_v - wanted_v) > VOLTAGE_SHARE * wanted_v:
        return undecided(
            Reason.SUPPLY_LOW,
            say(
                "supply stands at {voltage_v:.1f} V instead of {wanted_v:.1f} V: check the bench supply",
                voltage_v=measured.voltage_v,
                wanted_v=wanted_v,
            ),
        )
    return None


def _judge_no_current(work: AnyWork, measured: SupplyMeasured, unfed: Drive) -> Finding | None:
    if measured.current_a is None or measured.current_a >= work.plan.inspection.current_min_a:
        return None
    drawn = say("unit draws {current_a}", current_a=_ma(measured.current_a))
    if unfed is Drive.HOLDS_MINUS:
        return undecided(
            Reason.HARNESS_SWAPPED,
            say("{drawn} and loads its output wire: L+ and output exchanged in the harness", drawn=drawn),
        )
    return undecided(
        Reason.NO_CURRENT,
        say("{drawn}: unit dead, or not plugged in; seat the plug and set it again", drawn=drawn),
    )


def _judge_unfed(unfed: Drive) -> Finding | None:
    if unfed is Drive.FOLLOWS:
        return None
    if unfed is Drive.UNCLEAR:
        return undecided(
            Reason.OUTPUT_UNCLEAR,
            "output wire does not follow its load even without supply: check load relay, resistor and inputs",
        )
    return undecided(
        Reason.OUTPUT_STUCK,
        say(
            "output {unfed} even without supply: shorted in the unit or the harness, or the load "
            "relay is stuck",
            unfed=unfed,
        ),
    )


async def _inspect_at_rest(work: AnyWork) -> Finding | None:
    at_rest = drive_of(await work.read_both_ways("at rest", None))
    if at_rest is Drive.UNCLEAR:
        return undecided(Reason.OUTPUT_UNCLEAR, "output is at neither rail or does not keep still at rest")
    wanted = work.plan.inspection.output_type
    # The other way round, an NPN output that holds L+, may also be a short to the unit's own L+.
    if wanted is not OutputType.PNP or at_rest is not Drive.HOLDS_MINUS:
        return None
    return await doubt_output_wire(work) or bad(
        Reason.OUTPUT_TYPE,
        say("output {at_rest} at rest, which a {wanted} output cannot", at_rest=at_rest, wanted=wanted),
    )


def _ma(current_a: float) -> str:
    return say("{current_a:.0f} mA", current_a=current_a * 1000)
