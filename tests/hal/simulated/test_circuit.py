"""Copper: relays in their times, rails, teach wire, output channel, coil supply. All by pin."""

from __future__ import annotations

import asyncio
import time
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.simulated.clock import NS, run
from hal.simulated.record import HandsInLiveNest, Place, RailsJoined, SelectorMovedUnderLoad
from tests.hal.simulated.hands import SIMULATED, BenchFault, Hands, Rail, UnitFault, bench_file
from tests.looking import examples
from wiring.profile import load_profile

TWO_RELAY = load_profile(Path(__file__).parents[2] / "wiring" / "two-relay.toml")


async def powered(kind="barrel-18-rail", *faults, profile=SIMULATED, **more):
    hands = Hands(bench_file(kind, *faults, **more), profile)
    unit = await hands.power_up()
    return hands, unit


def moves(hands, relay):
    return [(move.at_ns, move.place) for move in hands.record.relays if move.relay == relay]


def channel(hands):
    return hands.input("output_at_plus"), hands.input("output_at_minus")


def test_nothing_moves_without_a_heartbeat():
    async def main():
        hands = Hands(bench_file())
        hands.bench.next_unit()
        for key in ("supply", "rail_selector", "teach_contact", "load"):
            hands.relay(key, True)
        await asyncio.sleep(1)
        return list(hands.record.relays), hands.input("supply_sense")

    assert run(main()) == ([], False)


def test_coils_drop_at_the_dropout_time_after_the_last_pulse_and_relays_follow():
    async def main():
        hands, _ = await powered()
        heartbeat = hands.bench.pin_factory.pin("GPIO4")
        hands.stop_beating()
        heartbeat.state = 0
        heartbeat.state = 1
        pulse_s = hands.loop.time()
        sense = hands.profile.coil_supply.sense
        alive_s = [0.0]
        for _ in range(300):
            await asyncio.sleep(0.001)
            if hands.active(sense):
                alive_s.append(hands.loop.time() - pulse_s)
        return alive_s[-1], hands.input("supply_sense"), moves(hands, "A.supply")[-1]

    after_s, fed, (_, place) = run(main())
    assert after_s == pytest.approx(0.199, abs=0.0005)
    assert (fed, place) == (False, Place.REST)


def test_heartbeat_keeps_coils_alive_for_an_hour():
    async def main():
        hands, unit = await powered()
        await asyncio.sleep(3600)
        return len(moves(hands, "A.supply")), unit.fed

    assert run(main()) == (3, True)


def test_the_stop_button_drops_the_coils_whatever_the_program_does():
    async def main():
        hands, unit = await powered()
        hands.world.coils.press_stop(True)
        pressed = hands.active(hands.profile.coil_supply.stop_button)
        await asyncio.sleep(0.01)
        down = unit.fed, hands.active(hands.profile.coil_supply.sense)
        hands.world.coils.press_stop(False)
        await asyncio.sleep(0.02)
        return pressed, down, unit.fed

    assert run(main()) == (True, (False, False), True)


def test_letting_go_of_every_line_drops_everything():
    async def main():
        hands, unit = await powered()
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.1)
        hands.bench.pin_factory.close()
        await asyncio.sleep(0.1)
        return unit.fed, hands.input("teach_at_minus")

    assert run(main()) == (False, False)


@settings(max_examples=examples(25))
@given(st.integers(0, 10_000))
def test_relays_keep_their_data_sheet_times(seed):
    async def main():
        hands = Hands(bench_file(seed=seed))
        hands.beat()
        await asyncio.sleep(0.5)
        stamps = {}
        for key in ("teach_contact", "load", "supply", "rail_selector"):
            stamps[key] = [hands.world.now_ns]
            hands.relay(key, True)
            await asyncio.sleep(0.1)
            stamps[key].append(hands.world.now_ns)
            hands.relay(key, False)
            await asyncio.sleep(0.1)
        return stamps, {key: moves(hands, f"A.{key}") for key in stamps}

    stamps, moved = run(main())
    for key, (on_ns, off_ns) in stamps.items():
        line = getattr(SIMULATED.nest[0], key)
        closing = [(at - on_ns) / NS for at, _ in moved[key] if at < off_ns]
        opening = [(at - off_ns) / NS for at, _ in moved[key] if at >= off_ns]
        work = [(at - on_ns) / NS for at, place in moved[key] if place is Place.WORK and at < off_ns]
        assert 0.5 * line.operate_s <= work[0] <= line.operate_s
        assert closing[-1] <= line.operate_s + line.bounce_s
        assert opening[-1] <= line.release_s + line.bounce_s
        assert [place for _, place in moved[key]][-1] is Place.REST
    selector = SIMULATED.nest[0].rail_selector
    leaves = [at for at, place in moved["rail_selector"] if place is Place.BETWEEN]
    assert (leaves[-1] - stamps["rail_selector"][1]) / NS == pytest.approx(selector.release_s)


