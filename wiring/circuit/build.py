"""Works the whole circuit out from a rig profile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wiring.circuit import colours
from wiring.circuit.channels import InputChannel, OutputChannel, input_channels, output_channels
from wiring.circuit.copper import Circuit, Loom
from wiring.circuit.nest_copper import lay_nest
from wiring.circuit.rig_copper import RIG, FieldStrip, lay_potentials, lay_rig
from wiring.electrical import Electrical
from wiring.header import header_pin
from wiring.lines import Level
from wiring.profile import RigProfile

BOARD = "-A1"


def circuit_of(profile: RigProfile) -> Circuit:
    """Devices and wires of the rig that a profile describes."""
    loom = Loom()
    lay_potentials(loom)
    loom.add(BOARD, "board", "single-board computer running Linux, GPIO of 3.3 V", "runs the program")
    strip = lay_rig(loom, profile)
    for index, nest in enumerate(profile.nest, start=1):
        lay_nest(loom, nest, index, profile.electrical)
    outputs, inputs = output_channels(profile), input_channels(profile)
    _lay_board(loom, profile)
    _lay_couplers(loom, outputs, inputs, profile)
    for output in outputs:
        _lay_output(loom, output, profile)
    for one in inputs:
        _lay_input(loom, one, profile, strip)
    return loom.circuit()


def board_terminal(line: str, profile: RigProfile) -> str:
    """Where a line is wired to: its header pin, or its name where the header is not the usual one."""
    pin = header_pin(line) if profile.electrical.header == "40-pin" else None
    return f"{BOARD}:{line if pin is None else pin}"


def _lay_board(loom: Loom, profile: RigProfile) -> None:
    usual = profile.electrical.header == "40-pin"
    loom.tap("3V3", f"{BOARD}:{'1' if usual else '3V3'}")
    loom.tap("GND", f"{BOARD}:{'6' if usual else 'GND'}")


def _lay_couplers(
    loom: Loom, outputs: Iterable[OutputChannel], inputs: Iterable[InputChannel], profile: RigProfile
) -> None:
    sizes: dict[str, int] = {}
    for channel in outputs:
        sizes[channel.coupler] = channel.number
    for name, size in sizes.items():
        loom.add(name, "output coupler", _driving(size, profile.electrical), "from the board to coils")
        loom.tap("0", f"{name}:0")
    couplers: dict[str, list[InputChannel]] = {}
    for one in inputs:
        couplers.setdefault(one.coupler, []).append(one)
    for name, channels in couplers.items():
        loom.add(name, "input coupler", _reading(channels, profile.electrical), "from the field to the board")
        loom.tap("3V3", f"{name}:V")
        loom.tap("GND", f"{name}:G")


def _driving(size: int, electrical: Electrical) -> str:
    return (
        f"{size} isolated channels: {electrical.drive_resistor_ohm:g} ohm before each LED, on from "
        f"{electrical.drive_least_a * 1000:g} mA; output {electrical.coil_driver_v:g} V, "
        f"{electrical.coil_driver_a:g} A"
    )


def _reading(channels: Sequence[InputChannel], electrical: Electrical) -> str:
    sorts = (
        ("high", [str(one.number) for one in channels if one.high_when_fed]),
        ("low", [str(one.number) for one in channels if not one.high_when_fed]),
    )
    levels = ", ".join(f"{level}: {' '.join(numbers)}" for level, numbers in sorts if numbers)
    return (
        f"{len(channels)} isolated channels, IEC 61131-2 type 3: {electrical.input_resistor_ohm:g} ohm, "
        f"{electrical.input_resistor_w:g} W and {electrical.input_zener_v:g} V Zener before each LED, "
        f"current transfer {electrical.transfer_percent:g} % or more, {electrical.pull_ohm / 1000:g} kOhm on "
        f"the board's side; line while fed is {levels}"
    )


def _lay_output(loom: Loom, channel: OutputChannel, profile: RigProfile) -> None:
    near, far = f"{channel.coupler}:{channel.number}+", f"{channel.coupler}:{channel.number}-"
    if channel.active is Level.HIGH:
        led, other = near, ("GND", far)
    else:
        led, other = far, ("3V3", near)
    group = str(channel.group or RIG)
    loom.join(
        group,
        f"{channel.duty}, {channel.line}",
        colours.BOARD_OUTPUT,
        board_terminal(channel.line, profile),
        led,
    )
    loom.tap(*other)
    if channel.relay is not None:
        loom.tap("24C", f"{channel.driven}:A1")
    driven = f"{channel.driven}:{'Y1' if channel.relay is None else 'A2'}"
    loom.join(group, channel.duty, colours.CONTROL_SIGNAL, driven, f"{channel.coupler}:Q{channel.number}")


def _lay_input(loom: Loom, channel: InputChannel, profile: RigProfile, strip: FieldStrip) -> None:
    plus, minus = f"{channel.coupler}:{channel.number}+", f"{channel.coupler}:{channel.number}-"
    group = str(channel.group or RIG)
    through = (f"-X{channel.group}1:8",) if channel.source.startswith("-B") and channel.sinks else ()
    if channel.sinks:
        loom.tap("24", plus)
        loom.join(group, channel.duty, colours.CONTROL_SIGNAL, channel.source, *through, minus)
    else:
        loom.tap("0", minus)
        if channel.source == "-K1:14":
            loom.tap("24C", plus)
        else:
            loom.join(group, channel.duty, colours.CONTROL_SIGNAL, channel.source, strip.next(), plus)
    board = board_terminal(channel.line, profile)
    words = f"{channel.duty}, {channel.line}"
    loom.join(group, words, colours.BOARD_INPUT, f"{channel.coupler}:O{channel.number}", board)
