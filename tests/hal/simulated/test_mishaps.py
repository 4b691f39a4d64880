"""Faults of the bench: each does what its name says, in its own time, and goes away where it should."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from hal.simulated.benchfile import UnitRow
from hal.simulated.clock import run
from hal.simulated.record import Place
from hal.simulated.truths import Light
from tests.hal.simulated.hands import SIMULATED, BenchFault, Hands, Rail, UnitFault, bench_file
from wiring.profile import load_profile

TWO_RELAY = load_profile(Path(__file__).parents[2] / "wiring" / "two-relay.toml")


async def with_fault(profile=SIMULATED, *, unit_faults=(), **fault):
    hands = Hands(bench_file("barrel-18-rail", *unit_faults, fault=(BenchFault(**fault),)), profile)
    unit = await hands.power_up()
    return hands, unit


async def wire_during_contact(hands, key="teach_contact"):
    hands.relay(key, True)
    await asyncio.sleep(0.1)
    during = hands.input("teach_at_plus"), hands.input("teach_at_minus")
    hands.relay(key, False)
    await asyncio.sleep(0.1)
    return during, (hands.input("teach_at_plus"), hands.input("teach_at_minus"))


FREE, AT_MINUS = (False, False), (False, True)


def test_a_welded_contact_stays_closed_from_the_contact_named():
    async def main():
        hands, _ = await with_fault(kind="teach-contact-welded", after_contacts=3)
        return [await wire_during_contact(hands) for _ in range(3)]

    assert run(main()) == [(AT_MINUS, FREE), (AT_MINUS, FREE), (AT_MINUS, AT_MINUS)]


def test_a_contact_that_is_to_weld_from_the_start_is_open_until_it_first_closes():
    async def main():
        hands, _ = await with_fault(kind="teach-contact-welded")
        before = hands.input("teach_at_minus")
        return before, await wire_during_contact(hands)

    assert run(main()) == (False, (AT_MINUS, AT_MINUS))


def test_with_two_contacts_the_rail_says_which_one_is_meant():
    async def main():
        seen = {}
        for rail in Rail:
            hands, _ = await with_fault(TWO_RELAY, kind="teach-contact-welded", rail=rail)
            seen[rail] = [
                (await wire_during_contact(hands, key))[1] != FREE
                for key in ("plus_contact", "minus_contact")
            ]
        return seen

    seen = run(main())
    assert seen[Rail.MINUS] == [False, True]
    assert seen[Rail.PLUS][0] is True


def test_a_dead_contact_never_closes():
    async def main():
        hands, _ = await with_fault(kind="teach-contact-dead")
        return await wire_during_contact(hands)

    assert run(main()) == (FREE, FREE)


def test_a_dead_contact_may_come_back():
    async def main():
        hands, _ = await with_fault(kind="teach-contact-dead", for_s=2.0)
        dead = await wire_during_contact(hands)
        await asyncio.sleep(2.0)
        return dead, await wire_during_contact(hands)

    assert run(main()) == ((FREE, FREE), (AT_MINUS, FREE))


def test_a_stuck_selector_leaves_the_wire_on_the_wrong_rail():
    async def main():
        hands, _ = await with_fault(kind="selector-stuck")
        hands.relay("rail_selector", True)
        await asyncio.sleep(0.1)
        return (await wire_during_contact(hands))[0]

    assert run(main()) == AT_MINUS


def test_a_slow_relay_takes_its_factor_longer():
    async def main():
        times = []
        for fault in (
            {"kind": "relay-slow", "relay": "teach_contact", "factor": 5.0},
            {"kind": "program-killed", "after_s": 99.0},
        ):
            hands, _ = await with_fault(**fault)
            began_ns = hands.world.now_ns
            hands.relay("teach_contact", True)
            await asyncio.sleep(0.2)
            times.append(hands.record.relays[-3].at_ns - began_ns)
        return times[0] / times[1]

    assert run(main()) == pytest.approx(5.0)


def test_a_dead_supply_relay_feeds_nothing():
    async def main():
        hands, unit = await with_fault(kind="supply-relay-dead")
        return hands.input("supply_sense"), unit.fed

    assert run(main()) == (False, False)


@pytest.mark.parametrize(
    ("ambient", "sees"), [("dark", {False}), ("daylight", {True}), ("mains-50", {False, True})]
)
def test_a_fallen_pick_up_sees_only_the_room(ambient, sees):
    async def main():
        fault = (BenchFault(kind="pickup-fallen-off"),)
        hands = Hands(bench_file("barrel-18-rail", fault=fault, light=Light(ambient=ambient)))
        await hands.power_up()
        await hands.place(300.0)
        seen = set()
        for _ in range(100):
            await asyncio.sleep(0.001)
            seen.add(hands.input("led"))
        return seen

    assert run(main()) == sees


@pytest.mark.parametrize(("ambient", "rate_hz"), [("mains-50", 100), ("mains-60", 120)])
def test_lamps_flicker_at_twice_the_mains_while_the_led_is_dark_and_only_where_light_leaks_in(
    ambient, rate_hz
):
    async def main():
        rises = {}
        for leaks in (True, False):
            hands = Hands(bench_file("barrel-18-rail", light=Light(ambient=ambient, leaks=leaks)))
            await hands.power_up()
            seen = []

            class Ear:
                def __init__(self, into):
                    self.into = into

                def hear(self, ticks_s, level):
                    if level:
                        self.into.append(ticks_s)

            ear = Ear(seen)
            hands.bench.pin_factory.pin(hands.nest.led.line).when_changed = ear.hear
            await hands.clear(10.6)
            dark = len(seen)
            await hands.place(300.0)
            lit_from = len(seen)
            await asyncio.sleep(10)
            rises[leaks] = (dark, len(seen) - lit_from)
        return rises

    rises = run(main())
    assert rises[True][0] == pytest.approx(10.5 * rate_hz, rel=0.02)
    assert rises[True][1] == 0
    assert rises[False] == (0, 0)


def test_a_pressed_stop_button_comes_and_goes():
    async def main():
        _, unit = await with_fault(kind="stop-pressed", after_s=1.0, for_s=2.0)
        fed = [unit.fed]
        for _ in range(2):
            await asyncio.sleep(1.5)
            fed.append(unit.fed)
        return fed

    assert run(main()) == [True, False, True]


def test_a_sagging_supply_gives_less_for_a_while():
    async def main():
        hands, unit = await with_fault(kind="supply-sag", voltage_v=8.0, after_s=1.0, for_s=1.0)
        seen = []
        for _ in range(3):
            seen.append((hands.world.supply.measured()[0], unit.fed, hands.input("supply_sense")))
            await asyncio.sleep(0.8)
        return seen

    # 8 V is too little for the unit, but holds the relays
    assert run(main()) == [(24.0, True, True), (8.0, False, False), (24.0, True, True)]


def test_pulses_of_a_killed_program_no_longer_arrive():
    async def main():
        hands, unit = await with_fault(kind="program-killed", after_s=1.0)
        before = unit.fed
        await asyncio.sleep(1.3)
        return before, unit.fed, hands.record.relays[-1].place

    assert run(main()) == (True, False, Place.REST)


def test_a_misplaced_target_stands_off():
    async def main():
        hands, _ = await with_fault(kind="target-misplaced", offset_mm=12.0)
        await hands.place(300.0)
        return hands.world.target.position_mm(), hands.world.target.true_mm

    assert run(main()) == (300.0, 312.0)


def test_a_wrong_harness_leaves_the_unit_without_supply():
    async def main():
        hands, unit = await with_fault(kind="wrong-harness")
        return hands.input("supply_sense"), unit.fed, hands.world.supply.measured()[1]

    assert run(main()) == (True, False, 0.0)


def test_a_fault_waits_for_its_unit():
    async def main():
        fault = (BenchFault(kind="supply-relay-dead", from_unit=3, after_s=1.0),)
        rows = (UnitRow(kind="barrel-18-rail", count=4),)
        hands = Hands(bench_file(unit=rows, fault=fault))
        fed = []
        for _ in range(4):
            unit = await hands.power_up()
            fed.append(unit.fed)
            await asyncio.sleep(1.0)
            fed.append(unit.fed)
            hands.relay("supply", False)
            await asyncio.sleep(0.1)
            hands.bench.remove_unit()
        return fed

    assert run(main()) == [True, True, True, True, True, False, False, False]


def test_contacts_are_counted_from_the_unit_on():
    async def main():
        fault = (BenchFault(kind="teach-contact-welded", from_unit=2, after_contacts=2),)
        rows = (UnitRow(kind="barrel-18-rail", count=4),)
        hands = Hands(bench_file(unit=rows, fault=fault))
        hands.beat()
        stays = []
        for _ in range(2):
            hands.bench.next_unit()
            await asyncio.sleep(0.1)
            for _ in range(3):
                stays.append((await wire_during_contact(hands))[1] != FREE)
        return stays

    assert run(main()) == [False, False, False, False, True, True]


def test_a_unit_of_another_kind_is_really_another_kind():
    async def main():
        wrong = UnitFault(kind="wrong-kind", actual="block-rail")
        hands = Hands(bench_file("barrel-18-rail", wrong))
        unit = await hands.power_up()
        await hands.place(1500.0)
        return unit.kind.name, unit.is_on

    assert run(main()) == ("block-rail", True)
