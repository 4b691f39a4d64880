"""Each teach method as its units understand it, through relays and wire, judged by where the unit then switches."""

from __future__ import annotations

import asyncio

import pytest

from hal.simulated.clock import run
from tests.hal.simulated.hands import Hands, Rail, UnitFault, bench_file
from wiring.terms import DetectionMode, OutputFunction

PLUS, MINUS = Rail.PLUS, Rail.MINUS
NO, NC = OutputFunction.NO, OutputFunction.NC
FULL, SINGLE, WINDOW = DetectionMode.FULL_RANGE, DetectionMode.SINGLE_POINT, DetectionMode.WINDOW

CLEAR, COVER = None, 0.0


async def at(hands: Hands, place):
    if place is None:
        await hands.clear()
    else:
        await hands.place(place)


async def taught(kind, steps, *faults, **more):
    """Teach a unit with (place, rail, seconds) steps; return hands and unit."""
    hands = Hands(bench_file(kind, *faults, **more))
    unit = await hands.power_up()
    for place, rail, seconds in steps:
        await at(hands, place)
        await hands.contact(rail, seconds)
    await asyncio.sleep(4.0)
    return hands, unit


async def count(hands: Hands, contacts, rail=MINUS, seconds=0.3, gap_s=0.3):
    for _ in range(contacts):
        await hands.contact(rail, seconds)
        await asyncio.sleep(gap_s)
    await asyncio.sleep(6.0)


RAIL_ORDER = [
    ([(COVER, MINUS, 1.3), (CLEAR, PLUS, 1.3)], (FULL, NO)),
    ([(CLEAR, PLUS, 1.3), (300.0, MINUS, 1.3)], (SINGLE, NO)),
    ([(CLEAR, MINUS, 1.3), (300.0, PLUS, 1.3)], (SINGLE, NC)),
    ([(200.0, MINUS, 1.3), (500.0, PLUS, 1.3)], (WINDOW, NO)),
    ([(200.0, PLUS, 1.3), (500.0, MINUS, 1.3)], (WINDOW, NC)),
]


@pytest.mark.parametrize("kind", ["barrel-18-rail", "block-rail"])
@pytest.mark.parametrize(("steps", "meant"), RAIL_ORDER)
def test_rail_order_stores_what_the_order_of_rails_means(kind, steps, meant):
    async def main():
        # Comes with another setting each time, so that an untaught unit cannot pass for a taught one.
        arrives = {"mode": "window", "output_function": "NO", "near_mm": 150.0, "far_mm": 180.0}
        if meant == (WINDOW, NO):
            arrives["output_function"] = "NC"
        _, unit = await taught(kind, steps, arrives=arrives)
        return unit

    unit = run(main())
    assert (unit.memory.mode, unit.memory.function) == meant
    if unit.memory.mode is SINGLE:
        assert unit.true_operate_mm("far") == pytest.approx(300.0, abs=2.0)
    if unit.memory.mode is WINDOW:
        assert unit.true_operate_mm("near") == pytest.approx(200.0, abs=2.0)
        assert unit.true_operate_mm("far") == pytest.approx(500.0, abs=2.5)


REFUSED_ORDERS = [
    [(COVER, PLUS, 1.3), (CLEAR, MINUS, 1.3)],
    [(COVER, MINUS, 1.3), (300.0, PLUS, 1.3)],
    [(CLEAR, PLUS, 1.3), (CLEAR, MINUS, 1.3)],
    [(CLEAR, PLUS, 1.3), (300.0, PLUS, 1.3)],
    [(CLEAR, PLUS, 1.3), (COVER, MINUS, 1.3)],
    [(300.0, MINUS, 1.3), (305.0, PLUS, 1.3)],
    [(500.0, MINUS, 1.3), (200.0, PLUS, 1.3)],
    [(CLEAR, PLUS, 0.9), (300.0, MINUS, 0.9)],
    [(CLEAR, PLUS, 1.3), (300.0, MINUS, 10.5)],
]


