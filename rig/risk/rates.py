"""The rates file: how often units and benches have which fault, and how widely sound ones spread.

title = "Incoming goods of last year"

[spread]
store_error = 0.4

[[unit_fault]]
kind = "stores-wrongly"
share = 0.003
offset_tolerances = [-3.0, 3.0]

[[bench_fault]]
kind = "target-misplaced"
share = 0.0005
offset_tolerances = [-2.0, 2.0]
after_s = [0.0, 30.0]

A range is drawn from evenly. No unit has two faults of its own, no bench two faults at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

from pydantic import Field

from hal.simulated.faults import BenchFaultKind, UnitFaultKind
from hal.simulated.kind import UnitKind
from hal.simulated.led import Ambient
from wiring.shipped import find_file, shipped_files
from wiring.tomlfile import Contradiction, DataModel, load_toml_model

_WHAT = "table of rates"

Share = Annotated[float, Field(ge=0, le=1, description="share of all units or benches, 0 to 1")]
Part = Annotated[float, Field(ge=0, le=5, description="part of what the profile states, 0 to 5")]
Low = Annotated[float, Field(ge=-1000, le=1_000_000)]
Range = tuple[Low, Low]


def _range(words: str) -> Range | None:
    default: Range | None = Field(None, description=f"{words}, from and to")
    return default


class Spread(DataModel):
    """How sound units and benches spread: normally about what was taught, evenly within what a profile states."""

    store_error: Annotated[
        float,
        Field(
            ge=0,
            le=3,
            description="standard deviation of set points about what was taught, in parts of the largest error of a "
            "good unit (teach_error_percent of the sensor type, else repeat_accuracy_percent)",
        ),
    ] = 0.5
    zero: Part = 1.0
    scale: Part = 1.0
    air: Part = 1.0
    air_drift_c_per_hour: Annotated[
        float,
        Field(
            ge=0, le=60, description="the room warms up or cools down by up to this, in degrees C per hour"
        ),
    ] = 2.0
    light: tuple[Ambient, ...] = Field(
        (Ambient.DARK, Ambient.MAINS_50, Ambient.DAYLIGHT),
        min_length=1,
        description="lights of the room, evenly",
    )
    leaks: Share = 0.2


_FAULT_RANGES: Mapping[str, tuple[str, ...]] = {
    UnitFaultKind.OVER_CURRENT: ("current_a",),
    UnitFaultKind.STORES_WRONGLY: ("offset_tolerances",),
    UnitFaultKind.DRIFTED: ("offset_tolerances", "after_s"),
    UnitFaultKind.WIDE_HYSTERESIS: ("percent",),
    UnitFaultKind.NOISY_ECHO: ("factor",),
}
_MOMENT = ("after_s", "after_contacts", "for_s")
_BENCH_RANGES: Mapping[str, tuple[str, ...]] = {
    BenchFaultKind.RELAY_SLOW: ("factor",),
    BenchFaultKind.SUPPLY_SAG: ("voltage_v",),
    BenchFaultKind.TARGET_MISPLACED: ("offset_tolerances",),
    BenchFaultKind.SCALE_MISREAD: ("offset_tolerances",),
    BenchFaultKind.STAGE_LOSES_STEPS: ("offset_tolerances",),
}
# What has to be drawn from a range that is stated: the fault would be nothing without it.
_NEEDED: Mapping[str, tuple[str, ...]] = {
    UnitFaultKind.DRIFTED: ("offset_tolerances",),
    BenchFaultKind.SUPPLY_SAG: ("voltage_v",),
    BenchFaultKind.TARGET_MISPLACED: ("offset_tolerances",),
    BenchFaultKind.SCALE_MISREAD: ("offset_tolerances",),
    BenchFaultKind.STAGE_LOSES_STEPS: ("offset_tolerances",),
}
_TOLERANCES = "how far off, in tolerances of the order (of 5 % of the sensing range where it has none)"


class UnitFaultRate(DataModel):
    """A fault of units, how many have it, and from which ranges its figures are drawn."""

    kind: UnitFaultKind = Field(description="what is wrong with the unit")
    share: Share
    inverse: bool | None = Field(None, description="the other output function is stored (stores-wrongly)")
    offset_tolerances: Range | None = _range(_TOLERANCES)
    after_s: Range | None = _range("seconds from being taught to the drift (drifted)")
    percent: Range | None = _range("differential travel in % of the distance (wide-hysteresis)")
    factor: Range | None = _range("how many times noisier than its kind (noisy-echo)")
    current_a: Range | None = _range("what it draws in A (over-current)")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield ranges that the fault does not know, lacks, or that fall."""
        own = _FAULT_RANGES.get(self.kind, ())
        yield from _misfits(self, self.kind, own)
        stores = self.kind is UnitFaultKind.STORES_WRONGLY
        if self.inverse is not None and not stores:
            yield Contradiction(
                ("inverse",), f"fault {self.kind} knows no inverse", allowed="with stores-wrongly"
            )
        if stores and not (self.inverse or self.offset_tolerances):
            yield Contradiction(
                ("offset_tolerances",),
                "nothing would be wrong",
                allowed="offset_tolerances = [from, to], or inverse = true",
            )


