"""The steps of building a rig, from its circuit: what to connect, what to measure and what must come out; pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import inf

from wiring.circuit.build import circuit_of
from wiring.circuit.channels import relays_of
from wiring.circuit.copper import Net
from wiring.electrical import TYPE_3_OFF_V
from wiring.nest import NestProfile, Topology
from wiring.profile import RigProfile

OPEN = inf
"""What a meter reads between points that nothing joins, in ohms."""

# Our choice, no source: a meter on its 200 ohm range reads a closed contact and its leads as less than 2 ohm, and
# between rails that nothing joins, monitors and supplies leave 1 kohm and more.
_JOINED_OHM, _APART_OHM, _COIL_SHARE = 2.0, 1000.0, 0.2
_SUPPLY_SHARE, _BOARD_V, _DEAD_V, _METER_V = 0.05, 3.3, 1.0, 0.5


class Act(StrEnum):
    """What a step is; `check` is one that the program does itself."""

    LOOK = "look"
    CONNECT = "connect"
    MEASURE = "measure"
    CHECK = "check"


@dataclass(frozen=True, slots=True)
class Step:
    """One step; a measured value in `unit` has to lie from `low` to `high`."""

    key: str
    act: Act
    words: str
    unit: str = ""
    low: float | None = None
    high: float | None = None

    def holds(self, value: float) -> bool:
        """Whether a measured value is as it has to be; not-a-number never is."""
        least, most = -inf if self.low is None else self.low, inf if self.high is None else self.high
        return least <= value <= most

    @property
    def wanted(self) -> str:
        """What has to come out, in words."""
        if self.low is None:
            return f"at most {self.high:g} {self.unit}"
        return f"{self.low:g} {self.unit} or more" if self.high is None else _between(self)


def _between(step: Step) -> str:
    return f"{step.low:.4g} to {step.high:.4g} {step.unit}"


def steps_of(profile: RigProfile) -> tuple[Step, ...]:
    """Every step to a rig that is ready for its self-check, in order."""
    return tuple(_steps(profile))


def _steps(profile: RigProfile) -> Iterator[Step]:
    yield Step(
        "safe",
        Act.LOOK,
        "Have a qualified person do this, or check it, under local codes. Unplug -T1, -T2 and the board, take fuses "
        "-F1 and -F2 out, and lay the papers of `teachrig wiring` beside you.",
    )
    for net in circuit_of(profile).nets:
        yield _wire(net)
    yield from _cold(profile)
    yield from _live(profile)


def _wire(net: Net) -> Step:
    ways = "; ".join(f"{wire.start} to {wire.end}" for wire in net.wires())
    return Step(f"wire {net.number}", Act.CONNECT, f"Wire {net.number}, {net.colour}, {net.carries}: {ways}.")


# -- nothing under voltage ----------------------------------------------------------------------------------------


def _cold(profile: RigProfile) -> Iterator[Step]:
    yield _apart("units' rails", "-F1:2", "-T1:-")
    yield _apart("control rails", "-F2:2", "-T2:-")
    yield _joined("L- and protective earth", "-X4:1", "-X4:3")
    yield _joined("stop button pulled out, contact of the coils", "-S1:11", "-S1:12")
    yield _joined("stop button pulled out, contact of the input", "-S1:21", "-S1:22")
    pressed = (
        "Press the stop button in: the meter shows open from -S1:11 to -S1:12, and from -S1:21 to -S1:22."
    )
    yield Step("stop pressed", Act.LOOK, f"{pressed} Pull it out again.")
    for index, nest in enumerate(profile.nest, start=1):
        yield from _cold_nest(profile, nest, index)


def _cold_nest(profile: RigProfile, nest: NestProfile, index: int) -> Iterator[Step]:
    electrical = profile.electrical
    for name, duty, line in relays_of(nest, index):
        change_over = line in (nest.rail_selector, nest.load)
        share = _COIL_SHARE
        yield _resistor(f"coil of {name}, {duty}", f"{name}:A1", f"{name}:A2", electrical.coil_ohm, share)
        if change_over:
            yield _joined(f"{name} at rest, {duty}", f"{name}:11", f"{name}:12")
        else:
            yield _apart(f"{name} at rest, {duty}", f"{name}:13", f"{name}:14")
    share = electrical.resistor_error_percent / 100
    series = (5, 6) if nest.topology is Topology.TWO_RELAY else (5,)
    for place in series:
        name = f"-R{index}{place}"
        yield _resistor(name, f"{name}:1", f"{name}:2", nest.series_resistor_ohm, share)
    yield _resistor(f"-R{index}7", f"-R{index}7:1", f"-R{index}7:2", nest.load_resistor_ohm, share)


def _apart(what: str, one: str, other: str) -> Step:
    return _ohms(f"apart {one} {other}", what, one, other, _APART_OHM, None)


def _joined(what: str, one: str, other: str) -> Step:
    return _ohms(f"joined {one} {other}", what, one, other, None, _JOINED_OHM)


def _resistor(what: str, one: str, other: str, ohm: float, share: float) -> Step:
    return _ohms(f"ohms {one} {other}", what, one, other, ohm * (1 - share), ohm * (1 + share))


def _ohms(key: str, what: str, one: str, other: str, low: float | None, high: float | None) -> Step:
    words = f"Measure the resistance between {one} and {other} ({what})."
    return Step(key, Act.MEASURE, words, "ohm", low, high)


# -- under voltage ------------------------------------------------------------------------------------------------


def _live(profile: RigProfile) -> Iterator[Step]:
    control_v, supply_v = profile.electrical.control_voltage_v, profile.supply.voltage_v
    yield Step(
        "control on",
        Act.LOOK,
        "Put -F2 in and plug -T2 in. No relay clicks, nothing gets warm. Else unplug it.",
    )
    yield _volts("control supply", "-F2:2", "-T2:-", *_about(control_v))
    yield _volts("coil supply at rest: no pulses, no supply", "-K1:14", "-K1:A2", -_DEAD_V, _DEAD_V)
    yield Step(
        "board on", Act.LOOK, "Plug the board in, and see that `teachrig release` ends without a complaint."
    )
    yield Step(
        "computer",
        Act.CHECK,
        "Plug the serial instruments in. The program looks for every line and port, as `teachrig doctor` does.",
    )
    board = profile.electrical.header == "40-pin"
    three_v3, ground = ("-A1:1", "-A1:6") if board else ("-A1:3V3", "-A1:GND")
    yield _volts("board's supply", three_v3, ground, *_about(_BOARD_V))
    limit = f"{profile.supply.current_limit_a:g} A"
    yield Step(
        "units on",
        Act.LOOK,
        f"Put -F1 in and plug -T1 in. Set it by its own buttons to {supply_v:g} V and a limit of {limit}, output on. "
        "It shows no current.",
    )
    yield _volts("supply of the units", "-F1:2", "-T1:-", *_about(supply_v))
    for index, nest in enumerate(profile.nest, start=1):
        yield from _live_nest(profile, nest, index)


def _live_nest(profile: RigProfile, nest: NestProfile, index: int) -> Iterator[Step]:
    electrical, strip = profile.electrical, f"-X{index}1"
    middle_v = electrical.monitor_middle_v
    # A meter of 10 Mohm pulls the wire a little; where the monitor holds it, it floats.
    most_v = electrical.monitor_error_v + _METER_V
    where = f"nest {nest.name}"
    yield _volts(f"{where}: unit has no supply", f"{strip}:1", f"{strip}:3", None, TYPE_3_OFF_V + middle_v)
    yield _volts(
        f"{where}: teach wire floats", f"{strip}:2", f"{strip}:3", middle_v - most_v, middle_v + most_v
    )
    yield _volts(f"{where}: output is pulled to L-", f"{strip}:4", f"{strip}:3", -_DEAD_V, TYPE_3_OFF_V)


def _about(volts: float) -> tuple[float, float]:
    return volts * (1 - _SUPPLY_SHARE), volts * (1 + _SUPPLY_SHARE)


def _volts(what: str, plus: str, minus: str, low: float | None, high: float | None) -> Step:
    words = f"Measure the voltage from {plus} to {minus} ({what})."
    return Step(f"volts {plus} {minus} {what}", Act.MEASURE, words, "V", low, high)
