"""The lists that are made from a circuit: terminals, header pins, parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wiring.circuit.channels import LineUse, line_uses
from wiring.circuit.copper import Circuit, Device, Terminal
from wiring.header import header_pins
from wiring.profile import RigProfile


@dataclass(frozen=True, slots=True)
class TerminalRow:
    """One terminal of a strip, and what its wires lead to."""

    terminal: Terminal
    number: str
    colour: str
    inward: str
    outward: str
    carries: str


@dataclass(frozen=True, slots=True)
class PinRow:
    """One pin of the board's header; `pin` is None where the header is not the usual one."""

    pin: int | None
    carries: str
    direction: str
    active: str
    duty: str
    wired_to: str


@dataclass(frozen=True, slots=True)
class Part:
    """So many of one kind, by rating."""

    count: int
    kind: str
    rating: str
    names: tuple[str, ...]


def terminal_rows(circuit: Circuit) -> tuple[TerminalRow, ...]:
    """Every terminal of every strip; `inward` is the wire that comes first in its net."""
    found: dict[Terminal, list[str]] = {}
    facts: dict[Terminal, tuple[str, str, str]] = {}
    for wire in circuit.wires():
        for here, there in ((wire.start, wire.end), (wire.end, wire.start)):
            if here.device.startswith("-X"):
                found.setdefault(here, []).append(str(there))
                facts[here] = (wire.number, wire.colour, wire.carries)
    rows = (
        TerminalRow(place, *facts[place][:2], far[0], ", ".join(far[1:]), facts[place][2])
        for place, far in found.items()
    )
    return tuple(sorted(rows, key=lambda row: _in_order(row.terminal)))


def pin_rows(profile: RigProfile) -> tuple[PinRow, ...]:
    """Every pin of the usual header, or every line that is used on another."""
    uses = {use.line: use for use in line_uses(profile)}
    if profile.electrical.header != "40-pin":
        return tuple(_used(use) for use in uses.values())
    return tuple(
        _used(uses[pin.carries])
        if pin.carries in uses
        else PinRow(pin.number, pin.carries, "", "", "", _strip_of(pin.number))
        for pin in header_pins()
    )


def _used(use: LineUse) -> PinRow:
    return PinRow(use.pin, use.line, use.direction, use.active.value, use.duty, use.coupler)


def _strip_of(pin: int) -> str:
    return {1: "-X2:3V3.1", 6: "-X2:GND.1"}.get(pin, "")


def parts_list(circuit: Circuit) -> tuple[Part, ...]:
    """What has to be bought, alike parts together."""
    alike: dict[tuple[str, str], list[str]] = {}
    for device in circuit.devices:
        alike.setdefault((device.kind, _rating(device, circuit)), []).append(device.name)
    return tuple(
        Part(len(names), kind, rating, tuple(sorted(names))) for (kind, rating), names in alike.items()
    )


def _rating(device: Device, circuit: Circuit) -> str:
    if not device.name.startswith("-X"):
        return device.rating
    marks = set(_marks(device, circuit))
    return f"{len(marks)} terminals; {device.rating}"


def _marks(device: Device, circuit: Circuit) -> Iterator[str]:
    for wire in circuit.wires():
        for end in (wire.start, wire.end):
            if end.device == device.name:
                yield end.mark


def _in_order(place: Terminal) -> tuple[str, str, int]:
    group, _, index = place.mark.rpartition(".")
    return place.device, group, int(index)
