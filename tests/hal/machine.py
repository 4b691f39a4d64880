"""A bench in rough hands: any wish at any moment, one broken relay, a program that stumbles; never a danger.

Everything goes through the public face of the HAL, in time, against simulated physics. What the physics
records, not what the interlock believes, decides.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from contextlib import suppress
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from hal.errors import Refused, TripCause, TripKind, Tripped
from hal.interlock.outputs import OutputId
from hal.interlock.rules import CONTACTS, Condition, Job
from hal.simulated.clock import JumpingLoop
from hal.simulated.record import RailsJoined, SelectorMovedUnderLoad
from tests.hal.rigs import SELECTOR, TWO_RELAY, Rig, rig
from wiring.profile import RigProfile, Topology
from wiring.terms import Rail

LONGEST_S = 0.8
NOTICED_S = 0.3
ASKED = TripCause(TripKind.ASKED, "asked by the test", "go on")
MOSTLY = st.sampled_from([True, True, True, False])
MOMENTS = st.sampled_from([0.0005, 0.004, 0.008, 0.013, 0.02, 0.05, 0.051, 0.1, 0.4, 1.0])


class RoughHands(RuleBasedStateMachine):
    """What may be done to a bench, and what must hold whatever was done."""

    profile: RigProfile = SELECTOR

    def __init__(self) -> None:
        super().__init__()
        self.runner = asyncio.Runner(loop_factory=JumpingLoop)
        self.opened: Rig
        self.wishes: set[asyncio.Task[Any]] = set()
        self.broken = ""
        self.closed_since_s: dict[str, float] = {}
        self.disagrees_since_s: float | None = None

    # -- what is done ---------------------------------------------------------------------------------------------

    @initialize()
    def open(self) -> None:
        async def opening() -> None:
            self._context = rig(self.profile, arm=False)
            self.opened = await self._context.__aenter__()

        self.runner.run(opening())

    @rule()
    def recover(self) -> None:
        """Do what a person does after a trip, and begin to work."""
        self._now(lambda: self.opened.press_stop(False))
        if self.opened.interlock.causes:
            self._now(self.opened.interlock.reset)
        self._do(self.opened.interlock.arm())

    @rule(how=st.sampled_from(["rest", "trip", "stop", "arm", "reset"]))
    def disturb(self, how: str) -> None:
        interlock = self.opened.interlock
        if how == "arm":
            self._do(interlock.arm())
        else:
            acts = {"rest": interlock.rest, "stop": self.opened.press_stop, "reset": interlock.reset}
            self._now(acts.get(how, lambda: interlock.trip(ASKED)))

    @rule(on=st.booleans())
    def supply(self, on: bool) -> None:
        self._wish(self.opened.nest.power_on() if on else self.opened.nest.power_off())

    @rule(rail=st.sampled_from(list(Rail)), release_after_s=st.none() | st.sampled_from([0.02, 0.2]))
    def hold(self, rail: Rail, release_after_s: float | None) -> None:
        hold = self.opened.nest.hold_teach(rail, longest_s=LONGEST_S, release_after_s=release_after_s)
        self._wish(hold)

    @rule(wait_s=MOMENTS)
    def release(self, wait_s: float) -> None:
        self._now(self.opened.nest.release_teach)
        self.wait(wait_s)

    @rule(
        index=st.sampled_from([0, 1, 1, 2, 3]), on=MOSTLY, ended=st.booleans(), wait_s=MOMENTS, go_on=MOSTLY
    )
    def command(self, index: int, on: bool, ended: bool, wait_s: float, go_on: bool) -> None:
        self._command(index, on, ended)
        self.wait(wait_s)
        if go_on:
            self.recover()

    @rule(index=st.integers(0, 1), gap_s=st.sampled_from([0.0, 0.003, 0.005, 0.007]), go_on=MOSTLY)
    def tangle(self, index: int, gap_s: float, go_on: bool) -> None:
        """Switch both relays of the path, one right after the other."""
        self._command(index, True, True)
        self.wait(gap_s)
        self._command(1 - index, True, True)
        self.wait(0.05)
        if go_on:
            self.recover()

    def _command(self, index: int, on: bool, ended: bool) -> None:
        path = self.opened.interlock.guards["A"].path
        job = (path.first.job, path.second.job, Job.SUPPLY, Job.LOAD)[index]
        longest_s = LONGEST_S if job in CONTACTS and ended else None
        self._now(lambda: self.opened.interlock.command(OutputId(job, "A"), on, longest_s=longest_s))

    @rule(seconds=MOMENTS)
    def wait(self, seconds: float) -> None:
        self._do(asyncio.sleep(seconds))

    @rule(seconds=MOMENTS)
    def stumble(self, seconds: float) -> None:
        loop = self.runner.get_loop()
        assert isinstance(loop, JumpingLoop)
        self._now(lambda: loop.block_for(seconds))
        self.wait(0.001)

    @precondition(lambda self: not self.broken)
    @rule(how=st.sampled_from(["welded", "dead", "stuck"]), index=st.integers(0, 1))
    def break_relay(self, how: str, index: int) -> None:
        names = (
            ("rail_selector", "teach_contact")
            if self.profile.nest[0].topology is Topology.SELECTOR
            else ("plus_contact", "minus_contact")
        )
        self.broken = names[index]
        self._now(lambda: self.opened.break_relay(self.broken, **{how: True}))

    # -- what must hold -------------------------------------------------------------------------------------------

    @invariant()
    def rails_are_apart_and_the_selector_moves_unloaded(self) -> None:
        for incident in self._incidents():
            assert not isinstance(incident, RailsJoined), incident
            if isinstance(incident, SelectorMovedUnderLoad):
                # Only behind a contact that no longer opens, when everything drops: off needs no power.
                # Or a selector whose coil dies falls by itself: no command could have kept it.
                assert self.broken in ("teach_contact", "rail_selector"), incident
                assert self.broken == "rail_selector" or not self.opened.relay("rail_selector")._commanded

    @invariant()
    def nothing_is_on_unless_armed(self) -> None:
        if hasattr(self, "opened") and self.opened.interlock.condition is not Condition.ARMED:
            beat = self.profile.coil_supply.heartbeat.line
            on = set(self.opened.outputs_on())
            # Arming beats already.
            assert on <= {beat}, on
            if self.opened.interlock.condition is Condition.TRIPPED:
                assert on == set()

    @invariant()
    def no_sound_contact_stays_closed_for_too_long(self) -> None:
        if not hasattr(self, "opened"):
            return
        now_s = self.opened.loop.time()
        for name in ("teach_contact", "plus_contact", "minus_contact"):
            relay = self.opened.simulated.world.nests["A"].relays.get(name)
            if relay is None or not relay.closed or name == self.broken:
                self.closed_since_s.pop(name, None)
                continue
            since_s = self.closed_since_s.setdefault(name, now_s)
            # A held up loop drops the contact by its heartbeat, at the latest.
            assert now_s - since_s <= LONGEST_S + self.profile.coil_supply.dropout_s, name

    @invariant()
    def work_does_not_go_on_when_contacts_disobey(self) -> None:
        if not hasattr(self, "opened"):
            return
        path = self.opened.interlock.guards["A"].path
        now_s = self.opened.loop.time()
        obeys = all(
            self.opened.relay(relay.job).closed is relay.on
            for relay in (path.first, path.second)
            if relay.job in CONTACTS
        )
        if obeys or self.opened.interlock.condition is not Condition.ARMED:
            self.disagrees_since_s = None
        elif self.disagrees_since_s is None:
            self.disagrees_since_s = now_s
        else:
            assert now_s - self.disagrees_since_s < NOTICED_S

    def teardown(self) -> None:
        if not hasattr(self, "opened"):
            return

        async def close() -> None:
            for wish in self.wishes:
                wish.cancel()
            await asyncio.gather(*self.wishes, return_exceptions=True)
            await self._context.__aexit__(None, None, None)
            assert self.opened.outputs_on() == []

        try:
            self.runner.run(close())
        finally:
            self.runner.close()

    # -- how it is done -------------------------------------------------------------------------------------------

    def _incidents(self) -> list[object]:
        return self.opened.incidents if hasattr(self, "opened") else []

    def _do(self, work: Coroutine[Any, Any, object]) -> None:
        async def doing() -> None:
            with suppress(Refused, Tripped):
                await work

        self.runner.run(doing())

    def _now(self, act: Any) -> None:
        async def acting() -> None:
            act()

        self._do(acting())

    def _wish(self, work: Coroutine[Any, Any, object]) -> None:
        async def wishing() -> None:
            with suppress(Refused, Tripped):
                await work

        async def start() -> None:
            task = asyncio.ensure_future(wishing())
            self.wishes.add(task)
            task.add_done_callback(self.wishes.discard)
            await asyncio.sleep(0)

        self.runner.run(start())


class RoughHandsOnTwoRelays(RoughHands):
    """The same with one relay per rail."""

    profile = TWO_RELAY
