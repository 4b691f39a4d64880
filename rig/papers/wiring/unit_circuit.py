"""Sheet: what stands between the rails and one unit."""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.symbols import change_over, normally_open, resistor
from rig.papers.wiring.elements import new_sheet, ohms, rail, tap, within_nest
from wiring.circuit.copper import Circuit
from wiring.nest import NestProfile, Topology

_RAIL_Y = 26.0
_STRIP_X, _UNIT_X, _FLAG_X = 205.0, 228.0, 184.0
_SUPPLY_Y, _TEACH_Y, _OUTPUT_Y, _MINUS_Y = 82.0, 108.0, 132.0, 154.0
_UNIT_WIRES = (
    (_SUPPLY_Y, "pin 1  BN  L+"),
    (_TEACH_Y, "teach wire: pin and"),
    (_TEACH_Y + 3.6, "colour by data sheet"),
    (_OUTPUT_Y, "pin 4  BK  output"),
    (_MINUS_Y, "pin 3  BU  L-"),
)


def unit_sheet(nest: NestProfile, index: int, circuit: Circuit) -> Drawing:
    """Draw the sheet of the nest with that number."""
    pen = new_sheet(circuit, f"nest-{index}-unit", f"Nest {nest.name}: unit, supply, teach wire, load")
    rail(pen, "L+", _RAIL_Y, 165)
    _load(pen, index, 50, ohms(nest.load_resistor_ohm))
    value = ohms(nest.series_resistor_ohm)
    if nest.topology is Topology.SELECTOR:
        _selector(pen, index, 105, value)
    else:
        _two_relays(pen, index, 92, value)
    _supply(pen, index, 165, sensed=nest.supply_sense is not None)
    _unit(pen, index)
    return pen.drawing


def _load(pen: Pen, index: int, x: float, value: str) -> None:
    name, strip = f"-K{index}4", f"-X{index}1"
    _to_rails(pen, name, x)
    low = change_over(pen, name, x, 42)
    _duty(pen, name, x, 54.4)
    pen.wire((x, low), (x, 66))
    pen.tag(x + 1, 62, f"{name}:11")
    low = resistor(pen, f"-R{index}7", x, 66, value)
    pen.wire((x, low), (x, _OUTPUT_Y), (_UNIT_X, _OUTPUT_Y))
    pen.tag(x + 1, _OUTPUT_Y - 8, f"{strip}:4")
    _to_monitor(pen, f"{strip}:4", _OUTPUT_Y, f"-K{index}5:I2")
    _terminal(pen, f"{strip}:4", _OUTPUT_Y)


def _to_rails(pen: Pen, name: str, x: float) -> None:
    """From a change-over contact's 14 to L+, from its 12 to L-."""
    tap(pen, x + 3.2, _RAIL_Y, 42)
    pen.tag(x + 4.2, 35, f"{name}:14")
    pen.wire((x - 3.2, 42), (x - 3.2, 36), (x - 20, 36), (x - 20, 50))
    pen.tag(x - 18, 35, f"{name}:12")
    pen.flag("L-", x - 20, 50, up=False)


def _selector(pen: Pen, index: int, x: float, value: str) -> None:
    selector, contact, series = f"-K{index}2", f"-K{index}3", f"-R{index}5"
    _to_rails(pen, selector, x)
    low = change_over(pen, selector, x, 42)
    _duty(pen, selector, x, 54.4)
    pen.wire((x, low), (x, 64))
    pen.tag(x + 1, 61, f"{selector}:11")
    low = normally_open(pen, contact, x, 64)
    _duty(pen, contact, x, 75.4)
    pen.wire((x, low), (x, 86))
    pen.tag(x + 1, 83, f"{contact}:14")
    low = resistor(pen, series, x, 86, value)
    pen.wire((x, low), (x, _TEACH_Y), (_UNIT_X, _TEACH_Y))
    _teach_run(pen, index, x)


