"""The rig profile: which line drives or reads what, and how fast the copper is."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from wiring.tomlfile import Contradiction, DataModel

GpioLine = Annotated[
    str,
    Field(
        pattern=r"^GPIO([2-9]|1[0-9]|2[0-7])$",
        description="GPIO number as on the chip, GPIO2 to GPIO27",
    ),
]
RelaySeconds = Annotated[float, Field(gt=0, le=0.5, description="relay time in seconds, above 0 to 0.5")]


class Level(StrEnum):
    """The line level that means 'on'."""

    HIGH = "high"
    LOW = "low"


class Topology(StrEnum):
    """How the teach wire reaches the rails."""

    SELECTOR = "selector"
    TWO_RELAY = "two-relay"


class InputLine(DataModel):
    """One isolated input."""

    line: GpioLine
    active: Level = Level.HIGH


class OutputLine(DataModel):
    """One output; its inactive level is the safe one."""

    line: GpioLine
    active: Level = Level.HIGH


class RelayLine(OutputLine):
    """An output that drives a relay coil, with the relay's own times (longest values of its data sheet)."""

    operate_s: RelaySeconds = 0.010
    release_s: RelaySeconds = 0.005
    bounce_s: RelaySeconds = 0.003

    @property
    def settle_s(self) -> float:
        """Longest time from a command, either way, until the contact is quiet."""
        return max(self.operate_s, self.release_s) + self.bounce_s


class NestProfile(DataModel):
    """The lines of one nest."""

    name: Annotated[str, Field(min_length=1, max_length=12, pattern=r"^[A-Za-z0-9-]+$")]
    topology: Topology
    supply: RelayLine
    rail_selector: RelayLine | None = None
    teach_contact: RelayLine | None = None
    plus_contact: RelayLine | None = None
    minus_contact: RelayLine | None = None
    load: RelayLine
    teach_at_plus: InputLine
    teach_at_minus: InputLine
    output_at_plus: InputLine
    output_at_minus: InputLine
    led: InputLine | None = None
    supply_sense: InputLine | None = None
    series_resistor_ohm: Annotated[float, Field(ge=470, le=4700)] = 1000.0
    load_resistor_ohm: Annotated[float, Field(ge=1000, le=22000)] = 4700.0

    @model_validator(mode="after")
    def _lines_fit_topology(self) -> Self:
        wanted = _TEACH_RELAYS[self.topology]
        for key in _TEACH_RELAYS[Topology.SELECTOR] + _TEACH_RELAYS[Topology.TWO_RELAY]:
            present = getattr(self, key) is not None
            if present != (key in wanted):
                raise Contradiction(
                    (key,),
                    f"topology {self.topology} {'needs' if key in wanted else 'has no'} {key}",
                    given="nothing" if not present else "a line",
                    allowed=" and ".join(wanted),
                )
        return self

    @model_validator(mode="after")
    def _selector_falls_last(self) -> Self:
        # Off must need no software, so when everything drops at once only the relays' own
        # times can keep the selector from moving under a contact that is still closed.
        if self.rail_selector is None or self.teach_contact is None:
            return self
        quiet_s = self.teach_contact.release_s + self.teach_contact.bounce_s
        if self.rail_selector.release_s <= quiet_s:
            raise Contradiction(
                ("rail_selector", "release_s"),
                "the selector would fall before the teach contact has opened",
                given=f"{self.rail_selector.release_s}",
                allowed=f"more than teach_contact release_s + bounce_s = {quiet_s:g}; a plain diode across the "
                "selector coil slows it",
            )
        return self

    @property
    def teach_relays(self) -> tuple[RelayLine, ...]:
        """The relays between the rails and the teach wire, in the order of the topology."""
        relays = (getattr(self, key) for key in _TEACH_RELAYS[self.topology])
        return tuple(relay for relay in relays if relay is not None)


_TEACH_RELAYS: dict[Topology, tuple[str, str]] = {
    Topology.SELECTOR: ("rail_selector", "teach_contact"),
    Topology.TWO_RELAY: ("plus_contact", "minus_contact"),
}


class CoilSupply(DataModel):
    """What keeps the relay coils alive: heartbeat and stop button, both in hardware."""

    heartbeat: OutputLine
    beat_s: Annotated[float, Field(ge=0.01, le=0.5)] = 0.06
    dropout_s: Annotated[float, Field(ge=0.05, le=1.0)] = 0.2
    stop_button: InputLine
    sense: InputLine | None = None

    @model_validator(mode="after")
    def _beats_fit_dropout(self) -> Self:
        # A pulse is two beats (up, down), and one late beat must not drop the coils.
        if 3 * self.beat_s > self.dropout_s:
            raise Contradiction(
                ("beat_s",),
                "three beats must fit into dropout_s",
                given=f"{self.beat_s}",
                allowed=f"up to {self.dropout_s / 3:.3g}",
            )
        return self


class TargetKind(StrEnum):
    """How the target is moved."""

    MANUAL = "manual"
    SLOTS = "slots"
    STAGE = "stage"


class Slot(DataModel):
    """One numbered place for the target, with the micro-switch that tells it is there."""

    number: Annotated[int, Field(ge=1, le=99)]
    position_mm: Annotated[float, Field(ge=0, le=10000)]
    line: GpioLine
    active: Level = Level.HIGH


