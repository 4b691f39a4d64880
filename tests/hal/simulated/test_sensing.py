"""Where units switch, and when: thresholds, hysteresis, noise, air, moving plates, response and start-up times."""

from __future__ import annotations

import asyncio
from statistics import mean, stdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.simulated.air import TRIM_M_S, speed_of_sound_m_s
from hal.simulated.benchfile import Arrival
from hal.simulated.clock import NS, run
from hal.simulated.truths import AirTruth
from tests.hal.simulated.hands import SIMULATED, Hands, UnitFault, bench_file
from tests.looking import examples
from wiring.terms import DetectionMode

SINGLE, WINDOW = DetectionMode.SINGLE_POINT, DetectionMode.WINDOW


async def set_unit(kind="barrel-18-rail", *faults, near=None, far=None, function="NO", **more):
    mode = "full-range" if near is None else "single-point" if far is None else "window"
    arrives = Arrival(mode=mode, output_function=function, near_mm=near, far_mm=far)
    hands = Hands(bench_file(kind, *faults, arrives=arrives, **more))
    await hands.clear(0.0)
    unit = await hands.power_up()
    return hands, unit


async def is_on_at(hands, unit, *places):
    seen = []
    for place in places:
        await hands.place(place)
        seen.append(unit.is_on)
    return seen


@pytest.mark.parametrize(("function", "inside"), [("NO", True), ("NC", False)])
@pytest.mark.parametrize(
    ("near", "far", "inside_mm", "outside_mm"),
    [
        (None, None, (80, 400, 780), (30, 870)),
        (300.0, None, (80, 200, 295), (30, 320, 780, 950)),
        (200.0, 500.0, (210, 350, 490), (30, 180, 530, 780)),
    ],
)
def test_each_mode_reports_the_objects_it_should(function, inside, near, far, inside_mm, outside_mm):
    async def main():
        hands, unit = await set_unit(near=near, far=far, function=function)
        nothing = unit.is_on
        return (
            nothing,
            await is_on_at(hands, unit, *inside_mm),
            await is_on_at(hands, unit, *outside_mm),
        )

    nothing, inner, outer = run(main())
    assert nothing is not inside
    assert inner == [inside] * len(inside_mm)
    assert outer == [not inside] * len(outside_mm)


@settings(max_examples=examples(30))
@given(point=st.floats(100, 750), seed=st.integers(0, 10_000))
def test_a_unit_operates_and_releases_where_its_truth_says(point, seed):
    async def main():
        hands, unit = await set_unit(near=point, seed=seed)
        operate, release = unit.true_operate_mm("far"), unit.true_release_mm("far")
        margin = 6 * max(0.2, point / 1000)
        places = (operate + margin, operate - margin, release - margin, release + margin, operate + margin)
        return operate, release, await is_on_at(hands, unit, *places)

    operate, release, seen = run(main())
    assert operate == pytest.approx(point, rel=0.002)
    assert release - operate == pytest.approx(max(2.0, point / 100), rel=0.21)
    expected = [False, True, True, False, False]
    if release - operate < 12 * max(0.2, point / 1000):  # the margins overlap inside a narrow hysteresis
        expected[2] = seen[2]
    assert seen == expected


def test_at_its_threshold_a_unit_switches_by_chance_with_its_own_noise():
    async def main():
        hands, unit = await set_unit(near=300.0)
        operated = []
        for _ in range(150):
            await hands.place(310.0, 0.2)
            place = 304.0
            while not unit.is_on:
                place -= 0.1
                await hands.place(place, 0.05)
            operated.append(place)
        return operated

    operated = run(main())
    assert 300.0 < mean(operated) < 301.0
    assert 0.05 < stdev(operated) < 0.4


def test_readings_scatter_by_the_noise_of_the_kind():
    async def main():
        hands, unit = await set_unit()
        scatter = {}
        for place in (65.0, 700.0):
            await hands.place(place)
            scatter[place] = stdev(unit.read_mm() for _ in range(3000))
        return scatter

    assert run(main()) == {65.0: pytest.approx(0.08, rel=0.08), 700.0: pytest.approx(0.7, rel=0.08)}


