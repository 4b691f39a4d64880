"""The circuit of a rig: whatever is fitted is wired, to its own pin, once, and never from rail to rail."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory
from hypothesis import given, settings

from tests.looking import examples
from tests.wiring.variants import rig_profiles
from wiring.circuit import colours
from wiring.circuit.build import board_terminal, circuit_of
from wiring.circuit.channels import input_channels, line_uses, output_channels
from wiring.circuit.copper import Circuit, terminal
from wiring.circuit.schedules import parts_list, pin_rows, terminal_rows
from wiring.header import has_fixed_pull_up, header_pin, header_pins
from wiring.profile import RigProfile, load_profile, shipped_profiles

PROFILES = [*shipped_profiles().values(), Path(__file__).parent / "two-relay.toml"]
EVERY = pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
SIMULATED = load_profile(shipped_profiles()["simulated"])


def net(circuit: Circuit, place: str) -> str:
    return circuit.net_at(terminal(place)).number


def changed(profile: RigProfile, **values: object) -> RigProfile:
    return profile.model_copy(update=values)


@given(rig_profiles())
@settings(max_examples=examples(30))
def test_every_line_is_wired_to_its_own_pin_through_its_coupler(profile: RigProfile) -> None:
    circuit = circuit_of(profile)
    for use in line_uses(profile):
        ends = circuit.net_at(terminal(board_terminal(use.line, profile))).ends
        couplers = [end.device for end in ends if end.device != "-A1"]
        assert couplers == [use.coupler.partition(":")[0]]
    assert len(line_uses(profile)) == len(output_channels(profile)) + len(input_channels(profile))


@given(rig_profiles())
@settings(max_examples=examples(30))
def test_no_terminal_is_on_two_nets_and_every_device_is_wired(profile: RigProfile) -> None:
    circuit = circuit_of(profile)
    ends = Counter(end for one in circuit.nets for end in one.ends)
    assert [end for end, count in ends.items() if count > 1] == []
    devices = {device.name for device in circuit.devices}
    wired = {end.device for wire in circuit.wires() for end in (wire.start, wire.end)}
    assert wired == devices
    assert {wire.colour for wire in circuit.wires()} <= set(colours.NAMES)


@given(rig_profiles())
@settings(max_examples=examples(30))
def test_the_teach_wire_reaches_the_rails_only_through_contacts_and_a_resistor(profile: RigProfile) -> None:
    circuit = circuit_of(profile)
    for index, _ in enumerate(profile.nest, start=1):
        assert net(circuit, f"-X{index}1:2") not in ("L+", "L-")
        reached = _reached(circuit, net(circuit, f"-X{index}1:2"))
        assert reached.isdisjoint({"L+", "L-"}), "contacts alone join the teach wire to a rail"


def _reached(circuit: Circuit, start: str) -> set[str]:
    """Nets that closed contacts of the teach relays connect."""
    contacts = [
        (f"-K{n}{k}", a, b)
        for n in "1234"
        for k in "23"
        for a, b in (("13", "14"), ("11", "12"), ("11", "14"))
    ]
    known = {str(end): one.number for one in circuit.nets for end in one.ends}
    reached = {start}
    for _ in range(4):
        for name, a, b in contacts:
            pair = {known.get(f"{name}:{a}"), known.get(f"{name}:{b}")} - {None}
            if len(pair) == 2 and pair & reached:
                reached |= {str(number) for number in pair}
    return reached


@EVERY
def test_the_stop_button_stands_before_every_coil(path: Path) -> None:
    circuit = circuit_of(load_profile(path))
    coils = [end for end in circuit.net_at(terminal("-K1:14")).ends if end.mark == "A1"]
    relays = [one for one in output_channels(load_profile(path)) if one.relay is not None]
    assert {end.device for end in coils} == {one.driven for one in relays}
    assert net(circuit, "-S1:12") == net(circuit, "-K1:13")
    assert net(circuit, "-S1:11") == "24"


def test_a_broken_wire_of_the_stop_button_reads_as_pressed() -> None:
    stop = next(one for one in input_channels(SIMULATED) if one.source == "-S1:22")
    # The contact is closed at rest; low means pressed in this profile, so current has to mean high.
    assert stop.high_when_fed
    assert [one.high_when_fed for one in input_channels(SIMULATED) if one.line == "GPIO22"] == [False]


def test_the_header_is_the_one_that_gpiozero_knows() -> None:
    known = MockFactory().board_info.headers["J8"].pins
    pins = header_pins()
    assert [pin.number for pin in pins] == list(range(1, 41)) == sorted(known)
    for pin in pins:
        # GPIO0 and GPIO1 tell the board what is plugged on.
        expected = known[pin.number].name if pin.number not in (27, 28) else "not for use"
        assert pin.carries == expected
        assert has_fixed_pull_up(pin.carries) == (known[pin.number].pull == "up")
        assert header_pin(pin.carries) == (pin.number if pin.carries.startswith("GPIO") else None)


@pytest.mark.parametrize("line", ["PA10", "GPIO28", "gpiochip0-3", ""])
def test_a_line_of_another_board_has_no_known_pin(line: str) -> None:
    assert header_pin(line) is None


def test_on_another_header_pins_are_left_to_be_filled_in() -> None:
    other = changed(SIMULATED, electrical=SIMULATED.electrical.model_copy(update={"header": "other"}))
    rows = pin_rows(other)
    assert {row.pin for row in rows} == {None}
    assert {row.carries for row in rows} == {use.line for use in line_uses(SIMULATED)}
    assert net(circuit_of(other), "-A1:GPIO4") == net(circuit_of(SIMULATED), "-A1:7")


@EVERY
def test_the_lists_leave_nothing_out(path: Path) -> None:
    profile = load_profile(path)
    circuit = circuit_of(profile)
    parts = parts_list(circuit)
    assert sorted(name for part in parts for name in part.names) == sorted(
        one.name for one in circuit.devices
    )
    assert all(part.count == len(part.names) for part in parts)
    terminals = {row.terminal for row in terminal_rows(circuit)}
    strips = {
        end for wire in circuit.wires() for end in (wire.start, wire.end) if end.device.startswith("-X")
    }
    assert terminals == strips
    used = {row.carries for row in pin_rows(profile) if row.duty}
    assert used == {use.line for use in line_uses(profile)}
