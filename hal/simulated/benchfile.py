"""The bench file: what the simulated bench holds today, sound and faulty.

title = "Twelve units for the hopper, two of them bad"
seed = 7

[air]
temperature_c = 26.0

[[unit]]
kind = "barrel-18-rail"
count = 10

[[unit]]
kind = "barrel-18-rail"
count = 2
faults = [{ kind = "stores-wrongly", offset_mm = 12.0 }]

[[fault]]
kind = "teach-contact-welded"
from_unit = 11
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Self

from pydantic import Field

from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.kind import (
    BlindZone,
    Current,
    Hysteresis,
    Name,
    Noise,
    Range,
    Residual,
    Response,
    StoreError,
    UnitKind,
    shipped_kinds,
)
from hal.simulated.memory import Memory
from hal.simulated.truths import AirTruth, GaugeTruth, Light, PersonTruth, SeatingTruth, TargetTruth
from wiring.plainwords import near_miss
from wiring.shipped import find_file, shipped_files
from wiring.terms import DetectionMode, OutputFunction, OutputType
from wiring.tomlfile import Contradiction, DataModel, load_toml_model

_WHAT = "simulated bench"

Millimetres = Annotated[float, Field(gt=0, le=10000, description="distance as the unit measures it, in mm")]


class Arrival(DataModel):
    """The setting with which a unit comes to the bench; distances as the unit itself measures them."""

    mode: DetectionMode = Field(description="detection mode that it was set to")
    output_function: OutputFunction = Field(
        OutputFunction.NO, description="output function that it was set to"
    )
    near_mm: Millimetres | None = Field(None, description="the only set point or the near one, in mm")
    far_mm: Millimetres | None = Field(None, description="the far set point of a window, in mm")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield points that the mode needs or has no use for."""
        wanted = _POINTS[self.mode]
        for key in ("near_mm", "far_mm"):
            if (getattr(self, key) is not None) != (key in wanted):
                verb = "needs" if key in wanted else "has no"
                allowed = " and ".join(wanted) or "neither near_mm nor far_mm"
                yield Contradiction((key,), f"mode {self.mode} {verb} {key}", allowed=allowed)
        if self.near_mm is not None and self.far_mm is not None and self.far_mm <= self.near_mm:
            yield Contradiction(
                ("far_mm",),
                "the far end is not beyond the near end",
                allowed=f"more than near_mm = {self.near_mm:g}",
            )

    def memory(self) -> Memory:
        """The same for the unit."""
        return Memory(self.mode, self.output_function, self.near_mm, self.far_mm)


_POINTS: dict[DetectionMode, tuple[str, ...]] = {
    DetectionMode.FULL_RANGE: (),
    DetectionMode.SINGLE_POINT: ("near_mm",),
    DetectionMode.WINDOW: ("near_mm", "far_mm"),
}


class Changes(DataModel):
    """In what the units of a row differ from their kind."""

    output_type: OutputType | None = Field(None, description="how the output drives its load")
    blind_zone_mm: BlindZone | None = None
    range_mm: Range | None = None
    residual: Residual | None = None
    response_s: Response | None = None
    hysteresis_percent: Hysteresis | None = None
    noise_percent: Noise | None = None
    store_error_percent: StoreError | None = None
    current_a: Current | None = None