@pytest.mark.parametrize("steps", REFUSED_ORDERS)
def test_rail_order_stores_nothing_that_was_not_meant(steps):
    async def main():
        arrives = {"mode": "single-point", "output_function": "NC", "near_mm": 444.0}
        _, unit = await taught("barrel-18-rail", steps, arrives=arrives)
        return unit.memory

    memory = run(main())
    assert (memory.mode, memory.function, memory.near_mm) == (SINGLE, NC, 444.0)


def test_rail_order_forgets_its_first_step_in_time_and_without_power():
    async def main():
        stored = []
        for pause_s, power_cut in ((80.0, False), (95.0, False), (1.0, True)):
            hands = Hands(bench_file("barrel-18-rail"))
            unit = await hands.power_up()
            await hands.clear()
            await hands.contact(PLUS, 1.3)
            await hands.place(300.0)
            if power_cut:
                hands.relay("supply", False)
                await asyncio.sleep(0.5)
                hands.relay("supply", True)
            await asyncio.sleep(pause_s)
            await hands.contact(MINUS, 1.3)
            stored.append(unit.memory.mode)
        return stored

    assert run(main()) == [SINGLE, FULL, FULL]


def test_rail_order_takes_no_teaching_after_its_teach_window_or_before_it_is_available():
    async def main():
        hands = Hands(bench_file("barrel-18-rail"))
        unit = await hands.power_up(wait_s=301.0)
        await hands.clear()
        await hands.contact(PLUS, 1.3)
        await hands.place(300.0)
        await hands.contact(MINUS, 1.3)
        late = unit.memory.mode
        hands.relay("supply", False)
        await hands.clear()
        hands.relay("rail_selector", True)
        hands.relay("teach_contact", True)
        await asyncio.sleep(0.3)
        hands.relay("supply", True)
        await asyncio.sleep(2.0)
        hands.relay("teach_contact", False)
        await hands.place(300.0)
        await hands.contact(MINUS, 1.3)
        return late, unit.memory.mode

    assert run(main()) == (FULL, FULL)


def test_contact_length_stores_by_span():
    async def main():
        seen = []
        hands, unit = await taught("barrel-30-length", [(900.0, MINUS, 3.0)])
        seen.append((unit.memory.mode, unit.memory.function, round(unit.true_operate_mm("far") / 10)))
        for place, rail, seconds in ((2000.0, MINUS, 6.0), (2000.0, PLUS, 6.0), (2000.0, PLUS, 3.0)):
            await at(hands, place)
            await hands.contact(rail, seconds)
            await asyncio.sleep(4.0)
            seen.append((unit.memory.mode, unit.memory.function, round(unit.true_operate_mm("far") / 10)))
        near = round(unit.true_operate_mm("near") / 10)
        await at(hands, CLEAR)
        await hands.contact(MINUS, 3.0)
        seen.append((unit.memory.mode, unit.memory.function, near))
        return seen

    assert run(main()) == [
        (SINGLE, NO, 90),
        (WINDOW, NO, 200),
        (WINDOW, NC, 200),
        (WINDOW, NO, 200),
        (FULL, NO, 90),
    ]


@pytest.mark.parametrize(
    "steps",
    [
        [(900.0, MINUS, 1.9)],
        [(900.0, MINUS, 8.2)],
        [(CLEAR, MINUS, 6.0)],
        [(COVER, MINUS, 3.0)],
        [(900.0, MINUS, 6.0)],
        [(900.0, PLUS, 1.0)],
        [(900.0, PLUS, 9.0)],
    ],
)
def test_contact_length_stores_nothing_outside_its_spans(steps):
    async def main():
        _, unit = await taught("barrel-30-length", steps)
        return unit.memory

    memory = run(main())
    assert (memory.mode, memory.function) == (FULL, NO)


