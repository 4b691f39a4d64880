"""Sheet: how level monitor and heartbeat monitor work, for who buys or makes them."""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import WIRE, Drawing
from rig.papers.wiring.elements import new_sheet, ohms
from wiring.circuit.copper import Circuit
from wiring.electrical import TYPE_3_OFF_V, TYPE_3_ON_V, Electrical
from wiring.profile import RigProfile

# A stabilised supply for the references; 1 mA through the chain makes a kiloohm of every volt.
_STABLE_V = 12.0
_MONITOR_NOTES = (
    "One input of the level monitor; I1 and I2 have both comparators, I3 only the upper one.",
    "Neither output is on while the wire floats: its resistor holds it between the thresholds.",
    "An output is on, and sinks current, while the comparator's + is below its -.",
    "Comparators with open-collector outputs, fed from 24, whose inputs withstand 36 V.",
    "A unit may pull its open teach wire to a rail by itself, which reads as held: measure that with the unit in.",
    "The chain passes 1 mA from a stabilised 12 V; its resistors are right within 1 %.",
)
_HEART_NOTES = (
    "Every falling edge at Y1 starts the time anew; a level that stays as it is lets it run out.",
    "The capacitor before the monostable makes sure of that: a line stuck high or low passes nothing.",
    "Measure the time before first use: end the program, and see the relays fall within it.",
)


def modules_sheet(profile: RigProfile, circuit: Circuit) -> Drawing:
    """Draw the sheet."""
    pen = new_sheet(circuit, "monitors", "How the monitors work")
    _level_monitor(pen, profile.electrical)
    _heartbeat_monitor(pen, profile)
    for x, notes in ((18.0, _MONITOR_NOTES), (164.0, _HEART_NOTES)):
        for index, note in enumerate(notes):
            pen.text(x, 152 + index * 5.4, note, size=2.6)
    return pen.drawing


def _level_monitor(pen: Pen, electrical: Electrical) -> None:
    pen.text(18, 22, "level monitor, -K15 and its like", size=3.2, bold=True)
    chain, middle_v = 40.0, electrical.monitor_middle_v
    marks = (_STABLE_V, TYPE_3_ON_V, middle_v, TYPE_3_OFF_V, 0.0)
    places = (36.0, 58.0, 84.0, 110.0, 132.0)
    _end(pen, chain, places[0], f"{_STABLE_V:g} V", up=True)
    for upper, lower, high_v, low_v in zip(places, places[1:], marks, marks[1:], strict=False):
        _resistor(pen, chain, upper, lower, ohms(max(high_v - low_v, 0) * 1000))
    _end(pen, chain, places[4], "0", up=False)
    wire_x = 84.0
    _resistor_level(pen, chain, wire_x, places[2], ohms(electrical.monitor_input_ohm))
    pen.text(chain - 2, places[2] - 1, f"{middle_v:g} V", size=2.4, anchor="end")
    pen.line((wire_x, 62), (wire_x, 106), width=WIRE)
    pen.node(wire_x, places[2])
    pen.line((wire_x, places[2]), (96, places[2]), width=WIRE)
    pen.circle(96, places[2], 0.9)
    pen.text(98, places[2] + 0.9, "I: the wire", size=2.6, bold=True)
    _comparator(pen, 100, 60, f"{TYPE_3_ON_V:g} V", "at L+")
    _comparator(pen, 100, 108, f"{TYPE_3_OFF_V:g} V", "at L-")
    pen.line((chain, 58), (100, 58), width=WIRE)
    pen.line((wire_x, 62), (100, 62), width=WIRE)
    pen.line((wire_x, 106), (100, 106), width=WIRE)
    pen.line((chain, 110), (100, 110), width=WIRE)
    for y in (58.0, places[2], 110.0):
        pen.node(chain, y)
    for centre in (60.0, 108.0):
        pen.text(101, centre - 1.1, "+", size=2.6)
        pen.text(101, centre + 2.9, "-", size=2.6)


def _comparator(pen: Pen, x: float, y: float, threshold: str, words: str) -> None:
    pen.symbol(f"comparator {words}", x, y - 7, 14, 14)
    pen.line((x, y - 7), (x, y + 7), (x + 14, y), (x, y - 7))
    pen.line((x + 14, y), (x + 22, y), width=WIRE)
    pen.circle(x + 22, y, 0.9)
    pen.text(x + 24, y + 0.9, f"Q: {words}", size=2.6, bold=True)
    pen.text(x - 4, y - 8.4, f"threshold {threshold}", size=2.2)


