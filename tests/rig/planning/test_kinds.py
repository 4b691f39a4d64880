"""Each shipped simulated kind is as good as the data sheet of the sensor type of its name: measured, not read."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from statistics import stdev

import pytest

from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.kind import shipped_kinds
from hal.simulated.memory import Memory
from hal.simulated.truths import AirTruth
from hal.simulated.unit import Unit
from rig.planning.budget import doubt_of
from rig.planning.conditions import conditions_of
from tests.rig.planned import STAGE, TYPES, rig_with

SEEDS = range(8)
READINGS = 600
# One in 10^4 of chi squared over its 599 degrees of freedom lies above this, squared.
WORST_OF_READINGS = 1.11


@contextmanager
def bench_of(
    name: str, *, seed: int = 1, celsius: float = 23.0
) -> Iterator[tuple[Unit, Callable[[float], None]]]:
    """A unit, and what puts the target at a distance."""
    rig = rig_with(STAGE, placement_mm=1e-6)
    row = UnitRow(kind=name)
    furnished = BenchFile(title="one", seed=seed, air=AirTruth(temperature_c=celsius), unit=(row,))
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        bench = simulate(rig, furnished, runner.get_loop())
        unit = bench.next_unit()
        assert unit is not None
        yield unit, lambda at_mm: _placed(runner, bench, at_mm)


def _placed(runner: asyncio.Runner, bench: SimulatedBench, at_mm: float) -> None:
    bench.world.target.start_move(at_mm, 1000.0)
    runner.run(asyncio.sleep(10.0))


def distances_mm(name: str) -> list[float]:
    """From the end of the blind zone to that of the range."""
    sensing = TYPES[name].sensing
    steps = [(sensing.range_mm * 0.98 / sensing.blind_zone_mm / 1.1) ** (step / 5) for step in range(6)]
    return [1.1 * sensing.blind_zone_mm * step for step in steps]


def test_every_type_has_a_kind() -> None:
    assert set(TYPES) == set(shipped_kinds())


@pytest.mark.parametrize("name", TYPES)
def test_readings_spread_no_more_than_the_budget_says(name: str) -> None:
    sensing = TYPES[name].sensing
    doubt = doubt_of(sensing, STAGE.target, conditions_of(None, sensing, STAGE.air))
    own = [source for source in doubt.sources if source.component.name.endswith("of the unit")]
    assert own
    with bench_of(name) as (unit, place):
        for at_mm in distances_mm(name):
            place(at_mm)
            readings = [unit.read_mm() for _ in range(READINGS)]
            stated_mm = math.hypot(*(source.at(at_mm).contribution for source in own))
            spread_mm = stdev(one for one in readings if one is not None)
            assert spread_mm <= WORST_OF_READINGS * stated_mm, at_mm


@pytest.mark.parametrize("name", TYPES)
def test_differential_travel_keeps_to_its_limits(name: str) -> None:
    sensing = TYPES[name].sensing
    for seed in SEEDS:
        with bench_of(name, seed=seed) as (unit, _):
            for at_mm in distances_mm(name):
                unit.store(Memory().single(at_mm))
                operate_mm = unit.true_operate_mm("far")
                travel_mm = unit.true_release_mm("far") - operate_mm
                # A kind that does not compensate measures with another millimetre than ours, by half a per cent.
                assert travel_mm >= 0.99 * sensing.hysteresis_min_mm
                assert travel_mm <= 1.01 * sensing.hysteresis_largest_mm(operate_mm)


@pytest.mark.parametrize("name", [name for name, one in TYPES.items() if one.sensing.temperature_compensated])
@pytest.mark.parametrize("celsius", [-20.0, 0.0, 50.0])
def test_air_moves_a_compensated_set_point_no_more_than_the_data_sheet_says(
    name: str, celsius: float
) -> None:
    sensing = TYPES[name].sensing
    places_mm = []
    for air_c in (23.0, celsius):
        with bench_of(name, celsius=air_c) as (unit, _):
            unit.store(Memory().single(sensing.range_mm / 2))
            places_mm.append(unit.true_operate_mm("far"))
    drift = abs(places_mm[1] / places_mm[0] - 1)
    assert drift <= sensing.drift_percent_per_k / 100 * abs(celsius - 23.0)