def test_a_closing_contact_bounces_within_its_bounce_time():
    async def main():
        hands = Hands(bench_file())
        hands.beat()
        await asyncio.sleep(0.1)
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.1)
        return moves(hands, "A.teach_contact")

    (closed, _), (opened, _), (again, _) = run(main())
    assert closed < opened < again <= closed + 0.003 * NS


def test_a_command_withdrawn_before_the_relay_moved_moves_nothing():
    async def main():
        hands = Hands(bench_file())
        hands.beat()
        await asyncio.sleep(0.1)
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.004)
        hands.relay("teach_contact", False)
        await asyncio.sleep(0.1)
        return moves(hands, "A.teach_contact")

    assert run(main()) == []


@pytest.mark.parametrize("rail", list(Rail))
def test_the_teach_wire_reads_the_rail_it_is_held_to_and_floats_otherwise(rail):
    async def main():
        hands, _ = await powered()
        seen = []
        hands.relay("rail_selector", rail is Rail.PLUS)
        await asyncio.sleep(0.06)
        for closed in (False, True, False):
            hands.relay("teach_contact", closed)
            await asyncio.sleep(0.06)
            seen.append((hands.input("teach_at_plus"), hands.input("teach_at_minus")))
        return seen

    held = (rail is Rail.PLUS, rail is Rail.MINUS)
    assert run(main()) == [(False, False), held, (False, False)]


def test_the_unit_sees_each_contact_with_its_true_length():
    async def main():
        hands, _ = await powered()
        for seconds in (0.3, 1.25, 2.0):
            await hands.contact(Rail.PLUS, seconds)
        return [(contact.rail, contact.length_s) for contact in hands.record.contacts]

    seen = run(main())
    assert [rail for rail, _ in seen] == [Rail.PLUS] * 3
    # the contact closes up to 10 ms after its command and opens up to 5 ms after
    assert [length for _, length in seen] == pytest.approx([0.295, 1.245, 1.995], abs=0.006)


def test_a_selector_that_moves_under_a_closed_contact_is_on_record():
    async def main():
        hands, _ = await powered()
        await hands.contact(Rail.PLUS, 0.3)
        sound = list(hands.record.incidents)
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.05)
        hands.relay("rail_selector", False)
        await asyncio.sleep(0.05)
        return sound, [type(incident) for incident in hands.record.incidents]

    assert run(main()) == ([], [SelectorMovedUnderLoad])


def test_dropping_everything_at_once_never_moves_the_selector_under_load():
    async def main():
        for seed in range(40):
            hands, _ = await powered(seed=seed)
            hands.relay("rail_selector", True)
            await asyncio.sleep(0.06)
            hands.relay("teach_contact", True)
            await asyncio.sleep(0.06)
            hands.world.coils.press_stop(True)
            await asyncio.sleep(0.06)
            assert not hands.record.incidents

    run(main())


