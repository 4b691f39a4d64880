"""How sound units and benches spread; and what a unit really is, without noise."""

from __future__ import annotations

import asyncio
from statistics import mean, stdev

import pytest

from hal.simulated import simulate
from hal.simulated.air import TRIM_M_S, speed_of_sound_m_s
from hal.simulated.benchfile import Arrival, Changes, UnitRow
from hal.simulated.clock import run
from hal.simulated.memory import Memory
from hal.simulated.truths import AirTruth, TargetTruth
from tests.hal.simulated.hands import SIMULATED, Hands, bench_file
from wiring.terms import DetectionMode

POINT = Memory(DetectionMode.SINGLE_POINT, near_mm=400.0)


def stored(memory: Memory, units: int, **change: float) -> list[Memory]:
    async def main() -> list[Memory]:
        row = UnitRow(kind="barrel-18-rail", count=units, change=Changes(**change))
        bench = simulate(SIMULATED, bench_file(unit=(row,)), asyncio.get_running_loop())
        kept = []
        for _ in range(units):
            unit = bench.next_unit()
            assert unit is not None
            unit.store(memory)
            kept.append(unit.memory)
        return kept

    return run(main())


def test_units_store_about_what_they_read_in_proportion_to_the_distance() -> None:
    for at_mm in (100.0, 400.0):
        memory = Memory(DetectionMode.SINGLE_POINT, near_mm=at_mm)
        points = [one.near_mm or 0.0 for one in stored(memory, 400, store_error_percent=0.5)]
        assert mean(points) == pytest.approx(at_mm, abs=at_mm * 0.005 / 400**0.5 * 4)
        assert stdev(points) == pytest.approx(at_mm * 0.005, rel=0.15)


def test_a_kind_stores_what_it_reads_unless_it_is_said_otherwise() -> None:
    assert stored(POINT, 3) == [POINT] * 3


def test_the_near_end_of_a_window_is_not_stored_wrongly_twice() -> None:
    async def main() -> tuple[Memory, Memory]:
        furnished = bench_file(change={"store_error_percent": 1.0})
        unit = simulate(SIMULATED, furnished, asyncio.get_running_loop()).next_unit()
        assert unit is not None
        unit.store(Memory(DetectionMode.SINGLE_POINT, near_mm=200.0))
        first = unit.memory
        assert first.near_mm is not None
        unit.store(Memory(DetectionMode.WINDOW, near_mm=first.near_mm, far_mm=500.0))
        return first, unit.memory

    first, then = run(main())
    assert first.near_mm != 200.0
    assert then.near_mm == first.near_mm
    assert then.far_mm not in (None, 500.0)


def test_the_plate_stands_where_the_true_scale_puts_it() -> None:
    async def main() -> list[float]:
        hands = Hands(bench_file(target=TargetTruth(zero_mm=0.3, scale_percent=-0.5)))
        places = []
        for at_mm in (100.0, 600.0):
            await hands.place(at_mm)
            places.append(hands.world.target.true_mm)
            assert hands.world.target.position_mm() == at_mm
        return places

    assert run(main()) == pytest.approx([100 * 0.995 + 0.3, 600 * 0.995 + 0.3])


def test_what_a_unit_is_needs_no_supply_and_holds_in_any_air() -> None:
    async def main() -> None:
        arrives = Arrival(mode="window", near_mm=200.0, far_mm=500.0)
        air = AirTruth(temperature_c=30.0)
        hands = Hands(bench_file("barrel-18-plain", arrives=arrives, air=air))
        cold_m_s = speed_of_sound_m_s(0.0, 50.0, 101.325)
        unit = hands.bench.next_unit()
        assert unit is not None
        here, cold = unit.true_ends(), unit.true_ends(cold_m_s)
        assert cold.operate_far_mm == pytest.approx(500.0 * cold_m_s / TRIM_M_S, abs=0.01)
        assert cold.release_far_mm - cold.operate_far_mm > 2.0
        hands.world.remove()
        hands = Hands(bench_file("barrel-18-plain", arrives=arrives, air=air))
        unit = await hands.power_up()
        assert unit.true_ends() == pytest.approx(here)
        assert here == pytest.approx(
            (*map(unit.true_operate_mm, ("near", "far")), *map(unit.true_release_mm, ("near", "far")))
        )

    run(main())


@pytest.mark.parametrize(("factor", "sigma_mm"), [(1.0, 0.4), (15.0, 6.0)])
def test_how_widely_its_readings_scatter_is_known(factor: float, sigma_mm: float) -> None:
    async def main() -> float:
        faults = () if factor == 1 else ({"kind": "noisy-echo", "factor": factor},)
        unit = simulate(
            SIMULATED, bench_file("barrel-18-rail", *faults), asyncio.get_running_loop()
        ).next_unit()
        assert unit is not None
        return unit.true_sigma_mm(400.0)

    assert run(main()) == pytest.approx(sigma_mm)
