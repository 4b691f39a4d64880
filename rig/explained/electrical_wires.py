"""Worst cases on the wires of the field: supplies, teach wire, output, isolated inputs."""

from __future__ import annotations

from rig.explained.limits import MEMORY, PRACTICE, LimitSheet, stated
from rig.explained.sheet import Given, given
from wiring.electrical import TYPE_3_OFF_V, TYPE_3_ON_V
from wiring.nest import NestProfile, Topology
from wiring.profile import RigProfile

_SENSORS = f"IEC 60947-5-2, {MEMORY}"
_TYPE_3 = f"IEC 61131-2 type 3, {MEMORY}"
LOW = given(0.85, f"{_SENSORS}: 85 % of the rated supply")
HIGH = given(1.1, f"{_SENSORS}: 110 % of the rated supply")
_DROP = given(3.5, f"{_SENSORS}: voltage drop of a 3-wire output that is on")
_OFF_STATE = given(0.0005, f"{_SENSORS}: off-state current of a 3-wire output")
_LEAK = given(0.00001, f"{PRACTICE}: open contact and insulation")
LED_LEAST = given(1.0, f"{PRACTICE}: least forward voltage of a coupler's LED")
LED_MOST = given(1.4, f"{PRACTICE}: most forward voltage of a coupler's LED")
_ZENER = given(0.05, f"{PRACTICE}: a Zener diode is right within 5 %")
_TYPE_3_HIGHEST_V = 30.0
TYPE_3_ON_A = 0.002
_TYPE_3_OFF_A = 0.0015
_LOW_OUTPUT = given(1.0, f"{PRACTICE}: across an open-collector output that is on")


def error_of(profile: RigProfile) -> Given:
    """Relative error of a resistor."""
    return stated(profile.electrical.resistor_error_percent / 100)


def supplies(sheet: LimitSheet, profile: RigProfile) -> None:
    """Highest voltages, against what every input withstands."""
    sheet.begin("Supplies")
    volts = {
        "supply of the units": profile.supply.voltage_v,
        "control supply": profile.electrical.control_voltage_v,
    }
    for name, volt in volts.items():
        numbers = {"U": stated(volt), "h": HIGH}
        sheet.hold(
            f"highest voltage of the {name}",
            "U_h = U * h",
            numbers,
            "V",
            _TYPE_3,
            most=_TYPE_3_HIGHEST_V,
        )


def teach_path(sheet: LimitSheet, profile: RigProfile) -> None:
    """Fault current through the series resistor, and what the teach wire's monitor sees."""
    for nest in profile.nest:
        sheet.begin(f"Teach wire and supply of nest {nest.name}")
        _fault(sheet, profile, nest)
        _teach_levels(sheet, profile, nest)
        if nest.supply_sense is not None:
            numbers = {"U": stated(profile.supply.voltage_v), "l": LOW}
            hold = Levels(sheet, numbers, profile.electrical.monitor_error_v)
            hold.high("lowest voltage of the unit's L+ while it is supplied", "V = U * l")


def _fault(sheet: LimitSheet, profile: RigProfile, nest: NestProfile) -> None:
    electrical = profile.electrical
    numbers = {
        "U": stated(profile.supply.voltage_v),
        "h": HIGH,
        "R": stated(nest.series_resistor_ohm),
        "e": error_of(profile),
    }
    sheet.hold(
        "current with the teach wire shorted to the other rail",
        "I = U * h / (R * (1 - e))",
        numbers,
        "A",
        "current limit of the supply: a short must not pull the rails down",
        most=profile.supply.current_limit_a,
    )
    if nest.topology is Topology.TWO_RELAY:
        sheet.hold(
            "current from rail to rail with both contacts welded, a resistor in each leg",
            "I = U * h / (2 * R * (1 - e))",
            numbers,
            "A",
            "current limit of the supply",
            most=profile.supply.current_limit_a,
        )
    sheet.hold(
        "heat in the series resistor meanwhile",
        "P = (U * h)^2 / (R * (1 - e))",
        numbers,
        "W",
        "rating of the resistor",
        most=electrical.series_resistor_w,
    )


def _teach_levels(sheet: LimitSheet, profile: RigProfile, nest: NestProfile) -> None:
    electrical = profile.electrical
    numbers = {
        "U": stated(profile.supply.voltage_v),
        "l": LOW,
        "R": stated(nest.series_resistor_ohm),
        "e": error_of(profile),
        "I_t": stated(electrical.teach_input_a),
        "U_m": stated(electrical.monitor_middle_v),
        "R_m": stated(electrical.monitor_input_ohm),
        "I_0": _LEAK,
    }
    hold = Levels(sheet, numbers, electrical.monitor_error_v)
    hold.high(
        "lowest voltage of the wire held to L+", "V = U * l - R * (1 + e) * (I_t + (U * l - U_m) / R_m)"
    )
    hold.low("highest voltage of the wire held to L-", "V = R * (1 + e) * (I_t + U_m / R_m)")
    hold.between("lowest voltage of the floating wire", "V = U_m - R_m * I_0")
    hold.between("highest voltage of the floating wire", "V = U_m + R_m * I_0")