def _two_relays(pen: Pen, index: int, x: float, value: str) -> None:
    plus, minus, other = f"-K{index}2", f"-K{index}3", x + 40
    tap(pen, x, _RAIL_Y, 40)
    pen.tag(x + 1, 35, f"-R{index}5:1")
    pen.flag("L-", other, 36, up=True)
    pen.wire((other, 36), (other, 40))
    pen.tag(other + 2, 38.6, f"-R{index}6:1")
    for at, name, place in ((x, plus, 5), (other, minus, 6)):
        low = resistor(pen, f"-R{index}{place}", at, 40, value)
        pen.wire((at, low), (at, 66))
        pen.tag(at + 1, 62, f"{name}:13")
        low = normally_open(pen, name, at, 66)
        _duty(pen, name, at, 77.4)
        pen.wire((at, low), (at, _TEACH_Y))
    pen.node(other, _TEACH_Y)
    pen.wire((x, _TEACH_Y), (_UNIT_X, _TEACH_Y))
    _teach_run(pen, index, x)


def _teach_run(pen: Pen, index: int, x: float) -> None:
    strip = f"-X{index}1"
    pen.tag(x + 12, _TEACH_Y - 1.2, f"{strip}:2")
    _to_monitor(pen, f"{strip}:2", _TEACH_Y, f"-K{index}5:I1")
    _terminal(pen, f"{strip}:2", _TEACH_Y)


def _supply(pen: Pen, index: int, x: float, *, sensed: bool) -> None:
    name, strip = f"-K{index}1", f"-X{index}1"
    # The rail ends here: a corner, not a junction.
    pen.wire((x, _RAIL_Y), (x, 42))
    pen.tag(x + 1, 35, f"{name}:13")
    low = normally_open(pen, name, x, 42)
    _duty(pen, name, x, 53.4)
    pen.wire((x, low), (x, _SUPPLY_Y), (_UNIT_X, _SUPPLY_Y))
    pen.tag(x + 1, 68, f"{strip}:1")
    if sensed:
        _to_monitor(pen, f"{strip}:1", _SUPPLY_Y, f"-K{index}5:I3")
    _terminal(pen, f"{strip}:1", _SUPPLY_Y)


def _duty(pen: Pen, name: str, x: float, y: float) -> None:
    """What a relay is for, below its designation."""
    pen.text(x - 5, y, within_nest(pen.circuit.device(name).duty), size=2.0, anchor="end")


def _to_monitor(pen: Pen, place: str, y: float, monitor: str) -> None:
    pen.node(_FLAG_X, y)
    pen.wire((_FLAG_X, y), (_FLAG_X, y + 5))
    pen.flag(pen.net_of(place), _FLAG_X, y + 5, up=False, note=f"to {monitor}")


def _terminal(pen: Pen, place: str, y: float) -> None:
    pen.circle(_STRIP_X, y, 0.9)
    pen.pin(place, _STRIP_X, y)
    pen.symbol(place, _STRIP_X - 0.9, y - 0.9, 1.8, 1.8)
    pen.text(_STRIP_X, y - 2.0, place, size=2.4, anchor="middle", bold=True)


def _unit(pen: Pen, index: int) -> None:
    pen.wire((_UNIT_X, _MINUS_Y), (_FLAG_X, _MINUS_Y), (_FLAG_X, _MINUS_Y + 5))
    pen.tag(_FLAG_X + 2, _MINUS_Y - 1.2, f"-X{index}1:3")
    pen.flag("L-", _FLAG_X, _MINUS_Y + 5, up=False)
    _terminal(pen, f"-X{index}1:3", _MINUS_Y)
    pen.box(_UNIT_X, 70, 48, 100, dashed=True)
    pen.symbol("unit", _UNIT_X, 70, 48, 100)
    pen.text(_UNIT_X + 3, 75, "unit in the nest", size=2.8, bold=True)
    for y, words in _UNIT_WIRES:
        pen.text(_UNIT_X + 3, y + 0.9, words, size=2.6)
