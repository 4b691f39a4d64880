"""The simulated person reads requests as they stand on the screen, acts with hands and foot, and can fail."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from hal.errors import NoAnswer
from hal.operator import Operator, Request, RequestKind
from hal.simulated.benchfile import UnitRow
from hal.simulated.clock import run
from hal.simulated.truths import PersonTruth
from tests.hal.simulated.hands import SIMULATED, BenchFault, Hands, bench_file
from wiring.profile import find_profile, load_profile

SCALE = load_profile(find_profile("single-nest"))
SLOTS = load_profile(Path(__file__).parents[2] / "wiring" / "two-relay.toml")


class Desk:
    """A bench with an operator's screen; 'done' comes from the foot switch if the rig has one."""

    def __init__(self, profile=SCALE, **more):
        rows = more.pop("unit", (UnitRow(kind="barrel-18-rail", count=2),))
        self.hands = Hands(bench_file(unit=rows, **more), profile)
        self.world = self.hands.world
        self.target = self.world.target
        self.operator = Operator()
        self.hands.bench.person.attach(self.operator)
        if profile.foot_switch is not None:
            pin = self.hands.bench.pin_factory.pin(profile.foot_switch.line)
            self.foot = pin
            pin.when_changed = self._foot

    def _foot(self, _ticks_s, level):
        if level == 0:  # the foot switch of the profile is active low
            self.operator.done()

    async def ask(self, kind, *, timeout_s=60.0, text="please", **more):
        began_s = self.hands.loop.time()
        await self.operator.ask(Request(RequestKind(kind), text, **more), timeout_s=timeout_s)
        return self.hands.loop.time() - began_s


def test_units_go_in_and_out_in_the_order_of_the_row_until_there_are_no_more():
    async def main():
        desk = Desk(unit=(UnitRow(kind="barrel-18-rail"), UnitRow(kind="block-rail")))
        nest = desk.world.nests["A"]
        seen = []
        for _ in range(2):
            await desk.ask("fit-unit")
            seen.append(nest.unit.kind.name)
            await desk.ask("remove-unit")
            seen.append(nest.unit)
        with pytest.raises(NoAnswer):
            await desk.ask("fit-unit")
        return seen

    assert run(main()) == ["barrel-18-rail", None, "block-rail", None]


def test_fitting_a_unit_takes_human_time():
    async def main():
        truth = PersonTruth(reaction_s=2.0, fit_s=10.0)
        return await Desk(person=truth).ask("fit-unit")

    assert 10.0 + 1.4 <= run(main()) <= 10.0 + 2.6 + 0.1


def test_the_target_is_carried_where_the_screen_says_with_human_precision():
    async def main():
        desk = Desk(person=PersonTruth(placement_mm=2.0, hand_mm_s=200.0))
        errors, times = [], []
        for step in range(60):
            wanted_mm = 400.0 if step % 2 else 800.0
            times.append(await desk.ask("place-target", position_mm=wanted_mm))
            errors.append(desk.target.true_mm - wanted_mm)
            assert desk.target.in_beam
        return errors, times

    errors, times = run(main())
    assert max(map(abs, errors)) <= 2.0
    assert max(errors) > 1.0
    assert min(errors) < -1.0
    assert min(times[1:]) > 2.0  # 400 mm at 200 mm/s alone


def test_a_target_out_of_the_beam_comes_in_where_it_shall_stand():
    async def main():
        desk, seen = Desk(person=PersonTruth(hand_mm_s=100.0)), []
        for kind, place in (("place-target", {"position_mm": 300.0}), ("clear-beam", {})):
            await desk.ask(kind, **place)
        desk.target.on_change.append(lambda: seen.append((desk.target.in_beam, desk.target.position_mm())))
        await desk.ask("place-target", position_mm=600.0)
        return seen

    seen = run(main())
    assert [at_mm for in_beam, at_mm in seen if in_beam] == [600.0]
    assert (False, 300.0) in seen


