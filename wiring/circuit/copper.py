"""Devices, terminals and the wires between them, as plain facts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise


@dataclass(frozen=True, slots=True, order=True)
class Terminal:
    """A place for a wire: device by its IEC 81346 designation, and the mark beside the terminal."""

    device: str
    mark: str

    def __str__(self) -> str:
        return f"{self.device}:{self.mark}"


@dataclass(frozen=True, slots=True)
class Device:
    """One part of the rig.

    Attributes:
        name: designation, such as -K11.
        kind: what it is, in words; the same for all that are bought alike.
        rating: by what it is bought.
        duty: what it does here.

    """

    name: str
    kind: str
    rating: str
    duty: str


@dataclass(frozen=True, slots=True)
class Wire:
    """One piece of wire, from terminal to terminal; all of a net bear its number."""

    number: str
    colour: str
    start: Terminal
    end: Terminal
    carries: str


@dataclass(frozen=True, slots=True)
class Net:
    """Terminals that are one point electrically.

    Each branch is wired from terminal to terminal. With a `hub`, a strip of bridged terminals, every branch begins
    at a terminal of its own there.
    """

    number: str
    carries: str
    colour: str
    branches: tuple[tuple[Terminal, ...], ...]
    hub: str | None = None

    @property
    def ends(self) -> tuple[Terminal, ...]:
        """Every terminal but those of the hub."""
        return tuple(end for branch in self.branches for end in branch)

    def wires(self) -> Iterator[Wire]:
        """The wires that make this net."""
        for index, branch in enumerate(self.branches, start=1):
            start = (Terminal(self.hub, f"{self.number}.{index}"),) if self.hub else ()
            for one, other in pairwise((*start, *branch)):
                yield Wire(self.number, self.colour, one, other, self.carries)


@dataclass(frozen=True, slots=True)
class Circuit:
    """The whole rig."""

    devices: tuple[Device, ...]
    nets: tuple[Net, ...]

    def device(self, name: str) -> Device:
        """The device of that designation; raises KeyError for none."""
        return {device.name: device for device in self.devices}[name]

    def net_at(self, terminal: Terminal) -> Net:
        """The net that a terminal is on; raises KeyError for a terminal without wire."""
        for net in self.nets:
            if terminal in net.ends:
                return net
        raise KeyError(str(terminal))

    def wires(self) -> tuple[Wire, ...]:
        """Every wire, net by net."""
        return tuple(wire for net in self.nets for wire in net.wires())


@dataclass(slots=True)
class Loom:
    """Collects devices and nets; a terminal is written `-K11:A1`."""

    _devices: dict[str, Device] = field(default_factory=dict)
    _nets: dict[str, Net] = field(default_factory=dict)
    _count: dict[str, int] = field(default_factory=dict)

    def add(self, name: str, kind: str, rating: str, duty: str) -> str:
        """Add a device; returns its designation."""
        self._devices[name] = Device(name, kind, rating, duty)
        return name

    def potential(self, number: str, carries: str, colour: str, hub: str) -> None:
        """Begin a net that many ends share."""
        self._nets[number] = Net(number, carries, colour, (), hub)

    def tap(self, number: str, *ends: str) -> None:
        """Wire ends, one after the other, to a potential."""
        net = self._nets[number]
        branch = tuple(terminal(end) for end in ends)
        self._nets[number] = replace(net, branches=(*net.branches, branch))

    def join(self, group: str, carries: str, colour: str, *ends: str) -> None:
        """Wire ends to one another, with the next number of a group."""
        self._count[group] = self._count.get(group, 0) + 1
        number = f"{group}{self._count[group]:02d}"
        self._nets[number] = Net(number, carries, colour, (tuple(terminal(end) for end in ends),))

    def circuit(self) -> Circuit:
        """What was collected; a hub with nothing on it is left out."""
        return Circuit(tuple(self._devices.values()), tuple(net for net in self._nets.values() if net.ends))


def terminal(text: str) -> Terminal:
    """The terminal written `-K11:A1`."""
    device, _, mark = text.partition(":")
    return Terminal(device, mark)
