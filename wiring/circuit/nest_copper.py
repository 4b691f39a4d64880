"""The copper of one nest: its relays' contacts, resistors, monitor and terminals."""

from __future__ import annotations

from wiring.circuit import colours
from wiring.circuit.channels import relays_of
from wiring.circuit.copper import Loom
from wiring.electrical import TYPE_3_OFF_V, TYPE_3_ON_V, Electrical
from wiring.lines import RelayLine
from wiring.nest import NestProfile, Topology


def lay_nest(loom: Loom, nest: NestProfile, index: int, electrical: Electrical) -> None:
    """Add everything that the nest with that number has of its own."""
    _add_relays(loom, nest, index, electrical)
    _add_parts(loom, nest, index, electrical)
    group = str(index)
    monitor, strip = f"-K{index}5", f"-X{index}1"
    loom.tap("L+", f"-K{index}1:13")
    sensed = (f"{monitor}:I3",) if nest.supply_sense is not None else ()
    loom.join(group, "unit's L+", colours.L_PLUS, f"-K{index}1:14", f"{strip}:1", *sensed)
    loom.tap("L-", f"{strip}:3")
    if nest.topology is Topology.SELECTOR:
        _lay_selector(loom, index)
    else:
        _lay_two_relays(loom, index)
    loom.tap("L+", f"-K{index}4:14")
    loom.tap("L-", f"-K{index}4:12")
    loom.join(group, "load", colours.OUTPUT, f"-K{index}4:11", f"-R{index}7:1")
    loom.join(group, "output", colours.OUTPUT, f"-R{index}7:2", f"{strip}:4", f"{monitor}:I2")
    loom.tap("24", f"{monitor}:A1")
    loom.tap("0", f"{monitor}:A2")
    if nest.led is not None:
        loom.tap("24", f"{strip}:6", f"-B{index}1:+")
        loom.tap("0", f"{strip}:7", f"-B{index}1:-")


def _lay_selector(loom: Loom, index: int) -> None:
    group, selector, contact = str(index), f"-K{index}2", f"-K{index}3"
    loom.tap("L+", f"{selector}:14")
    loom.tap("L-", f"{selector}:12")
    loom.join(group, "selected rail", colours.TEACH, f"{selector}:11", f"{contact}:13")
    loom.join(group, "teach contact", colours.TEACH, f"{contact}:14", f"-R{index}5:1")
    loom.join(group, "teach wire", colours.TEACH, f"-R{index}5:2", f"-X{index}1:2", f"-K{index}5:I1")


def _lay_two_relays(loom: Loom, index: int) -> None:
    # A resistor in each leg: contacts that weld together then pass milliamperes from rail to rail.
    group = str(index)
    loom.tap("L+", f"-R{index}5:1")
    loom.tap("L-", f"-R{index}6:1")
    loom.join(group, "L+ through its resistor", colours.L_PLUS, f"-R{index}5:2", f"-K{index}2:13")
    loom.join(group, "L- through its resistor", colours.L_MINUS, f"-R{index}6:2", f"-K{index}3:13")
    ends = (f"-K{index}2:14", f"-K{index}3:14", f"-X{index}1:2", f"-K{index}5:I1")
    loom.join(group, "teach wire", colours.TEACH, *ends)


def relay_rating(line: RelayLine, electrical: Electrical, *, contact: str, flyback: str) -> str:
    """By what a relay is bought."""
    return (
        f"{contact}, gold-plated for 1 mA at 24 V DC; coil {electrical.control_voltage_v:g} V DC, "
        f"{electrical.coil_ohm:g} ohm or more; operates within {line.operate_s * 1000:g} ms, releases within "
        f"{line.release_s * 1000:g} ms with its {flyback}, bounces up to {line.bounce_s * 1000:g} ms"
    )


def _add_relays(loom: Loom, nest: NestProfile, index: int, electrical: Electrical) -> None:
    for name, duty, line in relays_of(nest, index):
        change_over = line in (nest.rail_selector, nest.load)
        # The rail selector has to fall after the teach contact, so it alone gets the diode that slows a relay.
        flyback = (
            "plain diode" if line is nest.rail_selector else f"diode and {electrical.flyback_v:g} V Zener"
        )
        contact = "1 change-over contact" if change_over else "1 normally open contact"
        loom.add(name, "relay", relay_rating(line, electrical, contact=contact, flyback=flyback), duty)


def _add_parts(loom: Loom, nest: NestProfile, index: int, electrical: Electrical) -> None:
    error = f"{electrical.resistor_error_percent:g} %"
    series = f"{nest.series_resistor_ohm:g} ohm, {electrical.series_resistor_w:g} W, {error}"
    legs = {5: "to L+", 6: "to L-"} if nest.topology is Topology.TWO_RELAY else {5: ""}
    for place, leg in legs.items():
        loom.add(f"-R{index}{place}", "resistor", series, f"nest {nest.name}: teach wire {leg}".rstrip())
    load = f"{nest.load_resistor_ohm:g} ohm, {electrical.load_resistor_w:g} W, {error}"
    loom.add(f"-R{index}7", "resistor", load, f"nest {nest.name}: load of the output")
    channels = 4 if nest.supply_sense is None else 5
    loom.add(
        f"-K{index}5",
        "level monitor",
        f"{channels} comparators with open-collector outputs, 30 mA; on above {TYPE_3_ON_V:g} V or below "
        f"{TYPE_3_OFF_V:g} V, right within {electrical.monitor_error_v:g} V; {electrical.monitor_input_ohm:g} ohm from "
        f"each input to {electrical.monitor_middle_v:g} V; supply {electrical.control_voltage_v:g} V DC",
        f"nest {nest.name}: where teach wire, output and L+ are",
    )
    loom.add(
        f"-X{index}1", "terminal strip", "feed-through terminals, 0.14 to 2.5 mm2", f"nest {nest.name}: unit"
    )
    if nest.led is not None:
        loom.add(
            f"-B{index}1",
            "LED pick-up",
            f"phototransistor in a clip, comparator with open-collector output, "
            f"{electrical.control_voltage_v:g} V DC, answers within 5 ms",
            f"nest {nest.name}: LED of the unit",
        )