class UnitRow(DataModel):
    """Units that lie ready, to be put in one after another.

    A row without `kind` holds whatever kind the order is about.
    """

    kind: Name | None = Field(None, description="kind of these units; what the order is about if absent")
    count: Annotated[int, Field(ge=1, le=100_000, description="how many such units")] = 1
    change: Changes = Field(Changes(), description="in what they differ from their kind")
    arrives: Arrival | None = Field(
        None, description="the setting with which they come; the factory setting if absent"
    )
    faults: tuple[UnitFault, ...] = Field((), description="what is wrong with each of them")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a fault named twice."""
        kinds = [fault.kind for fault in self.faults]
        for index, kind in enumerate(kinds):
            if kind in kinds[:index]:
                yield Contradiction(
                    ("faults", index, "kind"), f"the row has fault {kind} already", allowed="each fault once"
                )


class BenchFile(DataModel):
    """Everything about a simulated bench that its rig profile does not know.

    The same seed gives the same run to the last edge.
    """

    title: Annotated[str, Field(min_length=1, max_length=120, description="what a person calls this bench")]
    seed: Annotated[int, Field(ge=0, le=2**63 - 1, description="same seed, same units and same noise")] = 1
    endless: bool = Field(False, description="begin the rows of units again when they are used up")
    boxed: bool = Field(
        False,
        description="the units lie in a box: the place that ends a serial, such as LOT-0017, says which it is",
    )
    air: AirTruth = Field(AirTruth(), description="the air as it really is")
    target: TargetTruth = Field(TargetTruth(), description="the scale of the target as it really is")
    light: Light = Field(Light(), description="the light in the room")
    person: PersonTruth = Field(PersonTruth(), description="the person at the bench")
    gauge: GaugeTruth = Field(GaugeTruth(), description="the distance gauge, where the rig has one")
    seating: SeatingTruth = Field(SeatingTruth(), description="how units sit in the nest")
    kind: tuple[UnitKind, ...] = Field(
        (), description="kinds of units beside those that come with the program, one [[kind]] each"
    )
    unit: Annotated[
        tuple[UnitRow, ...],
        Field(min_length=1, max_length=100_000, description="the units in their order, one [[unit]] a row"),
    ]
    fault: Annotated[
        tuple[BenchFault, ...],
        Field(max_length=100, description="what is wrong with the bench, one [[fault]] each"),
    ] = ()

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield kinds that nobody knows or two know, and changes that a kind cannot bear."""
        known = shipped_kinds() | {kind.name: kind for kind in self.kind}
        yield from self._kinds_named_twice()
        for index, row in enumerate(self.unit):
            yield from _unknown_kind(("unit", index, "kind"), row.kind, known)
            for place, fault in enumerate(row.faults):
                yield from _unknown_kind(("unit", index, "faults", place, "actual"), fault.actual, known)
            yield from _range_that_a_change_has_lost(index, row, known)

    def kinds(self) -> dict[str, UnitKind]:
        """All kinds by name, own and shipped."""
        return shipped_kinds() | {kind.name: kind for kind in self.kind}

    def as_ordered(self, kind: str, output_type: OutputType | None = None) -> Self:
        """Fill in the rows that name no kind; raises ValueError for a kind that nobody knows."""
        if kind not in self.kinds():
            known = ", ".join(self.kinds())
            raise ValueError(
                f"no simulated kind is named {kind}; allowed: {known}, or a [[kind]] of this name in a bench file"
            )
        return self.model_copy(update={"unit": tuple(_filled(row, kind, output_type) for row in self.unit)})

    def _kinds_named_twice(self) -> Iterator[Contradiction]:
        names = [*shipped_kinds(), *(kind.name for kind in self.kind)]
        first = len(shipped_kinds())
        for index, kind in enumerate(self.kind):
            if kind.name in names[: first + index]:
                yield Contradiction(
                    ("kind", index, "name"), "another kind has this name", allowed="a name of its own"
                )


def load_bench_file(path: Path) -> BenchFile:
    """Read a bench file; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, BenchFile, what=_WHAT)


def shipped_bench_files() -> dict[str, Path]:
    """Return the bench files that come with the program, by name."""
    return shipped_files("hal.simulated", "benches")


def find_bench_file(name_or_path: str, own: Mapping[str, Path] = MappingProxyType({})) -> Path:
    """Return the path of a bench file by its name, or `name_or_path` itself where it is a path.

    Files in `own` go before shipped ones of the same name. Raises `DataFileError` for an unknown name.
    """
    return find_file(name_or_path, {**shipped_bench_files(), **own}, what=_WHAT)


def _filled(row: UnitRow, kind: str, output_type: OutputType | None) -> UnitRow:
    if row.kind is not None:
        return row
    own_type = row.change.output_type or output_type
    change = row.change.model_copy(update={"output_type": own_type})
    return row.model_copy(update={"kind": kind, "change": change})


def _unknown_kind(
    path: tuple[str | int, ...], name: str | None, known: dict[str, UnitKind]
) -> Iterator[Contradiction]:
    if name is not None and name not in known:
        message = f"no kind of unit has this name{near_miss(name, list(known))}"
        yield Contradiction(path, message, allowed=f"{', '.join(known)}, or a [[kind]] of your own")


def _range_that_a_change_has_lost(
    index: int, row: UnitRow, known: dict[str, UnitKind]
) -> Iterator[Contradiction]:
    kind = known.get(row.kind or "")
    if kind is None:
        return
    blind_mm = row.change.blind_zone_mm or kind.blind_zone_mm
    range_mm = row.change.range_mm or kind.range_mm
    if range_mm <= blind_mm:
        key = "range_mm" if row.change.range_mm is not None else "blind_zone_mm"
        yield Contradiction(
            ("unit", index, "change", key),
            f"the sensing range of {kind.name} would end within its blind zone",
            allowed=f"a blind zone that ends before the range; here it is {blind_mm:g} mm of {range_mm:g} mm",
        )
