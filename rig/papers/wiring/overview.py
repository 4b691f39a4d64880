"""Sheet: the rig as blocks, what drives and what reads what."""

from __future__ import annotations

from collections.abc import Sequence

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import WIRE, Drawing
from rig.papers.wiring.elements import new_sheet
from wiring.circuit.channels import input_channels, relays_of
from wiring.circuit.copper import Circuit
from wiring.circuit.serial import SerialInstrument, serial_instruments
from wiring.profile import RigProfile, TargetKind

_TOP, _ROW, _SERIAL_ROW = 22.0, 32.0, 15.0
_SERIAL_X, _BOARD_X, _COUPLER_X, _PANEL_X, _UNIT_X = 16.0, 72.0, 116.0, 166.0, 236.0
_BOX = 11.0


def overview_sheet(profile: RigProfile, circuit: Circuit) -> Drawing:
    """Draw the sheet."""
    pen = new_sheet(circuit, "overview", "Overview")
    serial = serial_instruments(profile)
    height = max(len(profile.nest) * _ROW + 26, len(serial) * _SERIAL_ROW + _BOX)
    _box(pen, _BOARD_X, _TOP, 26, height, ("-A1", "board with", "GPIO header"))
    _instruments(pen, serial)
    _rig_row(pen, profile)
    for index, nest in enumerate(profile.nest, start=1):
        y = _TOP + index * _ROW
        names = [name for name, _, _ in relays_of(nest, index)]
        read = [f"-K{index}5 level monitor", *([f"-B{index}1 LED pick-up"] if nest.led is not None else [])]
        _lanes(pen, index, y, (f"{names[0]} to {names[-1]}", "relays"), read)
        _box(pen, _UNIT_X, y, 44, 26, (f"nest {nest.name}", f"unit at -X{index}1"))
        _arrow(pen, _PANEL_X + 56, y + 5.5, _UNIT_X)
        _arrow(pen, _UNIT_X, y + 20.5, _PANEL_X + 56)
    return pen.drawing


def _rig_row(pen: Pen, profile: RigProfile) -> None:
    names = {channel.source.partition(":")[0] for channel in input_channels(profile) if channel.group == 0}
    slots = sorted((name for name in names if name.startswith("-B")), key=lambda name: int(name[2:]))
    words = "-S1 stop button" + (", -S2 foot switch" if "-S2" in names else "")
    span = [] if not slots else [slots[0] if len(slots) == 1 else f"{slots[0]} to {slots[-1]}"]
    read = [words, *(f"{one} slots" for one in span)]
    swing = " and -K2 swing" if profile.target.kind is TargetKind.STAGE else ""
    _lanes(pen, 0, _TOP, (f"-K1 heartbeat{swing}",), read)
    supplies = ("-T1 supply of the units, -F1", "-T2 control supply, -F2", "-X4 bonding to PE")
    _box(pen, _UNIT_X, _TOP, 44, 26, supplies)


def _lanes(pen: Pen, group: int, y: float, driven: Sequence[str], read: Sequence[str]) -> None:
    """Out of the board above, back to it below."""
    for shift, coupler, words, panel in (
        (0.0, f"-K{group or ''}8", "output coupler", driven),
        (15.0, f"-K{group or ''}7", "input coupler", read),
    ):
        _box(pen, _COUPLER_X, y + shift, 36, _BOX, (coupler, words))
        _box(pen, _PANEL_X, y + shift, 56, _BOX, panel)
        middle = y + shift + _BOX / 2
        gaps = ((_BOARD_X + 26, _COUPLER_X), (_COUPLER_X + 36, _PANEL_X))
        for start, end in gaps:
            _arrow(pen, *((start, middle, end) if shift == 0 else (end, middle, start)))


def _instruments(pen: Pen, serial: Sequence[SerialInstrument]) -> None:
    people = ("person", "screen, scanner, printer")
    for place, words in enumerate((people, *((one.name, one.what) for one in serial))):
        y = _TOP + place * _SERIAL_ROW
        _box(pen, _SERIAL_X, y, 42, _BOX, words)
        if place:
            pen.text(_SERIAL_X + 49, y + 4.5, "serial", size=2.2, anchor="middle")
        _arrow(pen, _SERIAL_X + 49, y + _BOX / 2, _BOARD_X)
        _arrow(pen, _SERIAL_X + 49, y + _BOX / 2, _SERIAL_X + 42)


def _box(pen: Pen, x: float, y: float, width: float, height: float, words: Sequence[str]) -> None:
    pen.box(x, y, width, height)
    pen.symbol(words[0], x, y, width, height)
    first = y + height / 2 - (len(words) - 1) * 1.8 + 0.9
    for index, line in enumerate(words):
        pen.text(x + width / 2, first + index * 3.6, line, size=2.6, anchor="middle", bold=index == 0)


def _arrow(pen: Pen, start: float, y: float, end: float) -> None:
    pen.line((start, y), (end, y), width=WIRE)
    back = end - 2.0 if end > start else end + 2.0
    pen.line((back, y - 0.9), (end, y), (back, y + 0.9), (back, y - 0.9), fill=True)
