"""The same seed gives the same run to the last nanosecond; the same bench runs in real time; long runs stay small."""

from __future__ import annotations

import asyncio
import gc
import random
import tracemalloc

import pytest

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import run
from hal.simulated.faults import BenchFault, UnitFault, UnitFaultKind
from hal.simulated.kind import shipped_kinds
from hal.simulated.truths import AirTruth, Light
from tests.hal.simulated.hands import Hands, Rail, bench_file

INPUTS = ("teach_at_plus", "teach_at_minus", "output_at_plus", "output_at_minus", "led", "supply_sense")


class Ear:
    def __init__(self, name, into):
        self.name = name
        self.into = into

    def hear(self, ticks_s, level):
        self.into.append((self.name, ticks_s, level))


def listen(hands, into):
    ears = []
    for key in INPUTS:
        ear = Ear(key, into)
        hands.bench.pin_factory.pin(getattr(hands.nest, key).line).when_changed = ear.hear
        ears.append(ear)
    return ears


async def work_on(hands, wait_s=0.4):
    """Do to one unit what a program does: power, two contacts, some moves, readings."""
    unit = await hands.power_up(wait_s)
    for place, rail in ((None, Rail.PLUS), (300.0, Rail.MINUS)):
        await (hands.clear(0.1) if place is None else hands.place(place, 0.1))
        await hands.contact(rail, 1.4)
    for place in (320.0, 290.0, 301.0, 299.5, 303.0, 250.0, 310.0, 280.0):
        await hands.place(place, 0.3)
    hands.relay("supply", False)
    await asyncio.sleep(0.1)
    hands.bench.remove_unit()
    return unit


def a_mixed_bench(seed):
    return BenchFile(
        title="mixed",
        seed=seed,
        air=AirTruth(drift_c_per_hour=3.0),
        light=Light(ambient="mains-50", leaks=True),
        unit=(
            UnitRow(kind="barrel-18-rail", count=2),
            UnitRow(kind="barrel-18-rail", faults=(UnitFault(kind="noisy-echo"),)),
            UnitRow(kind="block-rail", faults=(UnitFault(kind="drifted", offset_mm=4.0),)),
        ),
        fault=(BenchFault(kind="relay-slow", relay="load", from_unit=2),),
    )


def trace(seed):
    async def main():
        hands, edges = Hands(a_mixed_bench(seed)), []
        ears = listen(hands, edges)
        for _ in range(4):
            await work_on(hands)
        assert len(ears) == len(INPUTS)
        return edges, list(hands.record.relays), list(hands.record.contacts)

    return run(main())


def test_the_same_seed_gives_the_same_run_to_the_last_nanosecond():
    first, second = trace(5), trace(5)
    assert len(first[0]) > 1000
    assert first == second
    assert trace(6) != first


def test_one_unit_changes_nothing_for_the_next():
    def second_unit(*faults):
        async def main():
            rows = (
                UnitRow(kind="barrel-18-rail", faults=faults),
                UnitRow(kind="barrel-18-rail"),
            )
            hands = Hands(bench_file(unit=rows))
            hands.bench.next_unit()
            unit = hands.bench.next_unit()
            return unit._current_a, unit._availability_ns, unit._sensing.hysteresis_factor

        return run(main())

    assert second_unit() == second_unit(UnitFault(kind="wrong-kind", actual="block-rail"))


def test_the_same_bench_runs_in_real_time():
    async def main():
        hands, edges = Hands(bench_file(seed=3)), []
        began_s = hands.loop.time()
        ears = listen(hands, edges)
        await hands.power_up(0.3)
        await hands.contact(Rail.MINUS, 0.3)
        hands.relay("supply", False)
        await asyncio.sleep(0.05)
        assert ears
        return [(name, ticks_s - began_s, level) for name, ticks_s, level in edges]

    jumped, real = run(main()), asyncio.run(main())
    assert [(name, level) for name, _, level in jumped] == [(name, level) for name, _, level in real]
    assert [when for _, when, _ in real] == pytest.approx([when for _, when, _ in jumped], abs=0.15)


def any_faults(draw, kinds):
    kind = draw.choice(list(UnitFaultKind))
    values = {"offset_mm": draw.uniform(-50, 50) or 1.0} if kind in ("stores-wrongly", "drifted") else {}
    values |= {"actual": draw.choice(kinds)} if kind == "wrong-kind" else {}
    return (UnitFault(kind=kind, **values),) if draw.random() < 0.7 else ()


def test_hundreds_of_random_units_with_random_faults_break_nothing():
    draw = random.Random(20)
    kinds = list(shipped_kinds())
    rows = tuple(UnitRow(kind=draw.choice(kinds), faults=any_faults(draw, kinds)) for _ in range(300))

    async def main():
        hands = Hands(BenchFile(title="random", unit=rows))
        units = [await work_on(hands) for _ in rows]
        assert not hands.record.incidents
        return units

    units = run(main())
    assert len({unit.kind.name for unit in units}) == len(kinds)
    assert any(unit.memory.mode == "single-point" for unit in units)


def test_a_long_run_needs_no_more_memory():
    async def main():
        hands = Hands(bench_file(unit=(UnitRow(kind="barrel-18-rail"),), endless=True))
        sizes = []
        for units in (140, 40):  # the rings of the record are full after the first 140
            for _ in range(units):
                await work_on(hands)
            gc.collect()
            sizes.append(tracemalloc.get_traced_memory()[0])
        assert len(hands.record.relays) == hands.record.relays.maxlen
        return sizes[1] - sizes[0]

    tracemalloc.start()
    try:
        growth = run(main())
    finally:
        tracemalloc.stop()
    assert growth < 20_000


def test_a_unit_cycle_costs_few_events():
    async def main():
        hands = Hands(bench_file(unit=(UnitRow(kind="barrel-18-rail", count=3),)))
        await work_on(hands)
        before, began_s = hands.world.timeline.events, hands.loop.time()
        await work_on(hands)
        pulses = (hands.loop.time() - began_s) / (2 * hands.profile.coil_supply.beat_s)
        return hands.world.timeline.events - before - pulses

    assert run(main()) < 130


def test_a_heartbeat_costs_one_event_a_pulse():
    async def main():
        hands = Hands(bench_file())
        hands.beat()
        await asyncio.sleep(1.0)
        before = hands.world.timeline.events
        await asyncio.sleep(120 * 0.12)
        return hands.world.timeline.events - before

    assert run(main()) == pytest.approx(120, abs=2)
