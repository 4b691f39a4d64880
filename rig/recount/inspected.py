"""What was read of supply, air and LED, beside what had to be there: rows of what, read, wanted."""

from __future__ import annotations

from rig.events import AirMeasured, LedSeen, SupplyMeasured
from rig.planning.plan import Plan
from rig.sequencer.answers import pattern_words
from rig.sequencer.any_work import NOTHING, Moment, pattern_of
from rig.sequencer.inspection import VOLTAGE_SHARE
from wiring.profile import RigProfile
from wiring.saying import say, together


def supply_row(measured: SupplyMeasured, plan: Plan, rig: RigProfile) -> tuple[str, ...]:
    """What the unit drew, beside what its type may; its voltage beside that of the supply."""
    inspection, volts = plan.inspection, rig.supply.voltage_v
    read: list[str] = []
    wanted: list[str] = []
    if measured.current_a is not None:
        read.append(_ma(measured.current_a))
        load_a = volts / rig.nest[0].load_resistor_ohm
        least, most = _ma(inspection.current_min_a), _ma(inspection.current_max_a)
        wanted.append(
            say(
                "{least} to {most}, {current_max_a} with its load",
                least=least,
                most=most,
                current_max_a=_ma(inspection.current_max_a + load_a),
            )
        )
    if measured.voltage_v is not None:
        read.append(say("{voltage_v:.1f} V", voltage_v=measured.voltage_v))
        wanted.append(
            say(
                "{least_v:.1f} to {most_v:.1f} V",
                least_v=volts * (1 - VOLTAGE_SHARE),
                most_v=volts * (1 + VOLTAGE_SHARE),
            )
        )
    return (
        "supply of the unit",
        together(", ", read) or "the bench cannot measure",
        together(", ", wanted),
    )


def air_row(air: AirMeasured, rig: RigProfile) -> tuple[str, ...]:
    """The air at the bench, beside that for which the plan was made."""
    planned = rig.air
    celsius = say(
        "{temperature_c:g} ±{temperature_error_k:g} °C",
        temperature_c=planned.temperature_c,
        temperature_error_k=planned.temperature_error_k,
    )
    return (
        "air at the bench",
        say(
            "{temperature_c:.1f} °C, {humidity_percent:.0f} %",
            temperature_c=air.temperature_c,
            humidity_percent=air.humidity_percent,
        ),
        say(
            "{celsius}, {humidity_percent:g} ±{humidity_error_percent:g} %",
            celsius=celsius,
            humidity_percent=planned.humidity_percent,
            humidity_error_percent=planned.humidity_error_percent,
        ),
    )


def led_row(seen: LedSeen) -> tuple[str, ...] | None:
    """What the LED showed; None where its answer stands in a row of its own."""
    pattern = pattern_of(seen)
    if seen.moment == Moment.ANSWER or (seen.led == NOTHING and seen.moment != Moment.AT_REST):
        return None
    read = "neither lit nor dark for long" if pattern is None else pattern_words(pattern)
    flicker = ", flicker of the room light" if seen.noisy else ""
    wanted = "not steadily lit" if seen.moment == Moment.UNFED else ""
    return say("LED {moment}", moment=seen.moment), say("{read}{flicker}", read=read, flicker=flicker), wanted


def _ma(current_a: float) -> str:
    return say("{current_a:.0f} mA", current_a=current_a * 1000)