def test_contact_length_refuses_a_window_too_narrow_or_the_wrong_way_round():
    async def main():
        _, unit = await taught("barrel-30-length", [(900.0, MINUS, 3.0), (950.0, MINUS, 6.0)])
        _, other = await taught("barrel-30-length", [(900.0, MINUS, 3.0), (600.0, MINUS, 6.0)])
        return unit.memory.mode, other.memory.mode

    assert run(main()) == (SINGLE, SINGLE)


def test_contact_count_obeys_each_count():
    async def main():
        hands = Hands(bench_file("barrel-12-count"))
        unit = await hands.power_up()
        seen = []
        for place, contacts in (
            (150.0, 1),
            (150.0, 6),
            (90.0, 2),
            (200.0, 3),
            (200.0, 5),
            (None, 4),
            (None, 6),
        ):
            await at(hands, place)
            await count(hands, contacts)
            seen.append((unit.memory.mode, unit.memory.function, round(unit.true_operate_mm("far"))))
            near = round(unit.true_operate_mm("near"))
            if unit.memory.mode is WINDOW:
                assert near == pytest.approx(90, abs=2)
        return seen

    seen = run(main())
    assert [entry[:2] for entry in seen] == [
        (SINGLE, NO),
        (SINGLE, NC),
        (SINGLE, NC),
        (WINDOW, NC),
        (WINDOW, NO),
        (FULL, NO),
        (FULL, NC),
    ]
    assert [entry[2] for entry in seen[:5]] == pytest.approx([150, 150, 150, 200, 200], abs=2)


@pytest.mark.parametrize(
    ("contacts", "seconds", "gap_s", "rail"),
    [
        (7, 0.3, 0.3, MINUS),
        (1, 0.05, 0.3, MINUS),
        (1, 0.9, 0.3, MINUS),
        (5, 0.3, 0.3, PLUS),
        (3, 0.3, 0.3, MINUS),
    ],
)
def test_contact_count_stores_nothing_it_cannot_read(contacts, seconds, gap_s, rail):
    async def main():
        hands = Hands(bench_file("barrel-12-count", arrives={"mode": "full-range", "output_function": "NC"}))
        unit = await hands.power_up()
        await hands.place(150.0)
        await count(hands, contacts, rail, seconds, gap_s)
        return unit.memory

    memory = run(main())
    assert (memory.mode, memory.function) == (FULL, NC)


def test_contact_count_begins_anew_after_a_long_gap():
    async def main():
        hands = Hands(bench_file("barrel-12-count"))
        unit = await hands.power_up()
        await hands.place(150.0)
        await hands.contact(MINUS, 0.3)
        await asyncio.sleep(1.1)
        single = unit.memory.mode
        for _ in range(4):
            await hands.contact(MINUS, 0.3)
            await asyncio.sleep(0.8)
        await asyncio.sleep(4.0)
        return single, unit.memory.mode

    assert run(main()) == (SINGLE, FULL)


def test_contact_count_needs_its_near_end_soon_before_its_far_end():
    async def main():
        hands = Hands(bench_file("barrel-12-count"))
        unit = await hands.power_up()
        await hands.place(90.0)
        await count(hands, 2)
        await hands.place(200.0)
        await asyncio.sleep(95.0)
        await count(hands, 3)
        return unit.memory.mode

    assert run(main()) == FULL


def edges_of_led(hands: Hands):
    """Watch the LED line; returns the list that fills with (time, lit)."""
    seen = []

    class Eye:
        def see(self, ticks_s, level):
            seen.append((round(ticks_s, 4), level))

    eye = Eye()
    pin = hands.bench.pin_factory.pin(hands.nest.led.line)
    pin.when_changed = eye.see
    hands.eye = eye
    return seen


def rate_hz(edges):
    rises = [when for when, level in edges if level]
    return (len(rises) - 1) / (rises[-1] - rises[0])


