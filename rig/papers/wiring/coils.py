"""Sheets: relay coils and their drivers, path by path."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.symbols import coil, normally_open, strip_terminal
from rig.papers.wiring.elements import (
    OUT_HEIGHT,
    block,
    field_terminal,
    new_sheet,
    ohms,
    output_channel,
    rail,
    tap,
    within_nest,
)
from wiring.circuit.channels import OutputChannel, output_channels
from wiring.circuit.copper import Circuit
from wiring.profile import RigProfile

_TOP_Y, _COIL_Y, _CHANNEL_Y, _ZERO_Y, _WORDS_Y = 24.0, 38.0, 82.0, 146.0, 156.0
_FIRST_X, _PITCH = 36.0, 54.0


def coil_sheets(profile: RigProfile, circuit: Circuit) -> Iterator[Drawing]:
    """One sheet for the rig, one for each nest."""
    channels = output_channels(profile)
    for group in range(len(profile.nest) + 1):
        mine = [channel for channel in channels if channel.group == group]
        swings = any(channel.driven == "-K2" for channel in mine)
        own = "Heartbeat and swing" if swings else "Heartbeat"
        title = own if group == 0 else f"Nest {profile.nest[group - 1].name}: relay coils"
        name = "heartbeat" if group == 0 else f"nest-{group}-coils"
        pen = new_sheet(circuit, name, title)
        _paths(pen, mine, profile)
        if swings:
            _swing(pen, _FIRST_X + 2 * _PITCH)
        yield pen.drawing


def _paths(pen: Pen, channels: Sequence[OutputChannel], profile: RigProfile) -> None:
    places = [(_FIRST_X + index * _PITCH, channel) for index, channel in enumerate(channels)]
    coils = [x for x, channel in places if channel.relay is not None]
    if coils:
        rail(pen, "24C", _TOP_Y, coils[-1])
    rail(pen, "0", _ZERO_Y, places[-1][0])
    selectors = [nest.rail_selector for nest in profile.nest]
    for x, channel in places:
        if channel.relay is None:
            _monitor(pen, x)
        else:
            _coil(pen, channel, x, zener=channel.relay not in selectors, last=x == coils[-1])
        resistor = ohms(profile.electrical.drive_resistor_ohm)
        output_channel(pen, channel, x, _CHANNEL_Y, resistor)
        low = _CHANNEL_Y + OUT_HEIGHT
        pen.wire((x, low), (x, _ZERO_Y))
        if x != places[-1][0]:
            pen.node(x, _ZERO_Y)
        pen.paragraph(x - 8, _WORDS_Y, within_nest(channel.duty), letters=26, size=2.6)


def _coil(pen: Pen, channel: OutputChannel, x: float, *, zener: bool, last: bool) -> None:
    if last:
        pen.wire((x, _TOP_Y), (x, _COIL_Y))
    else:
        tap(pen, x, _TOP_Y, _COIL_Y)
    pen.tag(x + 1, 33, f"{channel.driven}:A1")
    low = coil(pen, channel.driven, x, _COIL_Y, zener=zener)
    pen.wire((x, low), (x, _CHANNEL_Y))
    pen.tag(x + 1, low + 14, f"{channel.driven}:A2")


def _monitor(pen: Pen, x: float) -> None:
    """The heartbeat monitor: its supply to the left, its pulse input above the coupler's switch."""
    words = ("heartbeat", "monitor")
    block(pen, "-K1", (x - 22, 38, 30, 20), words, above=(("A1", x - 16),), below=(("A2", x - 16), ("Y1", x)))
    pen.wire((x - 16, 38), (x - 16, 35))
    pen.flag("24", x - 16, 35, up=True)
    pen.wire((x - 16, 58), (x - 16, 62))
    pen.flag("0", x - 16, 62, up=False)
    pen.wire((x, 58), (x, _CHANNEL_Y))
    pen.tag(x + 1, 72, "-K1:Y1")


def _swing(pen: Pen, x: float) -> None:
    upper, lower = field_terminal(pen, "-M1:1"), field_terminal(pen, "-M1:2")
    pen.flag("24", x, 30, up=True)
    pen.wire((x, 30), (x, 38))
    low = normally_open(pen, "-K2", x, 38)
    pen.wire((x, low), (x, 82))
    pen.tag(x + 1.6, 62, "-K2:14")
    strip_terminal(pen, upper, x, 70)
    block(pen, "-M1", (x - 12, 82, 24, 20), ("swing",), above=(("1", x),), below=(("2", x),))
    pen.wire((x, 102), (x, 122))
    strip_terminal(pen, lower, x, 112)
    pen.flag("0", x, 122, up=False)
    pen.paragraph(x - 8, _WORDS_Y, "swings the target out of the beam", letters=26, size=2.6)