def test_clearing_and_covering():
    async def main():
        desk = Desk()
        await desk.ask("fit-unit")
        desk.hands.beat()
        desk.hands.relay("supply", True)
        await asyncio.sleep(0.5)
        unit = desk.world.nests["A"].unit
        await desk.ask("place-target", position_mm=300.0)
        await asyncio.sleep(0.2)
        seen = [(desk.target.in_beam, unit.is_on)]
        await desk.ask("clear-beam")
        await asyncio.sleep(0.2)
        seen.append((desk.target.in_beam, unit.is_on))
        await desk.ask("cover-face")
        await asyncio.sleep(0.2)
        return seen, desk.target.true_mm, unit.read_mm()

    seen, true_mm, reading_mm = run(main())
    assert seen == [(True, True), (False, False)]
    assert true_mm == 0.0
    assert reading_mm < 60.0


def test_a_rig_with_slots_is_answered_by_its_micro_switches():
    async def main():
        desk = Desk(SLOTS)
        pins = [desk.hands.bench.pin_factory.pin(slot.line) for slot in SLOTS.target.slots]
        closed = []
        for slot in SLOTS.target.slots:
            await desk.ask("place-target", position_mm=slot.position_mm, slot=slot.number)
            closed.append([pin.state == 0 for pin in pins])
        await desk.ask("clear-beam")
        closed.append([pin.state == 0 for pin in pins])
        return closed

    assert run(main()) == [[True, False], [False, True], [False, False]]


def test_with_two_nests_the_person_goes_to_the_one_that_is_named():
    async def main():
        desk = Desk(SLOTS)
        await desk.ask("fit-unit", text="put unit 7 into nest right")
        first = [nest.unit is not None for nest in desk.world.nests.values()]
        await desk.ask("fit-unit", text="put the next unit in")
        second = [nest.unit is not None for nest in desk.world.nests.values()]
        await desk.ask("remove-unit", text="take the unit out of nest left")
        return first, second, [nest.unit is not None for nest in desk.world.nests.values()]

    assert run(main()) == ([False, True], [True, True], [False, True])


def test_a_silent_person_does_nothing_and_may_come_back():
    async def main():
        desk = Desk(fault=(BenchFault(kind="person-silent", after_s=10.0, for_s=60.0),))
        await desk.ask("fit-unit")
        await asyncio.sleep(10.0)
        with pytest.raises(NoAnswer):
            await desk.ask("remove-unit", timeout_s=30.0)
        still_there = desk.world.nests["A"].unit is not None
        await asyncio.sleep(30.0)
        await desk.ask("remove-unit")
        return still_there, desk.world.nests["A"].unit

    assert run(main()) == (True, None)


def test_a_foot_that_was_not_noticed_steps_down_again():
    async def main():
        desk, steps = Desk(), []
        answer = desk.foot.when_changed

        def deaf_once(ticks_s, level):
            steps.append(level)
            if steps.count(0) > 1:
                answer(ticks_s, level)

        desk.foot.when_changed = deaf_once
        took_s = await desk.ask("clear-beam")
        await asyncio.sleep(60)
        return took_s, steps.count(0)

    took_s, steps = run(main())
    assert 3.0 < took_s < 6.0
    assert steps == 2  # and never once it was heard


def test_a_foot_never_answers_a_request_that_has_gone():
    async def main():
        desk = Desk(person=PersonTruth(reaction_s=1.0, fit_s=20.0))
        with pytest.raises(NoAnswer):
            await desk.ask("fit-unit", timeout_s=5.0)
        with pytest.raises(NoAnswer):
            await desk.ask("fit-unit", timeout_s=18.0)
        presses = []

        class Ear:
            def hear(self, ticks_s, level):
                presses.append((ticks_s, level))

        ear = Ear()
        desk.foot.when_changed = ear.hear
        await asyncio.sleep(60)
        return presses

    assert run(main()) == []


def test_on_a_wish_to_reset_the_person_pulls_the_stop_button_out():
    async def main():
        desk = Desk()
        desk.world.coils.press_stop(True)
        await desk.ask("confirm")
        return desk.world.coils.stop_pressed

    assert run(main()) is False


def test_a_rig_without_foot_switch_is_answered_by_key():
    async def main():
        profile = SIMULATED.model_copy(update={"foot_switch": None})
        return await Desk(profile).ask("confirm")

    assert run(main()) < 3.0
