"""Inspection: what a unit must show before its teach wire is touched."""

from __future__ import annotations

from rig.events import SupplyMeasured
from rig.sequencer.findings import Finding, Reason, bad, undecided
from rig.sequencer.output_type import Drive
from rig.sequencer.work import Work, drive_of
from wiring.terms import LedKind, OutputType

# Drive that a sound unit at rest may show: on, off, and for all an output that is off gives way.
_AT_REST: dict[OutputType, frozenset[Drive]] = {
    OutputType.PNP: frozenset({Drive.FOLLOWS, Drive.HOLDS_PLUS}),
    OutputType.NPN: frozenset({Drive.FOLLOWS, Drive.HOLDS_MINUS}),
    OutputType.PUSH_PULL: frozenset({Drive.FOLLOWS, Drive.HOLDS_PLUS, Drive.HOLDS_MINUS}),
}
# A supply further off than this share is not the supply that was set.
_VOLTAGE_SHARE = 0.1


async def inspect(work: Work) -> Finding | None:
    """Power the unit up and look at supply, current and resting output; None when nothing is wrong."""
    if work.led_now().kind is LedKind.STEADY:
        return undecided(
            Reason.LED_ROOM_LIGHT, "LED pick-up sees light from a unit without supply: it is not over the LED"
        )
    await work.clear_beam()
    await work.power_on()
    measured = await work.measure_supply()
    finding = _judge_supply(work, measured)
    if finding is not None:
        return finding
    at_rest = drive_of(await work.read_both_ways("at rest", None))
    if measured.current_a is not None and measured.current_a < work.plan.inspection.current_min_a:
        return _judge_no_current(work, measured.current_a, at_rest)
    if at_rest is Drive.UNCLEAR:
        return undecided(Reason.OUTPUT_UNCLEAR, "output is at neither rail or does not keep still at rest")
    if at_rest in _AT_REST[work.plan.inspection.output_type]:
        return None
    await work.power_off()
    return _judge_at_rest(work, at_rest, drive_of(await work.read_both_ways("without supply", None)))


def _judge_supply(work: Work, measured: SupplyMeasured) -> Finding | None:
    wanted_v = work.bench.profile.supply.voltage_v
    if measured.voltage_v is not None and abs(measured.voltage_v - wanted_v) > _VOLTAGE_SHARE * wanted_v:
        return undecided(
            Reason.SUPPLY_LOW,
            f"supply stands at {measured.voltage_v:.1f} V instead of {wanted_v:.1f} V: check the bench supply",
        )
    load_a = wanted_v / work.nest.profile.load_resistor_ohm
    largest_a = work.plan.inspection.current_max_a
    if measured.current_a is not None and measured.current_a > largest_a + load_a:
        return bad(
            Reason.OVER_CURRENT,
            f"unit draws {measured.current_a * 1000:.0f} mA, its type at most {largest_a * 1000:.0f} mA",
        )
    return None


def _judge_no_current(work: Work, current_a: float, at_rest: Drive) -> Finding:
    drawn = f"{current_a * 1000:.0f} mA"
    if at_rest is Drive.HOLDS_MINUS:
        return undecided(
            Reason.HARNESS_SWAPPED,
            f"unit draws {drawn} and loads its output wire: L+ and output exchanged in the harness",
        )
    if work.nest.profile.supply_sense is None:
        return undecided(Reason.NO_CURRENT, f"unit draws {drawn}: dead unit, or no supply at the nest")
    return bad(Reason.NO_CURRENT, f"unit draws {drawn} though the nest has supply: dead unit")


def _judge_at_rest(work: Work, at_rest: Drive, without_supply: Drive) -> Finding:
    wanted = work.plan.inspection.output_type
    if without_supply is Drive.FOLLOWS:
        return bad(Reason.OUTPUT_TYPE, f"output {at_rest} at rest, which a {wanted} output cannot")
    return undecided(
        Reason.OUTPUT_STUCK, f"output {at_rest} even without supply: shorted in the unit or the harness"
    )
