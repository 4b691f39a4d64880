"""Worst cases on the board's side of the couplers: levels, currents, and what a reset does."""

from __future__ import annotations

from rig.explained.electrical_wires import LED_LEAST, LED_MOST, TYPE_3_ON_A, error_of
from rig.explained.limits import MEMORY, PRACTICE, LimitSheet, stated
from rig.explained.sheet import Given, given
from wiring.circuit.channels import InputChannel, OutputChannel, input_channels, output_channels
from wiring.header import BUS_PULL_UP_OHM, has_fixed_pull_up, is_high_at_reset
from wiring.lines import Level
from wiring.profile import RigProfile

_LVTTL = f"JESD8C, 3.3 V logic, {MEMORY}"
_HIGH_V, _LOW_V = 2.0, 0.8
_BOARD_LEAST = given(3.135, f"{PRACTICE}: 3.3 V less 5 %")
_BOARD_MOST = given(3.465, f"{PRACTICE}: 3.3 V and 5 %")
_DARK = given(0.00001, f"{PRACTICE}: a coupler's transistor that is off")
_PULL_INSIDE = given(50_000.0, f"{MEMORY}: pull resistor inside the chip")
_BUS = given(BUS_PULL_UP_OHM, f"{MEMORY}: pull-up on the board, GPIO2 and GPIO3")
_DRIVEN = given(0.0, f"{MEMORY}: the serial port drives it")


def board_inputs(sheet: LimitSheet, profile: RigProfile) -> None:
    """Levels of every input line, on and off; lines that are alike are worked out once."""
    sheet.begin("Isolated inputs, board side")
    alike: dict[tuple[bool, bool], list[InputChannel]] = {}
    for channel in input_channels(profile):
        pulled_up = _is_usual(profile) and has_fixed_pull_up(channel.line)
        alike.setdefault((channel.high_when_fed, pulled_up), []).append(channel)
    for (high_when_fed, pulled_up), channels in alike.items():
        lines = ", ".join(channel.line for channel in channels)
        _input(sheet, profile, lines, high_when_fed=high_when_fed, pulled_up=pulled_up)


def _input(
    sheet: LimitSheet, profile: RigProfile, lines: str, *, high_when_fed: bool, pulled_up: bool
) -> None:
    electrical = profile.electrical
    numbers = {
        "U_b": _BOARD_MOST,
        "R": stated(electrical.pull_ohm),
        "e": error_of(profile),
        "R_b": _BUS,
        "I_d": _DARK,
    }
    beside = " + U_b / R_b" if pulled_up and not high_when_fed else ""
    needed = f"I = U_b / (R * (1 - e)){beside}"
    words = f"{lines}: current that the coupler has to pass while it is fed"
    source = f"what it passes at 2 mA, the least that is on; IEC 61131-2 type 3, {MEMORY}"
    most = round(TYPE_3_ON_A * electrical.transfer_percent / 100, 9)
    sheet.hold(words, needed, numbers, "A", source, most=most)
    if high_when_fed:
        rest = "V = U_b * R / (R + R_b)" if pulled_up else "V = R * (1 + e) * I_d"
        sheet.hold(f"{lines}: highest low level", rest, numbers, "V", _LVTTL, most=_LOW_V)
    else:
        rest = "V = U_b - R * (1 + e) * I_d"
        least = {**numbers, "U_b": _BOARD_LEAST}
        sheet.hold(f"{lines}: lowest high level", rest, least, "V", _LVTTL, least=_HIGH_V)


def board_outputs(sheet: LimitSheet, profile: RigProfile) -> None:
    """LED currents of the output couplers, together and one by one, and after a reset of the board."""
    electrical = profile.electrical
    channels = output_channels(profile)
    sheet.begin("Outputs of the board")
    numbers = {
        "U_b": _BOARD_LEAST,
        "U_f": LED_MOST,
        "R": stated(electrical.drive_resistor_ohm),
        "e": error_of(profile),
        "n": given(len(channels), "outputs of the profile"),
    }
    least = "I = (U_b - U_f) / (R * (1 + e))"
    source = "the output coupler is surely on"
    sheet.hold("least LED current", least, numbers, "A", source, least=electrical.drive_least_a)
    numbers |= {"U_b": _BOARD_MOST, "U_f": LED_LEAST}
    most = "I = (U_b - U_f) / (R * (1 - e))"
    sheet.hold("most current of a line", most, numbers, "A", "rating of a line", most=electrical.line_a)
    every = "I = n * (U_b - U_f) / (R * (1 - e))"
    sheet.hold(
        "most current of all lines", every, numbers, "A", "rating of the board", most=electrical.lines_a
    )
    for channel in channels if _is_usual(profile) else ():
        if channel.relay is not None and (channel.active is Level.HIGH) is is_high_at_reset(channel.line):
            _at_reset(sheet, profile, channel, numbers)


def _is_usual(profile: RigProfile) -> bool:
    """Whether what the usual board does with its lines is true of this one."""
    return profile.electrical.header == "40-pin"


def _at_reset(
    sheet: LimitSheet, profile: RigProfile, channel: OutputChannel, numbers: dict[str, Given]
) -> None:
    pull = _BUS if has_fixed_pull_up(channel.line) else _DRIVEN if channel.line == "GPIO14" else _PULL_INSIDE
    sheet.hold(
        f"{channel.line}: LED current while the board is in reset ({channel.duty})",
        "I = (U_b - U_f) / (R * (1 - e) + R_p)",
        {**numbers, "R_p": pull},
        "A",
        f"a tenth of what is surely on, {PRACTICE}",
        most=profile.electrical.drive_least_a / 10,
    )
