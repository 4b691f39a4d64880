"""What several sheets are put together from: rails, blocks, coupler channels, pins of the board."""

from __future__ import annotations

from collections.abc import Sequence

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import WIRE, Drawing
from rig.papers.drawing.symbols import diode, led, phototransistor
from wiring.circuit.build import BOARD
from wiring.circuit.channels import InputChannel, OutputChannel
from wiring.circuit.copper import Circuit, terminal
from wiring.lines import Level

LEFT, TOP, RIGHT, BOTTOM = 8.0, 8.0, 289.0, 190.0
OUT_HEIGHT, IN_HEIGHT = 34.0, 40.0


def ohms(value_ohm: float) -> str:
    """A resistance as short as it is written beside a symbol: three figures, the letters R, k, M of IEC 60062."""
    for factor, letter in ((1e6, "M"), (1e3, "k")):
        if value_ohm >= 0.9995 * factor:
            return f"{value_ohm / factor:.3g} {letter}"
    return f"{value_ohm:.3g} R"


def within_nest(duty: str) -> str:
    """What a channel does, on a sheet whose title names the nest."""
    nest, _, rest = duty.partition(": ")
    return rest if nest.startswith("nest ") else duty


def new_sheet(circuit: Circuit, name: str, title: str) -> Pen:
    """A pen on an empty sheet with its border."""
    pen = Pen(Drawing(name, title), circuit)
    pen.box(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP)
    return pen


def rail(pen: Pen, number: str, y: float, end: float) -> None:
    """A potential along the sheet, named at its left end."""
    start = LEFT + 11
    pen.drawing.flags.append((number, (start, y)))
    colour = next(net.colour for net in pen.circuit.nets if net.number == number)
    pen.text(start - 1, y + 0.9, number, size=2.8, anchor="end", bold=True)
    pen.text(start - 1, y + 4.0, colour, size=2.0, anchor="end")
    pen.wire((start, y), (end, y))


def tap(pen: Pen, x: float, rail_y: float, y: float) -> None:
    """A wire from a rail."""
    pen.node(x, rail_y)
    pen.wire((x, rail_y), (x, y))


def block(
    pen: Pen,
    name: str,
    frame: tuple[float, float, float, float],
    words: Sequence[str],
    *,
    above: Sequence[tuple[str, float]] = (),
    below: Sequence[tuple[str, float]] = (),
) -> None:
    """A device as a rectangle `(x, y, width, height)`, with pins as `(mark, x)` on its upper and lower edge."""
    x, y, width, height = frame
    pen.box(x, y, width, height)
    pen.symbol(name, x, y, width, height)
    lines = [name, *words]
    first = y + height / 2 - (len(lines) - 1) * 1.6 + 0.9
    for index, line in enumerate(lines):
        pen.text(x + width / 2, first + index * 3.2, line, anchor="middle", bold=index == 0, size=2.3)
    for (mark, at), edge, text_y in (
        *((pin, y, y + 2.6) for pin in above),
        *((pin, y + height, y + height - 0.9) for pin in below),
    ):
        pen.pin(f"{name}:{mark}", at, edge)
        pen.text(at, text_y, mark, size=2.0, anchor="middle")


def board_pin(pen: Pen, place: str, line: str, x: float, y: float, *, up: bool) -> None:
    """Where a wire ends at the board: header pin and line."""
    pen.pin(place, x, y)
    far = y - 2 if up else y
    pen.box(x - 1, far, 2, 2)
    pen.symbol(place, x - 1, far, 2, 2)
    known = terminal(place).mark != line
    words = (place, line) if known else (place, "pin ____")
    first = y - 6.2 if up else y + 4.8
    for index, text in enumerate(words):
        pen.text(x, first + index * 3.0, text, size=2.2, anchor="middle", bold=index == 0)


def board_place(pen: Pen, channel: OutputChannel | InputChannel) -> str:
    """The board's terminal on the net of a channel."""
    mark = f"O{channel.number}"
    if isinstance(channel, OutputChannel):
        mark = f"{channel.number}{'+' if channel.active is Level.HIGH else '-'}"
    ends = pen.circuit.net_at(terminal(f"{channel.coupler}:{mark}")).ends
    return next(str(end) for end in ends if end.device == BOARD)


