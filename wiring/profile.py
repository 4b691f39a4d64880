"""The rig profile: which line drives or reads what, and how fast the copper is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from wiring.check_unit import CheckUnitPolicy
from wiring.electrical import Electrical
from wiring.gpio import GpioProfile, LineElsewhere
from wiring.hand import GaugeProfile, HandProfile
from wiring.instruments import CodeReaderProfile, ProbeProfile, StageDialect
from wiring.lines import GpioLine, InputLine, Level, OutputLine, RelayLine
from wiring.nest import NestProfile, Topology
from wiring.parts import AirProfile, Calibrated, CoilSupply, Slot, SupplyProfile, TargetKind, TargetProfile
from wiring.plainwords import key_text
from wiring.saying import Saying, say
from wiring.self_check import SelfCheckPolicy
from wiring.serialports import RigPort
from wiring.shipped import find_file, shipped_files
from wiring.tomlfile import Contradiction, DataModel, load_toml_model
from wiring.tomllines import KeyPath

__all__ = [
    "AirProfile",
    "Calibrated",
    "CodeReaderProfile",
    "CoilSupply",
    "Electrical",
    "GaugeProfile",
    "GpioLine",
    "GpioProfile",
    "HandProfile",
    "InputLine",
    "Level",
    "LineElsewhere",
    "NestProfile",
    "OutputLine",
    "ProbeProfile",
    "RelayLine",
    "RigLine",
    "RigPort",
    "RigProfile",
    "Slot",
    "StageDialect",
    "SupplyProfile",
    "TargetKind",
    "TargetProfile",
    "Topology",
    "find_profile",
    "load_profile",
    "shipped_profiles",
]

_WHAT = "rig profile"


@dataclass(frozen=True, slots=True)
class RigLine:
    """One line of a rig.

    Attributes:
        line: as the profile names it, such as GPIO17.
        path: the key of the part that it belongs to.
        job: what it works as, in words.
        meaning: what the part is for, from the profile's own description.
        active: the level that means 'on'.
        is_output: whether the rig drives it.

    """

    line: str
    path: KeyPath
    job: str
    meaning: str
    active: Level
    is_output: bool


class RigProfile(DataModel):
    """One bench, whole: every line, time and limit that the program may rely on."""

    name: Annotated[
        str,
        Field(
            min_length=1,
            max_length=40,
            pattern=r"^[a-z0-9-]+$",
            description="name of the profile, lower-case letters, digits and hyphens",
        ),
    ]
    title: Annotated[str, Field(min_length=1, max_length=80, description="what a person calls this bench")]
    back_end: Literal["simulated", "gpio"] = Field(
        description="gpio: the board's own lines; simulated: no hardware is touched"
    )
    dead_time_s: Annotated[
        float,
        Field(
            ge=0.02,
            le=1.0,
            description="the teach contact is open this long before the teach wire changes rails, in seconds",
        ),
    ] = 0.05
    gpio: GpioProfile = Field(GpioProfile(), description="where the board has the lines")
    coil_supply: CoilSupply = Field(description="what keeps the relay coils alive")
    supply: SupplyProfile = Field(description="the 24 V PELV supply of the units")
    target: TargetProfile = Field(description="the target and what moves it")
    foot_switch: InputLine | None = Field(
        None, description="input of the foot switch or key that says 'done', if fitted"
    )
    code_reader: CodeReaderProfile | None = Field(
        None, description="bar code reader on a serial line, if fitted"
    )
    air: AirProfile = Field(AirProfile(), description="the air between unit and target")
    self_check: SelfCheckPolicy = Field(
        SelfCheckPolicy(), description="what is demanded before units are taught on this rig"
    )
    check_unit: CheckUnitPolicy = Field(
        CheckUnitPolicy(), description="whether a check unit is measured at the start of each shift"
    )
    electrical: Electrical = Field(
        Electrical(), description="values of the rig's own parts, for the wiring papers"
    )
    nest: Annotated[
        tuple[NestProfile, ...],
        Field(min_length=1, max_length=4, description="the places for a unit, one [[nest]] each"),
    ]

    def resting_nests(self) -> Saying | None:
        """What is to be said of nests beyond the first one: orders are worked there alone."""
        first, *others = (nest.name for nest in self.nest)
        if not others:
            return None
        return say(
            "orders are worked in nest {first}; not used: {others}", first=first, others=", ".join(others)
        )

    def lines(self) -> tuple[RigLine, ...]:
        """Every line that the rig uses, in the order of the profile."""
        return tuple(
            RigLine(
                part.line,
                path,
                self._job(path),
                _meaning(self, path),
                part.active,
                isinstance(part, OutputLine),
            )
            for path, part in _lines_in(self, ())
        )

    def ports(self) -> tuple[RigPort, ...]:
        """Every serial port that the rig uses, and what hangs on it."""
        supply, target = self.supply, self.target
        gauge, probe, reader = target.gauge, self.air.probe, self.code_reader
        ports = []
        if supply.port is not None:
            ports.append(RigPort(supply.port, "supply", ("supply", "port"), supply.baud))
        if target.port is not None:
            ports.append(RigPort(target.port, "stage", ("target", "port"), target.baud))
        if gauge is not None:
            ports.append(RigPort(gauge.port, "gauge", ("target", "gauge", "port"), gauge.baud))
        if probe is not None:
            ports.append(
                RigPort(
                    probe.port,
                    "air probe",
                    ("air", "probe", "port"),
                    probe.baud,
                    probe.parity,
                    must_stay=False,
                )
            )
        if reader is not None:
            path = ("code_reader", "port")
            ports.append(RigPort(reader.port, "code reader", path, reader.baud, must_stay=False))
        return tuple(ports)

    def _job(self, path: KeyPath) -> str:
        words = [str(word + 1) if isinstance(word, int) else word for word in path]
        if path[0] == "nest":
            words[1] = self.nest[int(path[1])].name
        return " ".join(words).replace("_", " ")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield lines, ports and names used twice, and a dead time that the relays outlast."""
        yield from self._lines_with_two_jobs()
        yield from self._lines_elsewhere_without_job()
        yield from self._port_with_two_instruments()
        yield from self._nests_with_one_name()
        yield from self._dead_time_too_short()

    def _lines_with_two_jobs(self) -> Iterator[Contradiction]:
        jobs: dict[str, KeyPath] = {}
        for path, part in _lines_in(self, ()):
            first = jobs.setdefault(part.line, path)
            if first != path:
                yield Contradiction(
                    (*path, "line"),
                    f"{part.line} already works as {key_text(first)}",
                    allowed="a line with no other job",
                )

    def _lines_elsewhere_without_job(self) -> Iterator[Contradiction]:
        used = {part.line for _, part in _lines_in(self, ())}
        for index, place in enumerate(self.gpio.elsewhere):
            if place.line not in used:
                yield Contradiction(
                    ("gpio", "elsewhere", index, "line"),
                    "this line has no job",
                    allowed=", ".join(sorted(used)),
                )

    def _port_with_two_instruments(self) -> Iterator[Contradiction]:
        taken: dict[str, RigPort] = {}
        for port in self.ports():
            first = taken.setdefault(port.name, port)
            if first is not port:
                words = f"the {first.instrument} is on this port already"
                yield Contradiction(port.path, words, allowed="a port of its own")

    def _nests_with_one_name(self) -> Iterator[Contradiction]:
        names = [nest.name for nest in self.nest]
        for index, name in enumerate(names):
            if name in names[:index]:
                yield Contradiction(
                    ("nest", index, "name"), "another nest has this name", allowed="a name of its own"
                )

    def _dead_time_too_short(self) -> Iterator[Contradiction]:
        slowest = max(self.nest, key=_slowest_teach_relay_s)
        if self.dead_time_s < _slowest_teach_relay_s(slowest):
            yield Contradiction(
                ("dead_time_s",),
                f"the dead time is shorter than the slowest teach relay of nest {slowest.name}",
                given=f"{self.dead_time_s:g}",
                allowed=f"at least {_slowest_teach_relay_s(slowest):g}",
            )


