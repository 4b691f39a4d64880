"""Which line of the board does what, and through which channel of which coupler."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from wiring.header import header_pin
from wiring.lines import InputLine, Level, RelayLine
from wiring.nest import NestProfile, Topology
from wiring.profile import RigProfile, Slot

STOP_SOURCE = "-S1:22"
"""The stop button's second contact, closed while it is not pressed."""


@dataclass(frozen=True, slots=True)
class OutputChannel:
    """An output of the board, isolated by a coupler that switches its load to 0.

    Attributes:
        group: 0 for the rig, else the number of the nest.
        number: of the channel in its coupler.
        driven: designation of what the channel drives.
        relay: times of the relay; None for the heartbeat.

    """

    group: int
    number: int
    line: str
    active: Level
    duty: str
    driven: str
    relay: RelayLine | None

    @property
    def coupler(self) -> str:
        """Designation of the coupler."""
        return f"-K{self.group or ''}8"


@dataclass(frozen=True, slots=True)
class InputChannel:
    """An input of the board, isolated by a coupler.

    Attributes:
        source: terminal, such as `-S1:22`, whose net feeds the channel or is switched to 0 by it.
        sinks: whether the source switches to 0 (a monitor, a pick-up) and not from the control supply (a contact).

    """

    group: int
    number: int
    line: str
    active: Level
    duty: str
    source: str
    sinks: bool

    @property
    def high_when_fed(self) -> bool:
        """Whether the line is high while current flows through the coupler.

        The stop button opens its contact when it is pressed, so that a broken wire reads as pressed.
        """
        return (self.active is Level.HIGH) is not (self.source == STOP_SOURCE)

    @property
    def coupler(self) -> str:
        """Designation of the coupler."""
        return f"-K{self.group or ''}7"


@dataclass(frozen=True, slots=True)
class LineUse:
    """What the board's line is for."""

    line: str
    pin: int | None
    direction: str
    active: Level
    duty: str
    coupler: str


def relays_of(nest: NestProfile, index: int) -> tuple[tuple[str, str, RelayLine], ...]:
    """Designation, duty and line of each relay of the nest with that number."""
    if nest.topology is Topology.SELECTOR:
        teach = (("rail selector", nest.rail_selector), ("teach contact", nest.teach_contact))
    else:
        teach = (("teach wire to L+", nest.plus_contact), ("teach wire to L-", nest.minus_contact))
    named = (("unit supply", nest.supply), *teach, ("load", nest.load))
    return tuple(
        (f"-K{index}{place}", f"nest {nest.name}: {duty}", line)
        for place, (duty, line) in enumerate(named, start=1)
        if line is not None
    )


def output_channels(profile: RigProfile) -> tuple[OutputChannel, ...]:
    """Every output, coupler by coupler."""
    beat = profile.coil_supply.heartbeat
    found = [OutputChannel(0, 1, beat.line, beat.active, "heartbeat", "-K1", None)]
    swing = profile.target.swing
    if swing is not None:
        found.append(OutputChannel(0, 2, swing.line, swing.active, "swing of the target", "-K2", swing))
    for index, nest in enumerate(profile.nest, start=1):
        for number, (name, duty, line) in enumerate(relays_of(nest, index), start=1):
            found.append(OutputChannel(index, number, line.line, line.active, duty, name, line))
    return tuple(found)


def input_channels(profile: RigProfile) -> tuple[InputChannel, ...]:
    """Every input that is fitted, coupler by coupler."""
    return tuple(
        channel
        for group in range(len(profile.nest) + 1)
        for channel in (_rig_inputs(profile) if group == 0 else _nest_inputs(profile.nest[group - 1], group))
    )


def _rig_inputs(profile: RigProfile) -> Iterator[InputChannel]:
    coils = profile.coil_supply
    sources: list[tuple[InputLine | Slot | None, str, str]] = [
        (coils.stop_button, "stop button pressed", STOP_SOURCE),
        (coils.sense, "coils are supplied", "-K1:14"),
        (profile.foot_switch, "foot switch: done", "-S2:14"),
    ]
    for slot in profile.target.slots:
        sources.append((slot, f"target in slot {slot.number}", f"-B{100 + slot.number}:14"))
    yield from _numbered(0, sources, sinks=False)


def _nest_inputs(nest: NestProfile, group: int) -> Iterator[InputChannel]:
    monitor = f"-K{group}5"
    sources = (
        (nest.teach_at_plus, "teach wire at L+", f"{monitor}:Q1"),
        (nest.teach_at_minus, "teach wire at L-", f"{monitor}:Q2"),
        (nest.output_at_plus, "output at L+", f"{monitor}:Q3"),
        (nest.output_at_minus, "output at L-", f"{monitor}:Q4"),
        (nest.supply_sense, "unit has its L+", f"{monitor}:Q5"),
        (nest.led, "LED of the unit lit", f"-B{group}1:Q"),
    )
    named = [(line, f"nest {nest.name}: {duty}", source) for line, duty, source in sources]
    yield from _numbered(group, named, sinks=True)


def _numbered(
    group: int, sources: Sequence[tuple[InputLine | Slot | None, str, str]], *, sinks: bool
) -> Iterator[InputChannel]:
    fitted = [(line, duty, source) for line, duty, source in sources if line is not None]
    for number, (line, duty, source) in enumerate(fitted, start=1):
        yield InputChannel(group, number, line.line, line.active, duty, source, sinks)


def line_uses(profile: RigProfile) -> tuple[LineUse, ...]:
    """Every line of the board that is used, with its header pin where the header is the usual one."""
    channels: tuple[OutputChannel | InputChannel, ...] = (
        *output_channels(profile),
        *input_channels(profile),
    )
    known = profile.electrical.header == "40-pin"
    return tuple(
        LineUse(
            one.line,
            header_pin(one.line) if known else None,
            "output" if isinstance(one, OutputChannel) else "input",
            one.active,
            one.duty,
            f"{one.coupler}:{one.number}",
        )
        for one in channels
    )