def test_rail_order_flashes_slowly_while_held_and_a_moment_longer():
    async def main():
        hands = Hands(bench_file("barrel-18-rail"))
        await hands.power_up()
        await hands.clear()
        seen = edges_of_led(hands)
        began_s = hands.loop.time()
        await hands.contact(PLUS, 3.0)
        await asyncio.sleep(3.0)
        return began_s, list(seen), hands.record.contacts[-1]

    began_s, seen, contact = run(main())
    assert rate_hz(seen) == pytest.approx(2.0, abs=0.01)
    assert seen[0][0] == pytest.approx(contact.start_ns / 1e9 + 1.0, abs=0.001)
    assert seen[-1][0] <= contact.end_ns / 1e9 + 0.31
    assert began_s < seen[0][0]


def test_a_refused_step_flashes_fast():
    async def main():
        hands = Hands(bench_file("barrel-18-rail", UnitFault(kind="refuses-teach")))
        unit = await hands.power_up()
        await hands.clear()
        seen = edges_of_led(hands)
        await hands.contact(PLUS, 1.3)
        await asyncio.sleep(3.0)
        return list(seen), unit.led.lit

    seen, lit = run(main())
    assert rate_hz(seen) == pytest.approx(8.0, abs=0.05)
    assert not lit


def test_contact_length_shows_its_spans_and_blinks_its_answer():
    async def main():
        hands = Hands(bench_file("barrel-30-length"))
        await hands.power_up()
        await hands.clear()
        seen = edges_of_led(hands)
        await hands.contact(MINUS, 9.0)
        spans = list(seen)
        await asyncio.sleep(1.0)
        seen.clear()
        await hands.contact(MINUS, 3.0)
        let_go_s = hands.record.contacts[-1].end_ns / 1e9
        await asyncio.sleep(3.0)
        return spans, [edge for edge in seen if edge[0] > let_go_s + 0.01], hands.record.contacts[0]

    spans, answer, first = run(main())
    start_s = first.start_ns / 1e9
    slow = [edge for edge in spans if start_s + 2.01 < edge[0] < start_s + 4.99]
    fast = [edge for edge in spans if start_s + 5.01 < edge[0] < start_s + 7.99]
    assert [level for when, level in spans if when < start_s + 1.9] == [1]
    assert rate_hz(slow) == pytest.approx(2.0, abs=0.01)
    assert rate_hz(fast) == pytest.approx(5.0, abs=0.01)
    assert [level for _, level in answer] == [1, 0, 1, 0]


@pytest.mark.parametrize("contacts", [4, 5, 6])
def test_contact_count_blinks_the_count_back(contacts):
    async def main():
        hands = Hands(bench_file("barrel-12-count"))
        await hands.power_up()
        await hands.clear()
        seen = edges_of_led(hands)
        await count(hands, contacts)
        return [(when, level) for when, level in seen]

    seen = run(main())
    rises = [when for when, level in seen if level][:contacts]
    falls = [when for when, level in seen if not level][:contacts]
    assert len(rises) == contacts
    assert [fall - rise for rise, fall in zip(rises, falls, strict=True)] == pytest.approx(
        [0.2] * contacts, abs=1e-3
    )


def test_a_dark_led_teaches_all_the_same():
    async def main():
        hands, unit = await taught("barrel-18-rail", RAIL_ORDER[1][0], UnitFault(kind="led-dark"))
        seen = edges_of_led(hands)
        await hands.place(200.0)
        await hands.place(700.0)
        return unit.memory.mode, seen

    assert run(main()) == (SINGLE, [])


def test_a_unit_that_stores_wrongly_says_it_stored():
    async def main():
        wrong = UnitFault(kind="stores-wrongly", offset_mm=15.0, inverse=True)
        _, unit = await taught("barrel-18-rail", RAIL_ORDER[1][0], wrong)
        return unit.memory.function, unit.true_operate_mm("far")

    function, operate_mm = run(main())
    assert function is NC
    assert operate_mm == pytest.approx(315.0, abs=2.0)