def load_profile(path: Path) -> RigProfile:
    """Read a rig profile; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, RigProfile, what=_WHAT)


def shipped_profiles() -> dict[str, Path]:
    """Return the rig profiles that come with the program, by name."""
    return shipped_files("wiring", "profiles")


def find_profile(name_or_path: str, own: Mapping[str, Path] = MappingProxyType({})) -> Path:
    """Return the path of a profile by its name, or `name_or_path` itself where it is a path.

    Files in `own` go before shipped ones of the same name. A path has a slash or ends in `.toml`. Raises
    `DataFileError` for an unknown name.
    """
    return find_file(name_or_path, {**shipped_profiles(), **own}, what=_WHAT)


def _slowest_teach_relay_s(nest: NestProfile) -> float:
    return max(relay.settle_s for relay in nest.teach_relays)


_Part = InputLine | OutputLine | Slot


def _lines_in(value: object, path: KeyPath) -> Iterator[tuple[KeyPath, _Part]]:
    if isinstance(value, _Part):
        yield path, value
    elif isinstance(value, DataModel):
        for key in type(value).model_fields:
            yield from _lines_in(getattr(value, key), (*path, key))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _lines_in(item, (*path, index))


def _meaning(profile: RigProfile, path: KeyPath) -> str:
    """What the model says about the part, or about the array that the part stands in."""
    here: object = profile
    words = ""
    for step in path:
        if isinstance(step, int):
            here = here[step]  # type: ignore[index]  # only a tuple has whole numbers as keys
        else:
            words = type(here).model_fields[step].description or words  # type: ignore[attr-defined]
            here = getattr(here, step)
    return words.removesuffix(", if fitted")
