"""Who works at a simulated bench: the simulated person moves the target, or the user of the screen does.

Units are always put in and taken out by the user, as on a real bench: that is what Enter says there too.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING

from hal.operator import Operator, Request, RequestKind
from wiring.profile import RigProfile, TargetKind

if TYPE_CHECKING:
    from hal.bench import Bench
    from hal.simulated.bench import SimulatedBench

_UNITS = frozenset({RequestKind.FIT_UNIT, RequestKind.REMOVE_UNIT})
_SLIDES = frozenset({RequestKind.SLIDE_IN, RequestKind.SLIDE_OUT})
_CARRIED_MM_S = 2000.0
_KEYS_MM = {"up": 1.0, "down": -1.0, "pageup": 20.0, "pagedown": -20.0}
# A slow slide keeps below what the profile allows, and the hand stops within what it reckons with.
_SLOWNESS = 0.8


class Hands:
    """The hands at one simulated bench; safe to be used before it is open and after it is closed.

    Args:
        profile: the rig that is simulated.
        at_bench: runs something on the engine's loop; lost where there is none.

    Attributes:
        mine: whether the user moves the target.

    """

    def __init__(self, profile: RigProfile, at_bench: Callable[[Callable[[], object]], None]) -> None:
        self.mine = False
        self._target = profile.target
        self._at_bench = at_bench
        self._simulated: SimulatedBench | None = None
        self._operator: Operator | None = None

    @property
    def can_change(self) -> bool:
        """Whether there is anything to move: a stage moves by itself."""
        return self._target.kind is not TargetKind.STAGE

    @property
    def target_mm(self) -> float | None:
        """What the scale shows beside the target; None while it is out of the beam or the bench is not open."""
        simulated = self._simulated
        if simulated is None or not simulated.world.target.in_beam:
            return None
        return simulated.world.target.shown_mm

    @property
    def in_beam(self) -> bool:
        """Whether the target is in the beam."""
        return self._simulated is not None and self._simulated.world.target.in_beam

    def join(self, simulated: SimulatedBench, bench: Bench) -> None:
        """Come to the bench that was opened."""
        self._simulated, self._operator = simulated, bench.operator
        simulated.person.take_over(self._left_to_the_user)
        simulated.person.attach(bench.operator)
        bench.operator.on_request.append(self._see_request)

    def part(self) -> None:
        """Leave the bench that was closed."""
        self._simulated = self._operator = None

    def change(self) -> None:
        """Let the user move the target, or the simulated person."""
        self.mine = not self.mine
        if (simulated := self._simulated) is not None:
            self._at_bench(lambda: simulated.person.take_over(self._left_to_the_user))

    def does(self, kind: RequestKind) -> bool:
        """Whether it is the user who does what is asked."""
        return kind in self._left_to_the_user

    def finish(self) -> None:
        """Do what is left of a deed of the user, and say that it is done."""
        if (simulated := self._simulated) is not None:
            self._at_bench(simulated.person.finish)

    def move(self, by_mm: float = 0.0, *, to_mm: float | None = None) -> None:
        """Carry the target along the scale, by so much or to a position; as slowly as asked while a slide is."""
        if self._simulated is not None and self.mine:
            plate = self._simulated.world.target
            self._at_bench(lambda: self._carry(plate.position_mm() + by_mm if to_mm is None else to_mm))

    def obey(self, key: str) -> bool:
        """Move by a key, as the library that reads keys calls it; tells whether it is one that moves the target."""
        if key in _KEYS_MM:
            self.move(_KEYS_MM[key])
        elif key == "end":
            self.swing()
        else:
            return False
        return True

    def swing(self) -> None:
        """Take the target out of the beam, or bring it in."""
        if self._simulated is not None and self.mine:
            plate = self._simulated.world.target
            self._at_bench(lambda: plate.put_in_beam(not plate.in_beam))

    def press_button(self) -> None:
        """Press the stop button, or pull it out."""
        if self._simulated is not None:
            coils = self._simulated.world.coils
            self._at_bench(lambda: coils.press_stop(not coils.stop_pressed))

    @property
    def _left_to_the_user(self) -> frozenset[RequestKind]:
        # What a LED shows only the simulated person can see.
        return frozenset(RequestKind) - {RequestKind.CONFIRM} if self.mine else _UNITS

    def _carry(self, there_mm: float) -> None:
        if self._simulated is None or self._operator is None:
            return
        plate, request = self._simulated.world.target, self._operator.request
        there_mm = min(max(there_mm, self._target.nearest_mm), self._target.farthest_mm)
        if request is not None and request.kind in _SLIDES:
            plate.slide(there_mm, _SLOWNESS * self._target.by_hand.slide_mm_s)
        else:
            plate.start_move(there_mm, _CARRIED_MM_S, placement_mm=0.0)

    def _see_request(self, _: Request) -> None:
        """Something else is asked for: a hand that slides stops, as soon as a person can."""
        if self.mine and self._simulated is not None and self._simulated.world.target.moving:
            hand = self._target.by_hand
            stops_s = (hand.stop_least_s + hand.stop_most_s) / 2
            asyncio.get_running_loop().call_later(stops_s, self._simulated.world.target.stop)
