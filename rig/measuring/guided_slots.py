"""One edge by hand, from slot to slot: the person puts the target into one after the other until the output changes."""

from __future__ import annotations

from rig.edges.edge import EdgeFigures
from rig.edges.slots import Gap, gap_of, slot_figures
from rig.edges.task import FEWEST_APPROACHES, EdgeTask
from rig.measuring.hands import Hands
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.saying import say

# A noisy unit may switch one slot sooner or later; one that does so by more has changed its mind.
_MOST_GAPS = 2


class EdgeBySlots:
    """One edge on its way to its figures, on a target in slots. Slots are gone through in one direction only."""

    def __init__(self, port: Port, hands: Hands, task: EdgeTask) -> None:
        self._hands = hands
        self._task = task
        self._target = port.setup.target
        places_mm = [slot.position_mm for slot in self._target.slots]
        self._inward_mm = sorted(places_mm, reverse=task.outward > 0)
        self._inwards: list[Gap] = []
        self._outwards: list[Gap] = []

    async def measure(self) -> EdgeFigures:
        """Prove the zone, then go in and out some times; raises NotMeasured."""
        inside_mm = min(self._inward_mm, key=lambda at_mm: abs(at_mm - self._task.inside_mm))
        await self._hands.prove_zone(inside_mm)
        return await self.slide_on(FEWEST_APPROACHES)

    async def slide_on(self, times: int) -> EdgeFigures:
        """Go in and out so many times more; raises NotMeasured."""
        for _ in range(times):
            gap, reached = await self._go_in()
            self._inwards.append(gap)
            self._outwards.append(await self._go_out(reached))
        self._demand_agreement()
        return slot_figures(self._inwards, self._outwards, self._target)

    async def _go_in(self) -> tuple[Gap, int]:
        """From outside to the first slot at which the unit detects; that slot's place in the row too."""
        start = await self._outermost()
        for place in range(start + 1, len(self._inward_mm)):
            if await self._detects(place):
                return self._between(place - 1, place), place
        raise NotMeasured(
            Trouble.BEYOND_REACH,
            say(
                "the unit detects the target in no slot from {inward_mm:g} mm on",
                inward_mm=self._inward_mm[start],
            ),
        )

    async def _outermost(self) -> int:
        """The last slot, coming in, before the edge where it should be; further out if the unit detects there."""
        expected_mm, outward = self._task.expected_mm, self._task.outward
        outside = [
            place
            for place, at_mm in enumerate(self._inward_mm)
            if (at_mm - expected_mm) * outward > self._task.hysteresis_mm
        ]
        for place in reversed(outside):
            if not await self._detects(place):
                return place
            await self._hands.clear()
        raise NotMeasured(
            Trouble.BEYOND_REACH,
            "the unit detects the target in every slot beyond its edge, or there is none",
        )

    async def _go_out(self, reached: int) -> Gap:
        """On from a slot in which the unit detects, out to the first in which it does not."""
        for place in range(reached - 1, -1, -1):
            if not await self._detects(place):
                return self._between(place, place + 1)
        raise NotMeasured(Trouble.BEYOND_REACH, "the unit lets go of the target in no slot")

    async def _detects(self, place: int) -> bool:
        for _ in range(_MOST_GAPS):
            detected = await self._hands.arrive("slot", self._inward_mm[place])
            if detected is not None:
                return detected
        raise NotMeasured(
            Trouble.OUTPUT_CHATTERS,
            say("the output keeps changing at {inward_mm:g} mm", inward_mm=self._inward_mm[place]),
        )

    def _between(self, outer: int, inner: int) -> Gap:
        low_mm, high_mm = sorted((self._inward_mm[outer], self._inward_mm[inner]))
        return Gap(low_mm, high_mm)

    def _demand_agreement(self) -> None:
        for gaps in (self._inwards, self._outwards):
            whole = gap_of(gaps)
            inner_mm = [at_mm for at_mm in self._inward_mm if whole.low_mm < at_mm < whole.high_mm]
            if len(inner_mm) >= _MOST_GAPS:
                raise NotMeasured(
                    Trouble.CHANGES_ITS_MIND,
                    say(
                        "the output changed now here and now there between {low_mm:g} and {high_mm:g} mm",
                        low_mm=whole.low_mm,
                        high_mm=whole.high_mm,
                    ),
                )