def output_channel(sheet: LimitSheet, profile: RigProfile) -> None:
    """Heat in the load resistor, and what the output's monitor sees of PNP and NPN outputs."""
    electrical = profile.electrical
    for nest in profile.nest:
        sheet.begin(f"Output of nest {nest.name}")
        numbers = {
            "U": stated(profile.supply.voltage_v),
            "l": LOW,
            "h": HIGH,
            "R": stated(nest.load_resistor_ohm),
            "e": error_of(profile),
            "U_d": _DROP,
            "I_r": _OFF_STATE,
            "U_m": stated(electrical.monitor_middle_v),
            "R_m": stated(electrical.monitor_input_ohm),
        }
        sheet.hold(
            "heat in the load resistor",
            "P = (U * h)^2 / (R * (1 - e))",
            numbers,
            "W",
            "rating of the resistor",
            most=electrical.load_resistor_w,
        )
        hold = Levels(sheet, numbers, electrical.monitor_error_v)
        hold.high("lowest voltage, PNP output on, load to L-", "V = U * l - U_d")
        hold.low("highest voltage, PNP output off, load to L-", "V = R * (1 + e) * (I_r + U_m / R_m)")
        hold.low("highest voltage, NPN output on, load to L+", "V = U_d")
        hold.high(
            "lowest voltage, NPN output off, load to L+",
            "V = U * l - R * (1 + e) * (I_r + (U * l - U_m) / R_m)",
        )


class Levels:
    """Holds voltages of a monitored wire to the thresholds of its monitor."""

    def __init__(self, sheet: LimitSheet, numbers: dict[str, Given], error_v: float) -> None:
        self._sheet, self._numbers = sheet, numbers
        self._on_v, self._off_v, self._error_v = TYPE_3_ON_V, TYPE_3_OFF_V, error_v
        self._source = f"{_TYPE_3}, and the error of the monitor ({error_v:g} V)"

    def high(self, what: str, formula: str) -> None:
        """It must read as at L+."""
        self._hold(what, formula, self._on_v + self._error_v, None)

    def low(self, what: str, formula: str) -> None:
        """It must read as at L-."""
        self._hold(what, formula, None, self._off_v - self._error_v)

    def between(self, what: str, formula: str) -> None:
        """It must read as neither."""
        self._hold(what, formula, self._off_v + self._error_v, self._on_v - self._error_v)

    def _hold(self, what: str, formula: str, least: float | None, most: float | None) -> None:
        self._sheet.hold(what, formula, self._numbers, "V", self._source, least=least, most=most)


def inputs(sheet: LimitSheet, profile: RigProfile) -> None:
    """The isolated inputs against the levels of type 3, and what contacts and monitors give them."""
    electrical = profile.electrical
    sheet.begin("Isolated inputs, field side")
    numbers = {
        "U": stated(electrical.control_voltage_v),
        "l": LOW,
        "R": stated(electrical.input_resistor_ohm),
        "e": error_of(profile),
        "U_z": stated(electrical.input_zener_v),
        "z": _ZENER,
        "U_f": LED_MOST,
        "U_s": _LOW_OUTPUT,
        "V_on": given(TYPE_3_ON_V, f"{_TYPE_3}: on from 11 V"),
    }
    least = "I = (V_on - U_f - U_z * (1 + z)) / (R * (1 + e))"
    sheet.hold("least current at 11 V", least, numbers, "A", _TYPE_3, least=TYPE_3_ON_A)
    bright = {**numbers, "U_f": LED_LEAST, "V_off": given(TYPE_3_OFF_V, f"{_TYPE_3}: off up to 5 V")}
    most = "I = max(0, (V_off - U_f - U_z * (1 - z)) / (R * (1 - e)))"
    sheet.hold("most current at 5 V", most, bright, "A", _TYPE_3, most=_TYPE_3_OFF_A)
    hot = {**bright, "V_h": given(_TYPE_3_HIGHEST_V, f"{_TYPE_3}: up to 30 V")}
    heat = "P = (V_h - U_f - U_z * (1 - z))^2 / (R * (1 - e))"
    source = "rating of the resistor"
    sheet.hold("heat in the input resistor at 30 V", heat, hot, "W", source, most=electrical.input_resistor_w)
    words = "lowest voltage across an input that a contact feeds"
    sheet.hold(words, "V = U * l", numbers, "V", _TYPE_3, least=TYPE_3_ON_V)
    words = "lowest voltage across an input that a monitor or the pick-up switches"
    sheet.hold(words, "V = U * l - U_s", numbers, "V", _TYPE_3, least=TYPE_3_ON_V)
