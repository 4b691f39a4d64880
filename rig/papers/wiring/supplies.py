"""Sheet: supplies, fuses, bonding, and the coil supply behind stop button and heartbeat."""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.symbols import fuse, normally_closed, normally_open, push_to_stop, strip_terminal
from rig.papers.wiring.elements import block, field_terminal, new_sheet
from wiring.circuit import colours
from wiring.circuit.copper import Circuit
from wiring.profile import RigProfile, TargetKind

_NOTES = (
    "The mains side of both supplies is wired as their makers say, by a qualified person under local codes.",
    "-T1 feeds the units and nothing else: what it measures is the unit's own current.",
    "L- and 0 are bonded to PE at -X4 only (PELV). The bridge is opened to test insulation, and closed again.",
    "-S1 takes the coil supply away in hardware, whatever the program does: every relay falls.",
    "-K1 keeps the coil supply on while pulses come; a line that stays high or low lets it fall.",
    "The board has a supply of its own. The couplers keep its 0 V, GND, apart from 0 and L-: never join them.",
    "Nothing here is a safety function in the sense of ISO 13849-1.",
)


def supplies_sheet(profile: RigProfile, circuit: Circuit) -> Drawing:
    """Draw the sheet."""
    pen = new_sheet(circuit, "supplies", "Supplies and coil supply")
    electrical, supply = profile.electrical, profile.supply
    rated = f"{supply.voltage_v:g} V DC, {supply.current_limit_a:g} A"
    _supply(pen, 20, "-T1", ("bench supply", rated), "-F1", f"{electrical.supply_fuse_a:g} A", ("L+", "L-"))
    rated = f"{electrical.control_voltage_v:g} V DC, {electrical.control_limit_a:g} A"
    _supply(pen, 82, "-T2", ("control supply", rated), "-F2", f"{electrical.control_fuse_a:g} A", ("24", "0"))
    _bonding(pen, 144)
    _coil_supply(pen, 206)
    if profile.target.kind is TargetKind.STAGE:
        _stage_stop(pen, 246)
    for index, note in enumerate(_NOTES):
        pen.text(20, 140 + index * 6, note, size=2.8)
    _potentials(pen)
    _colours(pen)
    return pen.drawing


def _potentials(pen: Pen) -> None:
    pen.text(20, 98, "potentials", size=2.8, bold=True)
    shared = [net for net in pen.circuit.nets if net.hub is not None]
    for index, net in enumerate(shared):
        x, y = 20 + index // 4 * 92, 104 + index % 4 * 6
        pen.text(x, y, net.number, size=2.8, bold=True)
        pen.text(x + 13, y, net.colour, size=2.8)
        pen.text(x + 29, y, net.carries, size=2.8)


def _colours(pen: Pen) -> None:
    pen.text(206, 134, "wire colours, IEC 60757", size=2.8, bold=True)
    for index, (code, name) in enumerate(colours.NAMES.items()):
        x, y = 206 + index // 7 * 40, 140 + index % 7 * 6
        pen.text(x, y, code, size=2.8, bold=True)
        pen.text(x + 14, y, name, size=2.8)


def _supply(
    pen: Pen, x: float, name: str, words: tuple[str, ...], fuse_name: str, rating: str, nets: tuple[str, str]
) -> None:
    plus, minus = x + 11, x + 37
    block(pen, name, (x, 24, 48, 20), words, below=(("+", plus), ("-", minus)))
    pen.wire((plus, 44), (plus, 54))
    pen.tag(plus + 1, 50, f"{name}:+")
    low = fuse(pen, fuse_name, plus, 54, rating)
    pen.wire((plus, low), (plus, low + 12))
    pen.tag(plus + 1, low + 7, f"{fuse_name}:2")
    pen.flag(nets[0], plus, low + 12, up=False)
    pen.wire((minus, 44), (minus, low + 12))
    pen.tag(minus + 1, low + 7, f"{name}:-")
    pen.flag(nets[1], minus, low + 12, up=False)


def _bonding(pen: Pen, x: float) -> None:
    block(
        pen,
        "-X4",
        (x, 44, 34, 18),
        ("bonding link",),
        above=(("1", x + 8), ("2", x + 26)),
        below=(("3", x + 17),),
    )
    for mark, at, number in (("1", x + 8, "L-"), ("2", x + 26, "0")):
        pen.wire((at, 44), (at, 34))
        pen.tag(at + 1, 40, f"-X4:{mark}")
        pen.flag(number, at, 34, up=True)
    pen.wire((x + 17, 62), (x + 17, 72))
    pen.tag(x + 18, 68, "-X4:3")
    pen.flag("PE", x + 17, 72, up=False)


def _coil_supply(pen: Pen, x: float) -> None:
    first, second = field_terminal(pen, "-S1:11"), field_terminal(pen, "-S1:12")
    pen.flag("24", x, 24, up=True)
    pen.wire((x, 24), (x, 44))
    strip_terminal(pen, first, x, 34)
    pen.tag(x + 1.6, 30, "-S1:11")
    low = normally_closed(pen, "-S1", x, 44, "11", "12")
    push_to_stop(pen, x, 44)
    pen.wire((x, low), (x, 78))
    strip_terminal(pen, second, x, 68)
    pen.tag(x + 1.6, 74, "-S1:12")
    low = normally_open(pen, "-K1", x, 78)
    pen.wire((x, low), (x, low + 10))
    pen.tag(x + 1.6, low + 6, "-K1:14")
    pen.flag("24C", x, low + 10, up=False)


def _stage_stop(pen: Pen, x: float) -> None:
    other = x + 24
    upper, lower = field_terminal(pen, "-S1:31"), field_terminal(pen, "-S1:32")
    pen.wire((other, 92), (other, 34), (x, 34), (x, 44))
    strip_terminal(pen, upper, other, 68)
    pen.tag(other + 1.6, 76, "-S1:31")
    low = normally_closed(pen, "-S1", x, 44, "31", "32")
    push_to_stop(pen, x, 44)
    pen.wire((x, low), (x, 92))
    strip_terminal(pen, lower, x, 68)
    pen.tag(x + 1.6, 76, "-S1:32")
    block(pen, "-A2", (x - 8, 92, 40, 20), ("linear stage,", "stop input"), above=(("2", x), ("1", other)))