def _heartbeat_monitor(pen: Pen, profile: RigProfile) -> None:
    electrical = profile.electrical
    ohm = electrical.monostable_resistor_ohm(profile.coil_supply.dropout_s)
    time_s = electrical.monostable_factor * ohm * electrical.monostable_uf * 1e-6
    pen.text(164, 22, "heartbeat monitor, -K1", size=3.2, bold=True)
    pen.box(206, 66, 34, 34)
    pen.symbol("monostable", 206, 66, 34, 34)
    words = ("retriggerable", "monostable", f"{electrical.monostable_factor:g} R C", f"= {time_s:.3g} s")
    for index, line in enumerate(words):
        pen.text(223, 78 + index * 4, line, size=2.6, anchor="middle", bold=index < 2)
    _timing(pen, ohms(ohm), f"{electrical.monostable_uf:g} uF")
    pen.circle(168, 83, 0.9)
    pen.text(166, 79, "Y1", size=2.6, bold=True)
    pen.line((168.9, 83), (181, 83), width=WIRE)
    pen.line((181, 83), (188, 83), width=WIRE)
    pen.line((188, 80), (188, 86), width=WIRE)
    pen.line((189.6, 80), (189.6, 86), width=WIRE)
    pen.text(188.8, 90, "10 nF", size=2.4, anchor="middle")
    pen.line((189.6, 83), (206, 83), width=WIRE)
    pen.node(178, 83)
    _resistor(pen, 178, 58, 83, "10 k")
    _end(pen, 178, 58, "12 V", up=True)
    pen.node(198, 83)
    _resistor(pen, 198, 58, 83, "10 k")
    _end(pen, 198, 58, "12 V", up=True)
    pen.line((240, 83), (252, 83), width=WIRE)
    pen.box(252, 78, 12, 10)
    pen.symbol("relay of -K1", 252, 78, 12, 10)
    pen.text(258, 84, "relay", size=2.4, anchor="middle")
    pen.text(252, 93, "contact 13, 14", size=2.4)


def _timing(pen: Pen, resistor: str, capacitor: str) -> None:
    _end(pen, 223, 34, "12 V", up=True)
    _resistor(pen, 223, 34, 54, f"R {resistor}")
    pen.line((223, 54), (223, 66), width=WIRE)
    pen.node(223, 58)
    pen.line((223, 58), (246, 58), (246, 60), width=WIRE)
    pen.line((243.5, 60), (248.5, 60), width=WIRE)
    pen.line((243.5, 61.6), (248.5, 61.6), width=WIRE)
    pen.line((246, 61.6), (246, 66), width=WIRE)
    _end(pen, 246, 66, "0", up=False)
    pen.text(251, 62, f"C {capacitor}", size=2.4)


def _resistor(pen: Pen, x: float, upper: float, lower: float, value: str) -> None:
    middle = (upper + lower) / 2
    pen.line((x, upper), (x, middle - 3.5), width=WIRE)
    pen.box(x - 1.6, middle - 3.5, 3.2, 7)
    pen.line((x, middle + 3.5), (x, lower), width=WIRE)
    pen.text(x + 2.6, middle + 0.9, value, size=2.4)


def _resistor_level(pen: Pen, left: float, right: float, y: float, value: str) -> None:
    middle = (left + right) / 2
    pen.line((left, y), (middle - 3.5, y), width=WIRE)
    pen.box(middle - 3.5, y - 1.6, 7, 3.2)
    pen.line((middle + 3.5, y), (right, y), width=WIRE)
    pen.text(middle, y - 3, value, size=2.4, anchor="middle")


def _end(pen: Pen, x: float, y: float, words: str, *, up: bool) -> None:
    tip = y - 2.2 if up else y + 2.2
    pen.line((x - 1.1, y), (x + 1.1, y), (x, tip), (x - 1.1, y), fill=True)
    pen.text(x, tip - 0.8 if up else tip + 2.6, words, size=2.4, anchor="middle", bold=True)