def test_no_play_of_selector_and_contact_can_join_the_rails():
    async def main():
        hands, _ = await powered()
        for step in range(400):
            hands.relay(("rail_selector", "teach_contact")[step % 2], (step // 3) % 2 == 0)
            await asyncio.sleep(0.001 + (step * 7 % 23) / 1000)
        return [incident for incident in hands.record.incidents if isinstance(incident, RailsJoined)]

    assert run(main()) == []


def test_two_relays_closed_together_join_the_rails_and_it_is_on_record_with_its_energy():
    async def main():
        hands, _ = await powered(profile=TWO_RELAY)
        hands.relay("plus_contact", True)
        await asyncio.sleep(0.1)
        one = hands.input("teach_at_plus"), list(hands.record.incidents)
        hands.relay("minus_contact", True)
        measured = []
        for _ in range(40):
            await asyncio.sleep(0.0005)
            measured.append(hands.world.supply.measured())
        hands.relay("plus_contact", False)
        hands.relay("minus_contact", False)
        await asyncio.sleep(0.5)
        return one, measured, list(hands.record.incidents)

    one, measured, incidents = run(main())
    assert one == (True, [])
    assert incidents
    assert all(isinstance(incident, RailsJoined) for incident in incidents)
    limit_a = TWO_RELAY.supply.current_limit_a
    assert max(amperes for _, amperes in measured) == limit_a
    assert min(volts for volts, _ in measured) < 0.1
    for incident in incidents:
        seconds = (incident.end_ns - incident.start_ns) / NS
        assert 0 < seconds < 0.02
        assert incident.energy_j == pytest.approx(limit_a**2 * 0.05 * seconds)


@pytest.mark.parametrize(
    ("kind", "faults", "on", "off"),
    [
        # (at L+, at L-) with the load to L-, then with the load to L+
        ("barrel-18-rail", (), [(True, False), (True, False)], [(False, True), (True, False)]),
        ("barrel-12-count", (), [(False, True), (False, True)], [(False, True), (True, False)]),
        ("block-rail", (), [(True, False), (True, False)], [(False, True), (False, True)]),
        (
            "barrel-18-rail",
            ("wrong-output-type",),
            [(False, True), (False, True)],
            [(False, True), (True, False)],
        ),
        (
            "barrel-12-count",
            ("wrong-output-type",),
            [(True, False), (True, False)],
            [(False, True), (True, False)],
        ),
    ],
)
def test_the_output_channel_tells_the_output_types_apart(kind, faults, on, off):
    async def main():
        hands, unit = await powered(kind, *(UnitFault(kind=fault) for fault in faults))
        middle_mm = (unit.kind.blind_zone_mm + unit.kind.range_mm) / 2
        seen = []
        for place in (middle_mm, None):
            if place is None:
                await hands.clear()
            else:
                await hands.place(place)
            assert unit.is_on is (place is not None)
            for pulled_up in (False, True):
                hands.relay("load", pulled_up)
                await asyncio.sleep(0.05)
                seen.append(channel(hands))
        return seen

    assert run(main()) == on + off


@pytest.mark.parametrize(
    ("fault", "seen"),
    [
        ({"kind": "output-open"}, [(False, True), (True, False)]),
        ({"kind": "output-shorted", "rail": "L+"}, [(True, False), (True, False)]),
        ({"kind": "output-shorted", "rail": "L-"}, [(False, True), (False, True)]),
        ({"kind": "wrong-harness"}, [(False, True), (False, True)]),
    ],
)
def test_faults_of_the_output_wire_show_on_the_channel(fault, seen):
    async def main():
        hands, _ = await powered(fault=(BenchFault(**fault),))
        await hands.place(300.0)
        levels = []
        for pulled_up in (False, True):
            hands.relay("load", pulled_up)
            await asyncio.sleep(0.05)
            levels.append(channel(hands))
        return levels

    assert run(main()) == seen


def test_between_its_two_sides_the_load_pulls_nowhere():
    async def main():
        hands, _ = await powered()
        await hands.clear()
        hands.relay("load", True)
        seen = set()
        for _ in range(120):
            await asyncio.sleep(0.0001)
            seen.add(channel(hands))
        return seen

    assert run(main()) == {(False, True), (False, False), (True, False)}


def test_an_empty_nest_reads_as_its_load_and_draws_nothing():
    async def main():
        hands = Hands(bench_file())
        hands.beat()
        hands.relay("supply", True)
        await asyncio.sleep(0.1)
        return channel(hands), hands.world.supply.measured()

    assert run(main()) == ((False, True), (24.0, 0.0))


def test_the_supply_measures_unit_and_load():
    async def main():
        hands, unit = await powered("barrel-18-rail")
        await hands.clear()
        idle_a = hands.world.supply.measured()[1]
        await hands.place(300.0)
        return idle_a, hands.world.supply.measured()[1] - idle_a, unit.kind.current_a

    idle_a, load_a, nominal_a = run(main())
    assert idle_a == pytest.approx(nominal_a, rel=0.11)
    assert load_a == pytest.approx(22.0 / 4700.0)


def test_a_dead_unit_draws_nothing_and_a_damaged_one_too_much():
    async def main():
        dead, _ = await powered("barrel-18-rail", UnitFault(kind="dead"))
        hungry, _ = await powered("barrel-18-rail", UnitFault(kind="over-current", current_a=0.18))
        await dead.place(300.0)
        return dead.world.supply.measured()[1], channel(dead), hungry.world.supply.measured()[1]

    idle_a, levels, high_a = run(main())
    assert (idle_a, levels) == (0.0, (False, True))
    assert high_a == pytest.approx(0.18)


def test_beyond_its_limit_the_supply_gives_way():
    async def main():
        hands = Hands(bench_file("barrel-18-rail", UnitFault(kind="over-current", current_a=0.4)))
        await hands.power_up(wait_s=0.012)
        lows = set()
        for _ in range(100):
            volts, amperes = hands.world.supply.measured()
            assert amperes <= hands.world.supply.set_limit_a
            lows.add(round(volts))
            await asyncio.sleep(0.001)
        return lows

    assert 15 in run(main())  # 24 V x 0.25 A / 0.4 A


def test_with_the_supply_off_no_input_claims_a_rail():
    async def main():
        hands, unit = await powered()
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.05)
        hands.world.supply.output(False)
        at_once = hands.input("teach_at_minus")  # the contact itself is still closed
        await asyncio.sleep(0.05)
        keys = ("teach_at_plus", "teach_at_minus", "output_at_plus", "output_at_minus", "led", "supply_sense")
        return at_once, [hands.input(key) for key in keys], unit.fed

    assert run(main()) == (False, [False] * 6, False)


def test_a_unit_rides_through_contact_bounce_but_not_through_a_gap():
    async def main():
        hands, unit = await powered()
        await hands.place(300.0)
        on = [unit.is_on]
        for gap_s in (0.002, 0.004):
            unit.feed(False)
            await asyncio.sleep(gap_s)
            unit.feed(True)
            on.append(unit.is_on)
        return on

    assert run(main()) == [True, True, False]


def test_hands_in_a_live_nest_are_on_record():
    async def main():
        hands, _ = await powered()
        hands.bench.remove_unit()
        live = [type(incident) for incident in hands.record.incidents]
        hands.relay("supply", False)
        await asyncio.sleep(0.1)
        hands.bench.next_unit()
        return live, len(hands.record.incidents)

    assert run(main()) == ([HandsInLiveNest], 1)


def test_a_blocked_loop_finds_its_coils_dropped_at_last_pulse_plus_dropout_in_real_time():
    async def main():
        hands, _ = await powered()
        heartbeat = hands.bench.pin_factory.pin("GPIO4")
        seen = []

        class Ear:
            def hear(self, ticks_s, level):
                seen.append((ticks_s, level))

        ear = Ear()
        hands.bench.pin_factory.pin(hands.profile.coil_supply.sense.line).when_changed = ear.hear
        hands.stop_beating()
        heartbeat.state = 0
        heartbeat.state = 1
        pulse_s = hands.loop.time()
        time.sleep(0.5)  # noqa: ASYNC251  # blocked on purpose
        heartbeat.state = 0
        read_at_once = hands.input("supply_sense")
        heartbeat.state = 1
        await asyncio.sleep(0.05)
        opened_ns = [at for at, place in moves(hands, "A.supply") if place is Place.REST]
        return pulse_s, read_at_once, seen, opened_ns

    pulse_s, read_at_once, seen, opened_ns = asyncio.run(main())
    assert read_at_once is False
    assert [level for _, level in seen] == [0, 1]
    assert seen[0][0] - pulse_s == pytest.approx(0.2, abs=0.0005)
    assert opened_ns[0] / NS - pulse_s == pytest.approx(0.204, abs=0.0015)


def test_a_blocked_loop_on_the_jumping_clock_finds_the_same():
    async def main():
        hands, _ = await powered()
        heartbeat = hands.bench.pin_factory.pin("GPIO4")
        hands.stop_beating()
        heartbeat.state = 0
        heartbeat.state = 1
        pulse_ns = hands.world.now_ns
        hands.loop.block_for(0.5)
        fed = hands.input("supply_sense")
        opened_ns = [at for at, place in moves(hands, "A.supply") if place is Place.REST]
        return fed, (opened_ns[0] - pulse_ns) / NS

    fed, opened_s = run(main())
    assert fed is False
    assert 0.2 + 0.7 * 0.005 <= opened_s <= 0.2 + 0.005


def test_the_record_is_a_ring():
    async def main():
        hands = Hands(bench_file())
        hands.beat()
        for _ in range(1500):
            hands.relay("load", True)
            await asyncio.sleep(0.02)
            hands.relay("load", False)
            await asyncio.sleep(0.02)
        times = [move.at_ns for move in hands.record.relays]
        return len(times), all(before <= after for before, after in pairwise(times))

    assert run(main()) == (2000, True)