def test_nothing_happens_while_the_plate_stands_clear_of_every_threshold():
    async def main():
        hands, _ = await set_unit(near=300.0)
        await hands.place(200.0)
        hands.stop_beating()
        await asyncio.sleep(1.0)
        before = hands.world.timeline.events
        await asyncio.sleep(3600)
        return hands.world.timeline.events - before

    assert run(main()) == 0


def test_a_passing_plate_is_noticed_where_it_passes_and_after_the_response_time():
    async def main():
        hands, unit = await set_unit(near=400.0, far=500.0)
        await hands.place(700.0)
        hands.world.target.start_move(200.0, 100.0, placement_mm=0.0)
        began_s, changes, on = hands.loop.time(), [], False
        for _ in range(6000):
            await asyncio.sleep(0.001)
            if unit.is_on is not on:
                on = unit.is_on
                changes.append(700.0 - 100.0 * (hands.loop.time() - began_s))
        return changes, unit.true_operate_mm("far"), unit.true_release_mm("near")

    (on_mm, off_mm), operate_mm, release_mm = run(main())
    # at 100 mm/s the response time of up to 50 ms is up to 5 mm
    assert operate_mm - 5.5 < on_mm < operate_mm + 0.5
    assert release_mm - 5.5 < off_mm < release_mm + 0.5


def test_a_plate_that_flies_through_faster_than_the_response_is_missed():
    async def main():
        hands, unit = await set_unit(near=400.0, far=405.0)
        await hands.place(700.0)
        hands.world.target.start_move(200.0, 1000.0, placement_mm=0.0)
        seen = set()
        for _ in range(800):
            await asyncio.sleep(0.001)
            seen.add(unit.is_on)
        return seen

    assert run(main()) == {False}


def test_the_plate_may_swing_out_while_the_unit_is_on():
    async def main():
        hands, unit = await set_unit()
        await hands.place(300.0)
        swing = SIMULATED.target.swing
        hands.output(swing, True)
        await asyncio.sleep(0.1)
        still = unit.is_on
        await asyncio.sleep(0.5)
        gone = unit.is_on
        hands.output(swing, False)
        await asyncio.sleep(0.6)
        return still, gone, unit.is_on

    assert run(main()) == (True, False, True)


def test_a_stopped_plate_stays_where_it_was_stopped():
    async def main():
        hands, unit = await set_unit(near=300.0)
        await hands.place(600.0)
        target = hands.world.target
        target.start_move(200.0, 100.0, placement_mm=0.0)
        await asyncio.sleep(1.0)
        target.stop()
        await asyncio.sleep(5.0)
        return target.position_mm(), target.true_mm, target.moving, unit.is_on

    assert run(main()) == (pytest.approx(500.0), pytest.approx(500.0), False, False)


def test_a_move_ends_where_asked_give_or_take_the_placement_error():
    async def main():
        hands, _ = await set_unit()
        target, errors = hands.world.target, []
        for step in range(300):
            target.start_move(300.0 + step % 2, 1000.0)
            await asyncio.sleep(0.4)
            errors.append(target.true_mm - target.position_mm())
        return errors

    errors = run(main())
    assert max(errors) <= 0.2
    assert min(errors) >= -0.2
    assert max(errors) - min(errors) > 0.35


@pytest.mark.parametrize(("kind", "residual"), [("barrel-12-count", 1.0), ("barrel-30-length", 0.15)])
@pytest.mark.parametrize("temperature_c", [0.0, 23.0, 40.0])
def test_air_moves_a_taught_point_as_far_as_the_unit_does_not_compensate(kind, residual, temperature_c):
    async def main():
        air = AirTruth(temperature_c=temperature_c, humidity_percent=0.0)
        _, unit = await set_unit(kind, near=250.0 if kind == "barrel-12-count" else 2500.0, air=air)
        return unit.true_operate_mm("far") / unit.memory.near_mm

    shift = TRIM_M_S / speed_of_sound_m_s(temperature_c, 0.0, 101.325)
    assert run(main()) == pytest.approx(1 / (1 + residual * (shift - 1)))


