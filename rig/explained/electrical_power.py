"""Coils and their flyback, heartbeat, fuses and supplies."""

from __future__ import annotations

from rig.explained.electrical_wires import HIGH, LED_LEAST, LOW, error_of
from rig.explained.limits import PRACTICE, LimitSheet, stated
from rig.explained.sheet import given
from wiring.circuit.channels import input_channels, output_channels
from wiring.electrical import COIL_OPERATES
from wiring.profile import RigProfile

_DIODE = given(1.0, f"{PRACTICE}: across a diode that conducts")
_OWN_A = given(0.03, f"{PRACTICE}: heartbeat monitor, level monitor or pick-up, each")


def coils(sheet: LimitSheet, profile: RigProfile) -> None:
    """Coil current and voltage, and what the driver has to withstand when it opens."""
    electrical = profile.electrical
    sheet.begin("Relay coils")
    numbers = {
        "U": stated(electrical.control_voltage_v),
        "h": HIGH,
        "l": LOW,
        "R": stated(electrical.coil_ohm),
        "U_q": stated(electrical.coil_driver_drop_v),
        "U_z": stated(electrical.flyback_v),
        "U_d": _DIODE,
    }
    source = "rating of the driver"
    sheet.hold("most coil current", "I = U * h / R", numbers, "A", source, most=electrical.coil_driver_a)
    sheet.hold(
        "lowest share of the rated voltage across a coil",
        "s = (U * l - U_q) / U",
        numbers,
        "of rated",
        f"relays operate from {COIL_OPERATES:.0%} of their rated voltage, {PRACTICE}",
        least=COIL_OPERATES,
    )
    sheet.hold(
        "voltage across the driver when it opens, diode and Zener",
        "U_p = U * h + U_z + U_d",
        numbers,
        "V",
        source,
        most=electrical.coil_driver_v,
    )
    for nest in profile.nest:
        if nest.rail_selector is not None and nest.teach_contact is not None:
            sheet.hold(
                f"nest {nest.name}: how much later the rail selector falls than the teach contact is quiet",
                "t = t_s - (t_r + t_b)",
                {
                    "t_s": stated(nest.rail_selector.release_s),
                    "t_r": stated(nest.teach_contact.release_s),
                    "t_b": stated(nest.teach_contact.bounce_s),
                },
                "s",
                "the selector never moves under a closed teach contact; its plain diode makes it slow",
                least=0.0,
            )


def heartbeat(sheet: LimitSheet, profile: RigProfile) -> None:
    """Time of the monostable against the beat and against the time that the profile promises."""
    coil_supply, electrical = profile.coil_supply, profile.electrical
    sheet.begin("Heartbeat")
    numbers = {
        "k": stated(electrical.monostable_factor),
        "R": stated(electrical.monostable_resistor_ohm(coil_supply.dropout_s)),
        "C": stated(electrical.monostable_uf),
        "e": stated(electrical.monostable_error_percent / 100),
        "t_r": stated(electrical.monostable_release_s),
        "t_b": stated(coil_supply.beat_s),
    }
    sheet.hold(
        "longest time from the last pulse until the coils are off",
        "t = k * R * C / 1000000 * (1 + e) + t_r",
        numbers,
        "s",
        "coil_supply.dropout_s of the rig profile",
        most=coil_supply.dropout_s,
    )
    sheet.hold(
        "how late a pulse may come before the coils drop (a pulse is two beats)",
        "t = k * R * C / 1000000 * (1 - e) - 2 * t_b",
        numbers,
        "s",
        f"half a beat, {PRACTICE}",
        least=coil_supply.beat_s / 2,
    )


def fuses(sheet: LimitSheet, profile: RigProfile) -> None:
    """Sums of currents against limits, fuses and wires."""
    _unit_supply(sheet, profile)
    _control_supply(sheet, profile)


def _unit_supply(sheet: LimitSheet, profile: RigProfile) -> None:
    electrical, supply = profile.electrical, profile.supply
    sheet.begin("Supply of the units and its fuse")
    numbers = {
        "n": given(len(profile.nest), "nests of the profile"),
        "I_u": stated(electrical.unit_a),
        "I_t": stated(electrical.teach_input_a),
        "U": stated(supply.voltage_v),
        "h": HIGH,
        "R": stated(min(nest.load_resistor_ohm for nest in profile.nest)),
        "e": error_of(profile),
    }
    total = "I = n * (I_u + I_t + U * h / (R * (1 - e)))"
    words = "most current of all units with their loads"
    sheet.hold(words, total, numbers, "A", "current limit of the supply", most=supply.current_limit_a)
    limit = {"I_l": stated(supply.current_limit_a)}
    words = "current limit, which has to act before the fuse"
    sheet.hold(words, "I = I_l", limit, "A", "rating of the fuse", most=electrical.supply_fuse_a)
    fuse = {"I_f": stated(electrical.supply_fuse_a)}
    sheet.hold("fuse in L+", "I = I_f", fuse, "A", "rating of the wires", most=electrical.wire_a)


def _control_supply(sheet: LimitSheet, profile: RigProfile) -> None:
    electrical = profile.electrical
    sheet.begin("Control supply and its fuse")
    relays = [channel for channel in output_channels(profile) if channel.relay is not None]
    pick_ups = sum(nest.led is not None for nest in profile.nest)
    numbers = {
        "U": stated(electrical.control_voltage_v),
        "h": HIGH,
        "n": given(len(relays), "relays of the profile"),
        "R": stated(electrical.coil_ohm),
        "m": given(len(input_channels(profile)), "inputs of the profile"),
        "R_i": stated(electrical.input_resistor_ohm),
        "e": error_of(profile),
        "U_f": LED_LEAST,
        "q": given(1 + len(profile.nest) + pick_ups, "monitors and pick-ups of the profile"),
        "I_o": _OWN_A,
        "I_s": stated(0.0 if profile.target.swing is None else electrical.swing_a),
    }
    total = "I = U * h * n / R + m * (U * h - U_f) / (R_i * (1 - e)) + q * I_o + I_s"
    source = f"80 % of the fuse, {PRACTICE}"
    words = "most current with everything on"
    sheet.hold(words, total, numbers, "A", source, most=round(0.8 * electrical.control_fuse_a, 6))
    fuse = {"I_f": stated(electrical.control_fuse_a)}
    words = "fuse in the control supply, which the supply has to be able to blow"
    most = min(electrical.control_limit_a, electrical.wire_a)
    sheet.hold(words, "I = I_f", fuse, "A", "limit of the supply, rating of the wires", most=most)
