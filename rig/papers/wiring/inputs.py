"""Sheets: everything that the board reads, path by path."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.symbols import (
    normally_closed,
    normally_open,
    pedal,
    push_to_stop,
    roller,
    strip_terminal,
)
from rig.papers.wiring.elements import (
    IN_HEIGHT,
    block,
    field_terminal,
    input_channel,
    new_sheet,
    ohms,
    rail,
    tap,
    within_nest,
)
from wiring.circuit.channels import STOP_SOURCE, InputChannel, input_channels
from wiring.circuit.copper import Circuit, terminal
from wiring.profile import RigProfile

_TOP_Y, _ZERO_Y = 24.0, 140.0
_FED_Y, _SWITCHED_Y, _MONITOR_Y = 78.0, 40.0, 106.0
_FIRST_X, _PITCH, _PER_SHEET = 28.0, 44.0, 6


def input_sheets(profile: RigProfile, circuit: Circuit) -> Iterator[Drawing]:
    """Sheets for the rig, six paths each, and one for each nest."""
    channels = input_channels(profile)
    values = _values(profile)
    mine = [channel for channel in channels if channel.group == 0]
    for start in range(0, len(mine), _PER_SHEET):
        name = f"inputs-{start // _PER_SHEET + 1}"
        pen = new_sheet(circuit, name, "Stop button, foot switch and other inputs of the rig")
        _contacts(pen, mine[start : start + _PER_SHEET], values)
        yield pen.drawing
    for index, nest in enumerate(profile.nest, start=1):
        pen = new_sheet(circuit, f"nest-{index}-inputs", f"Nest {nest.name}: what the board reads")
        _switched(pen, index, [channel for channel in channels if channel.group == index], values)
        yield pen.drawing


def _values(profile: RigProfile) -> tuple[str, str, str]:
    electrical = profile.electrical
    return (
        ohms(electrical.input_resistor_ohm),
        f"{electrical.input_zener_v:g} V",
        ohms(electrical.pull_ohm),
    )


def _contacts(pen: Pen, channels: Sequence[InputChannel], values: tuple[str, str, str]) -> None:
    places = [(_FIRST_X + index * _PITCH, channel) for index, channel in enumerate(channels)]
    fed = [x for x, channel in places if channel.source != "-K1:14"]
    if fed:
        rail(pen, "24", _TOP_Y, fed[-1])
    rail(pen, "0", _ZERO_Y, places[-1][0])
    for x, channel in places:
        if channel.source == "-K1:14":
            pen.wire((x, _FED_Y - 10), (x, _FED_Y))
            pen.flag("24C", x, _FED_Y - 10, up=True)
        else:
            _contact(pen, channel, x, last=x == fed[-1])
        input_channel(pen, channel, x, _FED_Y, values)
        pen.wire((x, _FED_Y + IN_HEIGHT), (x, _ZERO_Y))
        if x != places[-1][0]:
            pen.node(x, _ZERO_Y)
        pen.paragraph(x - 6, _ZERO_Y + 10, channel.duty, letters=24, size=2.6)


def _contact(pen: Pen, channel: InputChannel, x: float, *, last: bool) -> None:
    device, _, mark = channel.source.partition(":")
    common = {"22": "21", "14": "13"}[mark]
    if last:
        pen.wire((x, _TOP_Y), (x, 40))
    else:
        tap(pen, x, _TOP_Y, 40)
    strip_terminal(pen, field_terminal(pen, f"{device}:{common}"), x, 33)
    if channel.source == STOP_SOURCE:
        low = normally_closed(pen, device, x, 40, common, mark)
        push_to_stop(pen, x, 40)
    else:
        low = normally_open(pen, device, x, 40, common, mark)
        (roller if device.startswith("-B") else pedal)(pen, x, 40)
    pen.wire((x, low), (x, _FED_Y))
    strip_terminal(pen, field_terminal(pen, channel.source), x, 62)
    pen.tag(x + 1.6, 70, channel.source)


def _switched(pen: Pen, index: int, channels: Sequence[InputChannel], values: tuple[str, str, str]) -> None:
    places = [(_FIRST_X + place * _PITCH, channel) for place, channel in enumerate(channels)]
    rail(pen, "24", _TOP_Y, places[-1][0])
    for x, channel in places:
        if x == places[-1][0]:
            pen.wire((x, _TOP_Y), (x, _SWITCHED_Y))
        else:
            tap(pen, x, _TOP_Y, _SWITCHED_Y)
        input_channel(pen, channel, x, _SWITCHED_Y, values)
        pen.wire((x, _SWITCHED_Y + IN_HEIGHT), (x, _MONITOR_Y))
        pen.tag(x + 1, 89, channel.source)
        pen.paragraph(x - 6, 160, within_nest(channel.duty), letters=24, size=2.6)
    monitored = [(x, channel) for x, channel in places if channel.source.startswith("-K")]
    _level_monitor(pen, index, monitored)
    for x, channel in places:
        if channel.source.startswith("-B"):
            _pick_up(pen, index, x)


def _level_monitor(pen: Pen, index: int, places: Sequence[tuple[float, InputChannel]]) -> None:
    name = f"-K{index}5"
    first, last = places[0][0], places[-1][0]
    above = [(channel.source.partition(":")[2], x) for x, channel in places]
    wired = {end.mark for net in pen.circuit.nets for end in net.ends if end.device == name}
    below = [("A1", first), ("A2", first + 16)]
    below += [
        (mark, first + 36 + 22 * place) for place, mark in enumerate(("I1", "I2", "I3")) if mark in wired
    ]
    outputs = "Q1, Q2 from I1; Q3, Q4 from I2" + ("; Q5 from I3" if "I3" in wired else "")
    words = (f"level monitor: {outputs}",)
    frame = (first - 8, _MONITOR_Y, last - first + 16, 26.0)
    block(pen, name, frame, words, above=above, below=below)
    for mark, x in below:
        number = pen.circuit.net_at(terminal(f"{name}:{mark}"))
        note = {"I1": "teach", "I2": "output", "I3": "unit's L+"}.get(mark, "")
        pen.wire((x, _MONITOR_Y + 26), (x, _MONITOR_Y + 34))
        pen.flag(number.number, x, _MONITOR_Y + 34, up=False, note=note)


def _pick_up(pen: Pen, index: int, x: float) -> None:
    name, strip = f"-B{index}1", f"-X{index}1"
    strip_terminal(pen, f"{strip}:8", x, 97)
    below = (("+", x - 8), ("-", x + 8))
    block(pen, name, (x - 12, _MONITOR_Y, 24, 26), ("LED", "pick-up"), above=(("Q", x),), below=below)
    for place, number, at in (("6", "24", x - 8), ("7", "0", x + 8)):
        pen.wire((at, _MONITOR_Y + 26), (at, _MONITOR_Y + 40))
        strip_terminal(pen, f"{strip}:{place}", at, _MONITOR_Y + 33)
        pen.flag(number, at, _MONITOR_Y + 40, up=False)
