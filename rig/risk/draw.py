"""Draws one unit and the bench that it meets, from the unit's seed alone."""

from __future__ import annotations

import hashlib
import math
import random
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from hal.simulated.benchfile import BenchFile, Changes, UnitRow
from hal.simulated.faults import BenchFault, BenchFaultKind, RelayName, UnitFault, UnitFaultKind
from hal.simulated.truths import AirTruth, Light, PersonTruth, TargetTruth
from rig.risk.case import Case
from rig.risk.rates import BenchFaultRate, Range, UnitFaultRate
from wiring.profile import NestProfile, RigProfile, TargetKind
from wiring.terms import Rail

NO_FAULT = "no fault"
SEVERAL = "faults of unit and bench"

_R = TypeVar("_R", UnitFaultRate, BenchFaultRate)
_OF_RAILS = (
    BenchFaultKind.TEACH_CONTACT_WELDED,
    BenchFaultKind.TEACH_CONTACT_DEAD,
    BenchFaultKind.OUTPUT_SHORTED,
)


def unit_seed(seed: int, number: int) -> int:
    """The seed of unit `number` of a study: whoever types it in meets the same unit on the same bench again."""
    digest = hashlib.sha256(f"{seed}/{number}".encode()).digest()
    return int.from_bytes(digest[:6], "big")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A unit with its bench, and what is wrong with either by design."""

    bench_file: BenchFile
    unit_fault: UnitFault | None
    bench_fault: BenchFault | None

    @property
    def fault(self) -> str:
        """The fault, by its name in the bench file."""
        if self.unit_fault is not None and self.bench_fault is not None:
            return SEVERAL
        fault = self.unit_fault or self.bench_fault
        return NO_FAULT if fault is None else str(fault.kind)


def draw_unit(case: Case, seed: int) -> Drawn:
    """Draw a unit and its bench."""
    draw = random.Random(f"risk/{seed}")
    unit_fault = _unit_fault(draw, case)
    bench_fault = _bench_fault(draw, case)
    row = UnitRow(faults=() if unit_fault is None else (unit_fault,), change=_changes(case))
    bench_file = BenchFile(
        title=f"unit with seed {seed}",
        seed=seed,
        air=_air(draw, case),
        target=_target(draw, case),
        light=Light(
            ambient=draw.choice(case.rates.spread.light), leaks=draw.random() < case.rates.spread.leaks
        ),
        person=PersonTruth(placement_mm=case.rig.target.placement_mm),
        kind=case.rates.kind,
        unit=(row,),
        fault=() if bench_fault is None else (bench_fault,),
    )
    furnished = bench_file.as_ordered(case.sensor_type.name, case.setting.output_type)
    return Drawn(furnished, unit_fault, bench_fault)


def spread_percent(case: Case) -> float:
    """Standard deviation of sound units' set points about what was taught, in % of the distance."""
    sensing = case.sensor_type.sensing
    largest = sensing.teach_error_percent or sensing.repeat_accuracy_percent
    return case.rates.spread.store_error * largest


def _changes(case: Case) -> Changes:
    # The single reading from which a unit is taught scatters too, and is a part of the whole.
    spread, noise = spread_percent(case), case.kind.noise_percent
    return Changes(store_error_percent=math.sqrt(max(0.0, spread**2 - noise**2)))


def _air(draw: random.Random, case: Case) -> AirTruth:
    told, spread = case.rig.air, case.rates.spread

    def off(error: float) -> float:
        return draw.uniform(-1, 1) * error * spread.air

    return AirTruth(
        temperature_c=told.temperature_c + off(told.temperature_error_k),
        humidity_percent=min(100.0, max(0.0, told.humidity_percent + off(told.humidity_error_percent))),
        pressure_kpa=told.pressure_kpa + off(told.pressure_error_kpa),
        drift_c_per_hour=draw.uniform(-1, 1) * spread.air_drift_c_per_hour,
    )


def _target(draw: random.Random, case: Case) -> TargetTruth:
    told, spread = case.rig.target, case.rates.spread
    return TargetTruth(
        zero_mm=draw.uniform(-1, 1) * told.zero_doubt_mm * spread.zero,
        scale_percent=draw.uniform(-1, 1) * told.scale_doubt_percent * spread.scale,
    )


def _pick(draw: random.Random, rates: Iterable[_R]) -> _R | None:
    left = draw.random()
    for rate in rates:
        left -= rate.share
        if left < 0:
            return rate
    return None


def _even(draw: random.Random, low_high: Range | None) -> float | None:
    return None if low_high is None else draw.uniform(*low_high)


def _unit_fault(draw: random.Random, case: Case) -> UnitFault | None:
    rate = _pick(draw, case.rates.unit_fault)
    if rate is None:
        return None
    offset = _even(draw, rate.offset_tolerances)
    actual = None
    if rate.kind is UnitFaultKind.WRONG_KIND:
        actual = draw.choice([name for name in case.kinds if name != case.sensor_type.name])
    return UnitFault(
        kind=rate.kind,
        inverse=rate.inverse,
        offset_mm=None if offset is None else offset * case.tolerance_mm,
        after_s=_even(draw, rate.after_s),
        percent=_even(draw, rate.percent),
        factor=_even(draw, rate.factor),
        current_a=_even(draw, rate.current_a),
        actual=actual,
    )


def _bench_fault(draw: random.Random, case: Case) -> BenchFault | None:
    rate = _pick(draw, case.rates.bench_fault)
    if rate is None or not _can_befall(rate.kind, case.rig):
        return None
    offset = _even(draw, rate.offset_tolerances)
    keys: dict[str, Any] = {}
    if rate.kind in _OF_RAILS:
        keys["rail"] = draw.choice(list(Rail))
    if rate.kind is BenchFaultKind.RELAY_SLOW:
        keys["relay"] = draw.choice(_relays(case.rig.nest[0]))
    contacts = _even(draw, rate.after_contacts)
    return BenchFault(
        kind=rate.kind,
        offset_mm=None if offset is None else offset * case.tolerance_mm,
        factor=_even(draw, rate.factor),
        voltage_v=_even(draw, rate.voltage_v),
        after_contacts=None if contacts is None else round(contacts),
        after_s=_even(draw, rate.after_s),
        for_s=_even(draw, rate.for_s),
        **keys,
    )


_GAUGES = (BenchFaultKind.GAUGE_SILENT, BenchFaultKind.GAUGE_STUCK)
_DRIVES = (BenchFaultKind.STAGE_STALLED, BenchFaultKind.STAGE_LOSES_STEPS, BenchFaultKind.STAGE_LATE)


def _can_befall(kind: BenchFaultKind, rig: RigProfile) -> bool:
    """Whether the rig has what the fault is about."""
    by_stage = rig.target.kind is TargetKind.STAGE
    if kind is BenchFaultKind.SELECTOR_STUCK:
        return rig.nest[0].rail_selector is not None
    if kind in _GAUGES:
        return rig.target.gauge is not None
    if kind in _DRIVES:
        return by_stage
    return kind is not BenchFaultKind.SCALE_MISREAD or not by_stage


def _relays(nest: NestProfile) -> list[RelayName]:
    return [relay for relay in RelayName if getattr(nest, relay, None) is not None]