class TargetProfile(DataModel):
    """The target and what moves it."""

    kind: TargetKind
    nearest_mm: Annotated[float, Field(ge=0, le=10000)] = 0.0
    farthest_mm: Annotated[float, Field(gt=0, le=10000)]
    placement_mm: Annotated[float, Field(gt=0, le=50, description="half-width of the placement error")] = 1.0
    side_mm: Annotated[float, Field(gt=0, le=500, description="side of the square target plate")] = 100.0
    speed_mm_s: Annotated[float, Field(gt=0, le=2000)] | None = None
    settle_s: Annotated[float, Field(ge=0, le=5)] = 0.1
    port: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    swing: RelayLine | None = None
    swing_s: Annotated[float, Field(gt=0, le=5)] = 0.4
    slots: tuple[Slot, ...] = ()

    @model_validator(mode="after")
    def _reach_is_a_range(self) -> Self:
        if self.nearest_mm >= self.farthest_mm:
            raise Contradiction(
                ("nearest_mm",),
                "the nearest position lies beyond the farthest",
                given=f"{self.nearest_mm:g}",
                allowed=f"less than farthest_mm = {self.farthest_mm:g}",
            )
        return self

    @model_validator(mode="after")
    def _kind_has_its_parts(self) -> Self:
        wanted = {TargetKind.STAGE: ("port", "speed_mm_s", "swing"), TargetKind.SLOTS: ("slots",)}
        for key in ("port", "speed_mm_s", "swing", "slots"):
            present = getattr(self, key) not in (None, ())
            needed = key in wanted.get(self.kind, ())
            if present != needed:
                raise Contradiction(
                    (key,),
                    f"a {self.kind} target {'needs' if needed else 'has no'} {key}",
                    given="nothing" if not present else f"{key}",
                    allowed=", ".join(wanted.get(self.kind, ())) or "none of port, speed_mm_s, swing, slots",
                )
        return self

    @model_validator(mode="after")
    def _slots_in_order(self) -> Self:
        for before, after in zip(self.slots, self.slots[1:], strict=False):
            if after.number <= before.number or after.position_mm <= before.position_mm:
                raise Contradiction(
                    ("slots",),
                    "slots must rise in number and position",
                    given=f"{before.number} at {before.position_mm:g}, {after.number} at {after.position_mm:g}",
                    allowed="each slot further out than the one before it",
                )
        return self


class SupplyProfile(DataModel):
    """The 24 V PELV bench supply; `scpi` is set and measured by the program, `fixed` is not."""

    kind: Literal["fixed", "scpi"]
    voltage_v: Annotated[float, Field(ge=10, le=30)] = 24.0
    current_limit_a: Annotated[float, Field(gt=0, le=2)] = 0.25
    port: Annotated[str, Field(min_length=1, max_length=200)] | None = None

    @model_validator(mode="after")
    def _port_with_scpi(self) -> Self:
        if (self.port is not None) != (self.kind == "scpi"):
            raise Contradiction(
                ("port",),
                "a scpi supply needs a port and a fixed one has none",
                given=f"{self.port or 'nothing'}",
                allowed="port only with kind = 'scpi'",
            )
        return self


class AirProfile(DataModel):
    """The air at the bench, as typed in."""

    temperature_c: Annotated[float, Field(ge=-20, le=60)] = 23.0
    humidity_percent: Annotated[float, Field(ge=0, le=100)] = 50.0
    pressure_kpa: Annotated[float, Field(ge=60, le=110)] = 101.325


class RigProfile(DataModel):
    """One bench, whole: every line, time and limit that the program may rely on."""

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[a-z0-9-]+$")]
    title: Annotated[str, Field(min_length=1, max_length=80)]
    back_end: Literal["simulated", "gpio"]
    dead_time_s: Annotated[float, Field(ge=0.02, le=1.0)] = 0.05
    coil_supply: CoilSupply
    supply: SupplyProfile
    target: TargetProfile
    foot_switch: InputLine | None = None
    air: AirProfile = AirProfile()
    nest: Annotated[tuple[NestProfile, ...], Field(min_length=1, max_length=4)]

    @model_validator(mode="after")
    def _one_job_per_line(self) -> Self:
        jobs: dict[str, str] = {}
        for path, line in self._all_lines():
            job = ".".join(str(part) for part in path)
            if line in jobs:
                raise Contradiction(
                    (*path, "line"),
                    f"{line} already works as {jobs[line]}",
                    given=line,
                    allowed="a line with no other job",
                )
            jobs[line] = job
        return self

    @model_validator(mode="after")
    def _nests_have_own_names(self) -> Self:
        names = [nest.name for nest in self.nest]
        for index, name in enumerate(names):
            if name in names[:index]:
                raise Contradiction(
                    ("nest", index, "name"), "two nests have one name", given=name, allowed="a name of its own"
                )
        return self

    @model_validator(mode="after")
    def _dead_time_covers_relays(self) -> Self:
        for index, nest in enumerate(self.nest):
            slowest_s = max(relay.settle_s for relay in nest.teach_relays)
            if self.dead_time_s < slowest_s:
                raise Contradiction(
                    ("dead_time_s",),
                    f"dead time is shorter than the slowest teach relay of nest {self.nest[index].name}",
                    given=f"{self.dead_time_s:g}",
                    allowed=f"at least {slowest_s:g}",
                )
        return self

    def _all_lines(self) -> list[tuple[tuple[str | int, ...], str]]:
        lines: list[tuple[tuple[str | int, ...], str]] = []
        _collect_lines(self, (), lines)
        return lines


def _collect_lines(
    value: object, path: tuple[str | int, ...], into: list[tuple[tuple[str | int, ...], str]]
) -> None:
    if isinstance(value, InputLine | OutputLine | Slot):
        into.append((path, value.line))
    elif isinstance(value, DataModel):
        for key in type(value).model_fields:
            _collect_lines(getattr(value, key), (*path, key), into)
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            _collect_lines(item, (*path, index), into)
