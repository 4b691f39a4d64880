"""The copper that the rig has once: supplies, stop button, heartbeat, field devices."""

from __future__ import annotations

from dataclasses import dataclass

from wiring.circuit import colours
from wiring.circuit.copper import Loom
from wiring.circuit.nest_copper import relay_rating
from wiring.profile import RigProfile, TargetKind

FIELD = "-X3"
RIG = "9"
"""First figure of the numbers of wires that belong to no nest."""


@dataclass(slots=True)
class FieldStrip:
    """Counts the terminals of the strip to which devices outside the panel are wired."""

    used: int = 0

    def next(self) -> str:
        """The next free terminal."""
        self.used += 1
        return f"{FIELD}:{self.used}"


def lay_potentials(loom: Loom) -> None:
    """Add the nets that many share."""
    loom.potential("L+", "supply of the units", colours.L_PLUS, "-X1")
    loom.potential("L-", "supply of the units, return", colours.L_MINUS, "-X1")
    loom.potential("24", "control supply", colours.CONTROL, "-X1")
    loom.potential("0", "control supply, return", colours.CONTROL_RETURN, "-X1")
    loom.potential("24C", "coil supply, behind stop button and heartbeat", colours.CONTROL, "-X1")
    loom.potential("PE", "protective bonding", colours.EARTH, "-X1")
    loom.potential("3V3", "the board's 3.3 V", colours.BOARD_SUPPLY, "-X2")
    loom.potential("GND", "the board's 0 V", colours.BOARD_RETURN, "-X2")


def lay_rig(loom: Loom, profile: RigProfile) -> FieldStrip:
    """Add supplies, coil supply and field devices; returns the strip to which more may be wired."""
    strip = FieldStrip()
    _lay_supplies(loom, profile)
    _lay_coil_supply(loom, profile, strip)
    _lay_field(loom, profile, strip)
    return strip


def _lay_supplies(loom: Loom, profile: RigProfile) -> None:
    supply, electrical = profile.supply, profile.electrical
    serial = ", serial port with SCPI" if supply.kind == "scpi" else ""
    loom.add(
        "-T1",
        "bench supply",
        f"PELV, {supply.voltage_v:g} V DC, current limit set to {supply.current_limit_a:g} A{serial}",
        "supply of the units, and of nothing else: its current reading is the unit's",
    )
    control = f"PELV, {electrical.control_voltage_v:g} V DC, {electrical.control_limit_a:g} A"
    loom.add("-T2", "control supply", control, "coils, contacts, monitors")
    loom.add("-F1", "fuse", f"{electrical.supply_fuse_a:g} A, time-lag, with holder", "L+")
    loom.add("-F2", "fuse", f"{electrical.control_fuse_a:g} A, time-lag, with holder", "control supply")
    loom.add("-X1", "distribution strip", "bridged terminals, 0.14 to 2.5 mm2", "potentials of the panel")
    loom.add("-X2", "distribution strip", "bridged terminals, 0.14 to 2.5 mm2", "3.3 V and 0 V of the board")
    loom.add("-X3", "terminal strip", "feed-through terminals, 0.14 to 2.5 mm2", "devices outside the panel")
    loom.add(
        "-X4",
        "bonding link",
        "0.14 to 2.5 mm2, with a bridge that opens",
        "L- and 0 to PE, at this one place",
    )
    loom.join(RIG, "L+ before its fuse", colours.L_PLUS, "-T1:+", "-F1:1")
    loom.tap("L+", "-F1:2")
    loom.tap("L-", "-T1:-")
    loom.join(RIG, "control supply before its fuse", colours.CONTROL, "-T2:+", "-F2:1")
    loom.tap("24", "-F2:2")
    loom.tap("0", "-T2:-")
    for number, mark in (("L-", "1"), ("0", "2"), ("PE", "3")):
        loom.tap(number, f"-X4:{mark}")


def _lay_coil_supply(loom: Loom, profile: RigProfile, strip: FieldStrip) -> None:
    coils, electrical = profile.coil_supply, profile.electrical
    ohm = electrical.monostable_resistor_ohm(coils.dropout_s)
    third = 1 if profile.target.kind is TargetKind.STAGE else 0
    loom.add(
        "-S1",
        "stop button",
        f"red mushroom head on yellow, latches, {2 + third} normally closed contacts with direct opening action",
        "takes the coil supply away",
    )
    loom.add(
        "-K1",
        "heartbeat monitor",
        f"retriggerable monostable of {electrical.monostable_factor:g} R C, {ohm / 1000:g} kOhm and "
        f"{electrical.monostable_uf:g} uF, triggered by falling edges at Y1 only (a steady level lets it drop); relay "
        f"with 1 normally open contact, 2 A, releases within {electrical.monostable_release_s * 1000:g} ms; "
        f"supply {electrical.control_voltage_v:g} V DC",
        "keeps the coil supply on while pulses come",
    )
    loom.tap("24", strip.next(), "-S1:11")
    loom.join(
        RIG, "stop button to heartbeat monitor", colours.CONTROL_SIGNAL, "-S1:12", strip.next(), "-K1:13"
    )
    loom.tap("24C", "-K1:14")
    loom.tap("24", "-K1:A1")
    loom.tap("0", "-K1:A2")
    loom.tap("24", strip.next(), "-S1:21")


def _lay_field(loom: Loom, profile: RigProfile, strip: FieldStrip) -> None:
    if profile.foot_switch is not None:
        loom.add("-S2", "foot switch", "1 normally open contact, gold-plated", "says 'done'")
        loom.tap("24", strip.next(), "-S2:13")
    for slot in profile.target.slots:
        name = f"-B{100 + slot.number}"
        duty = f"slot {slot.number}, {slot.position_mm:g} mm"
        loom.add(name, "micro-switch", "1 normally open contact, gold-plated", duty)
        loom.tap("24", strip.next(), f"{name}:13")
    if profile.target.kind is TargetKind.STAGE:
        _lay_stage(loom, profile, strip)


def _lay_stage(loom: Loom, profile: RigProfile, strip: FieldStrip) -> None:
    electrical, swing = profile.electrical, profile.target.swing
    assert swing is not None  # a stage target has one
    rating = relay_rating(
        swing,
        electrical,
        contact="1 normally open contact for 2 A",
        flyback=f"diode and {electrical.flyback_v:g} V Zener",
    )
    loom.add("-K2", "relay", rating, "swing of the target")
    drawn = f"{electrical.control_voltage_v:g} V DC, {electrical.swing_a:g} A at most, with flyback diode"
    loom.add("-M1", "swing", drawn, "swings the target out of the beam")
    loom.add(
        "-A2",
        "linear stage",
        f"{profile.target.farthest_mm:g} mm, {profile.target.speed_mm_s:g} mm/s, stop input for "
        "a potential-free contact",
        "moves the target; wired beyond its stop input as its own manual says",
    )
    loom.tap("24", "-K2:13")
    loom.join(RIG, "swing", colours.CONTROL_SIGNAL, "-K2:14", strip.next(), "-M1:1")
    loom.tap("0", strip.next(), "-M1:2")
    for mark, contact in (("1", "31"), ("2", "32")):
        loom.join(
            RIG,
            f"stop input of the stage, {mark}",
            colours.FOREIGN,
            f"-A2:{mark}",
            strip.next(),
            f"-S1:{contact}",
        )