def test_what_was_taught_in_cold_air_switches_further_out_in_warm_air():
    async def main():
        air = AirTruth(temperature_c=5.0, drift_c_per_hour=20.0)
        _, unit = await set_unit("barrel-12-count", near=200.0, air=air)
        cold_mm = unit.true_operate_mm("far")
        await asyncio.sleep(3600)
        return unit.true_operate_mm("far") / cold_mm

    # ideal gas: the speed of sound goes with the root of the absolute temperature, and moisture adds a little
    assert run(main()) == pytest.approx((298.15 / 278.15) ** 0.5, abs=0.003)


def test_a_small_plate_is_lost_before_the_end_of_the_range():
    async def main():
        small = SIMULATED.model_copy(update={"target": SIMULATED.target.model_copy(update={"side_mm": 10.0})})
        hands = Hands(bench_file("barrel-18-rail"), small)
        unit = await hands.power_up()
        return await is_on_at(hands, unit, 500.0, 700.0)

    assert run(main()) == [True, False]


@settings(max_examples=examples(20))
@given(st.integers(0, 10_000))
def test_the_output_follows_within_the_response_time_and_starts_within_the_availability_delay(seed):
    async def main():
        hands = Hands(bench_file(seed=seed))
        await hands.place(300.0, 0.0)
        hands.beat()
        await asyncio.sleep(0.1)
        unit = hands.bench.next_unit()
        hands.relay("supply", True)
        began_ns = hands.world.now_ns
        for _ in range(1000):
            if unit.is_on:
                break
            await asyncio.sleep(0.001)
        start_s = (hands.world.now_ns - began_ns) / NS
        hands.world.target.put_in_beam(False)
        began_ns = hands.world.now_ns
        for _ in range(1000):
            if not unit.is_on:
                break
            await asyncio.sleep(0.001)
        return start_s, (hands.world.now_ns - began_ns) / NS

    start_s, off_s = run(main())
    assert 0.2 <= start_s <= 0.3 + 0.012
    assert 0.03 <= off_s <= 0.051


def test_a_drifted_unit_moves_some_time_after_it_was_taught():
    async def main():
        hands, unit = await set_unit(
            "barrel-18-rail", UnitFault(kind="drifted", offset_mm=10.0, after_s=20.0)
        )
        unit.store(unit.memory.single(300.0))
        fresh_mm = unit.true_operate_mm("far")
        await asyncio.sleep(21.0)
        return fresh_mm, unit.true_operate_mm("far"), await is_on_at(hands, unit, 280.0, 297.0)

    fresh_mm, drifted_mm, seen = run(main())
    assert fresh_mm == pytest.approx(300.0, abs=0.5)
    assert drifted_mm == pytest.approx(290.0, abs=0.5)
    assert seen == [True, False]


def test_wide_hysteresis_and_noise_are_wider_than_the_kind_allows():
    async def main():
        _, wide = await set_unit("barrel-18-rail", UnitFault(kind="wide-hysteresis"), near=300.0)
        hands, noisy = await set_unit("barrel-18-rail", UnitFault(kind="noisy-echo"), near=300.0)
        await hands.place(300.0, 0.0)
        changes, on = 0, noisy.is_on
        for _ in range(3000):
            await asyncio.sleep(0.01)
            if noisy.is_on is not on:
                on, changes = noisy.is_on, changes + 1
        travel = wide.true_release_mm("far") - wide.true_operate_mm("far")
        return travel / 300.0, changes

    travel, changes = run(main())
    assert travel > 0.04
    assert changes > 20


def test_the_memory_outlives_the_supply():
    async def main():
        hands, unit = await set_unit()
        unit.store(unit.memory.single(300.0))
        hands.relay("supply", False)
        await asyncio.sleep(10)
        hands.relay("supply", True)
        await asyncio.sleep(0.5)
        return unit.memory.mode, await is_on_at(hands, unit, 280.0, 320.0)

    assert run(main()) == (SINGLE, [True, False])