class BenchFaultRate(DataModel):
    """A fault of bench or person, at how many units it happens, and when: after contacts, then after seconds."""

    kind: BenchFaultKind = Field(description="what is wrong with the bench")
    share: Share
    offset_tolerances: Range | None = _range(_TOLERANCES)
    factor: Range | None = _range("how many times as slow (relay-slow)")
    voltage_v: Range | None = _range("what the supply sags to in V (supply-sag)")
    after_s: Range | None = _range("seconds until it happens")
    after_contacts: Range | None = _range("closings of a teach contact until it happens")
    for_s: Range | None = _range("seconds that it lasts; for good if absent")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield ranges that the fault does not know, lacks, or that fall."""
        yield from _misfits(self, self.kind, (*_BENCH_RANGES.get(self.kind, ()), *_MOMENT))


def _misfits(
    rate: UnitFaultRate | BenchFaultRate, kind: str, own: tuple[str, ...]
) -> Iterator[Contradiction]:
    ranges = [key for key in type(rate).model_fields if key not in ("kind", "share", "inverse")]
    for key in ranges:
        low_high = getattr(rate, key)
        if low_high is None:
            if key in _NEEDED.get(kind, ()):
                yield Contradiction((key,), f"fault {kind} needs {key}", allowed="[from, to]")
        elif key not in own:
            allowed = ", ".join(("kind", "share", *own))
            given = f"{low_high[0]:g} to {low_high[1]:g}"
            yield Contradiction((key,), f"fault {kind} knows no {key}", given=given, allowed=allowed)
        elif low_high[0] > low_high[1]:
            given = f"{low_high[0]:g} to {low_high[1]:g}"
            yield Contradiction(
                (key,), "the range falls", given=given, allowed="[from, to] with from up to to"
            )


class Rates(DataModel):
    """What is assumed of units and benches; shares of faults are of all units."""

    title: Annotated[str, Field(min_length=1, max_length=120, description="what a person calls this table")]
    spread: Spread = Field(Spread(), description="how sound units and benches spread")
    kind: tuple[UnitKind, ...] = Field(
        (), description="kinds of units beside those that come with the program, one [[kind]] each"
    )
    unit_fault: Annotated[
        tuple[UnitFaultRate, ...],
        Field(max_length=100, description="faults of units, one [[unit_fault]] each"),
    ] = ()
    bench_fault: Annotated[
        tuple[BenchFaultRate, ...],
        Field(max_length=100, description="faults of bench and person, one [[bench_fault]] each"),
    ] = ()

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield shares that add up to more than everything."""
        for key in ("unit_fault", "bench_fault"):
            total = sum(rate.share for rate in getattr(self, key))
            if total > 1 + 1e-9:
                yield Contradiction(
                    (key,), "the shares add up to more than 1", given=f"{total:g}", allowed="up to 1 together"
                )


def load_rates(path: Path) -> Rates:
    """Read a table of rates; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, Rates, what=_WHAT)


def shipped_rates() -> dict[str, Path]:
    """Return the tables that come with the program, by name."""
    return shipped_files("rig.risk", "rates")


def find_rates(name_or_path: str, own: Mapping[str, Path] = MappingProxyType({})) -> Path:
    """Return the path of a table by its name, or `name_or_path` itself where it is a path.

    Raises `DataFileError` for an unknown name.
    """
    return find_file(name_or_path, {**shipped_rates(), **own}, what=_WHAT)