def output_channel(pen: Pen, channel: OutputChannel, x: float, y: float, resistor: str) -> None:
    """A channel of an output coupler: its switch at `x`, its LED 20 mm to the right; pins on both edges."""
    name, number, low = channel.coupler, channel.number, y + OUT_HEIGHT
    pen.box(x - 8, y, 42, OUT_HEIGHT, dashed=True)
    pen.symbol(f"{name}.{number}", x - 8, y, 42, OUT_HEIGHT)
    phototransistor(pen, x, y + 19, side=1)
    pen.line((x, y), (x, y + 15), width=WIRE)
    pen.line((x, y + 23), (x, low), width=WIRE)
    _led_branch(pen, x + 20, y, OUT_HEIGHT, resistor, zener="", side=-1)
    pen.text(x + 4, y + 5, name, size=2.6, bold=True)
    for mark, at, edge in (
        (f"Q{number}", x, y),
        ("0", x, low),
        (f"{number}+", x + 20, y),
        (f"{number}-", x + 20, low),
    ):
        pen.pin(f"{name}:{mark}", at, edge)
        pen.text(at - 1, edge + 2.6 if edge == y else edge - 1.0, mark, size=2.0, anchor="end")
    place = board_place(pen, channel)
    if channel.active is Level.HIGH:
        pen.wire((x + 20, y), (x + 20, y - 5))
        pen.tag(x + 21, y - 1.4, f"{name}:{number}+")
        board_pin(pen, place, channel.line, x + 20, y - 5, up=True)
        pen.wire((x + 20, low), (x + 20, low + 4))
        pen.flag("GND", x + 20, low + 4, up=False)
    else:
        pen.wire((x + 20, y), (x + 20, y - 4))
        pen.flag("3V3", x + 20, y - 4, up=True)
        pen.wire((x + 20, low), (x + 20, low + 5))
        pen.tag(x + 21, low + 3.2, f"{name}:{number}-")
        board_pin(pen, place, channel.line, x + 20, low + 5, up=False)


def input_channel(pen: Pen, channel: InputChannel, x: float, y: float, values: tuple[str, str, str]) -> None:
    """A channel of an input coupler: its LED at `x`, the board's side 17 mm to the right.

    `values` are those of series resistor, Zener diode and pull resistor.
    """
    name, number, low = channel.coupler, channel.number, y + IN_HEIGHT
    resistor, zener, pull = values
    pen.box(x - 7, y, 40, IN_HEIGHT, dashed=True)
    pen.symbol(f"{name}.{number}", x - 7, y, 40, IN_HEIGHT)
    _led_branch(pen, x, y, IN_HEIGHT, resistor, zener=zener, side=1)
    _board_side(pen, channel, x + 19, y, pull)
    pen.text(x + 22, y + 5, name, size=2.6, bold=True)
    for mark, at, edge in (
        (f"{number}+", x, y),
        (f"{number}-", x, low),
        ("V", x + 19, y),
        ("G", x + 19, low),
        (f"O{number}", x + 29, low),
    ):
        pen.pin(f"{name}:{mark}", at, edge)
        pen.text(at - 1, edge + 2.6 if edge == y else edge - 1.0, mark, size=2.0, anchor="end")
    pen.wire((x + 19, y), (x + 19, y - 3))
    pen.flag("3V3", x + 19, y - 3, up=True)
    pen.wire((x + 19, low), (x + 19, low + 3))
    pen.flag("GND", x + 19, low + 3, up=False)
    pen.wire((x + 29, low), (x + 29, low + 5))
    pen.tag(x + 30, low + 3.2, f"{name}:O{number}")
    board_pin(pen, board_place(pen, channel), channel.line, x + 29, low + 5, up=False)


def _led_branch(pen: Pen, x: float, y: float, height: float, resistor: str, *, zener: str, side: int) -> None:
    """Series resistor, Zener diode if any, and LED, from edge to edge of a channel."""
    pen.line((x, y), (x, y + 4), width=WIRE)
    pen.box(x - 1.6, y + 4, 3.2, 6.5)
    pen.text(x + 2.4, y + 8.0, resistor, size=2.0)
    pen.line((x, y + 10.5), (x, y + height), width=WIRE)
    if zener:
        diode(pen, x, y + 15, up=True)
        pen.line((x - 1.3, y + 14.9), (x - 1.3, y + 14.1), width=WIRE)
        pen.text(x + 2.4, y + 15.8, zener, size=2.0)
    led(pen, x, y + (25 if zener else 19), side=side)


def _board_side(pen: Pen, channel: InputChannel, x: float, y: float, pull: str) -> None:
    """Transistor and pull resistor between V and G: which is above tells what current through the LED means."""
    switch_y, pull_y = (y + 12.0, y + 25.0) if channel.high_when_fed else (y + 28.0, y + 9.0)
    middle = y + 20.5
    pen.line((x, y), (x, y + 8), width=WIRE)
    pen.line((x, y + 32), (x, y + IN_HEIGHT), width=WIRE)
    phototransistor(pen, x, switch_y, side=-1)
    pen.box(x - 1.6, pull_y, 3.2, 6.5)
    pen.text(x + 2.4, pull_y + 4, pull, size=2.0)
    if channel.high_when_fed:
        pen.line((x, y + 16), (x, pull_y), width=WIRE)
        pen.line((x, pull_y + 6.5), (x, y + 32), width=WIRE)
    else:
        pen.line((x, y + 8), (x, pull_y), width=WIRE)
        pen.line((x, pull_y + 6.5), (x, y + 24), width=WIRE)
    pen.node(x, middle)
    pen.line((x, middle), (x + 10, middle), (x + 10, y + IN_HEIGHT), width=WIRE)


def field_terminal(pen: Pen, place: str) -> str:
    """The strip's terminal in the wire that leads to a device outside the panel."""
    net = pen.circuit.net_at(terminal(place))
    branch = next(branch for branch in net.branches if terminal(place) in branch)
    return next(str(end) for end in branch if end.device.startswith("-X"))
