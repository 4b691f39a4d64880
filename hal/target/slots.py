"""A target that a person puts into numbered slots, each with a micro-switch."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from hal.errors import NoAnswer
from hal.inputs import Input, QuietInput
from hal.operator import Operator, Request, RequestKind
from hal.target.target import PATIENCE_S, OutOfReach, check_reach
from wiring.profile import Slot, TargetProfile
from wiring.saying import say

SLOT_GRAIN_MM = 0.01
"""A position this close to a slot is the slot."""
_MOST_REQUESTS = 10
"""Whoever has said 'done' so often to no effect will not be of help the next time."""


class SlotSwitch:
    """The micro-switch of one slot: the line, and its level behind the bounce filter."""

    def __init__(self, line: Input, level: QuietInput) -> None:
        self._line = line
        self.level = level

    def close(self) -> None:
        """Give the line back."""
        self._line.close()


class SlotTarget:
    """Asks the person for the slot; its micro-switch confirms, and a wrong slot is named.

    `switches` are those of `profile.slots` by number.
    """

    def __init__(
        self, profile: TargetProfile, operator: Operator, switches: Mapping[int, SlotSwitch]
    ) -> None:
        self.reach_mm = (profile.slots[0].position_mm, profile.slots[-1].position_mm)
        self._profile = profile
        self._operator = operator
        self._switches = switches
        self._asked: Request | None = None
        self._covers = False
        for switch in switches.values():
            switch.level.on_change.append(self._switch_changed)

    @property
    def position_mm(self) -> float | None:
        """Where the switches show the target, 0 while it covers the face, None if no slot holds it."""
        if self._covers:
            return 0.0
        held = [slot.position_mm for slot in self._profile.slots if slot.number in self._closed()]
        return held[0] if len(held) == 1 else None

    async def move_to(self, position_mm: float) -> None:
        """Ask for the slot at this position, unless its switch shows the target there already.

        Raises OutOfReach if there is no slot at the position, or NoAnswer.
        """
        slot = self._slot_at(position_mm)
        place = say("slot {number} ({position_mm:g} mm)", number=slot.number, position_mm=slot.position_mm)

        def request(hint: str) -> Request:
            text = say("{hint}Put the target into {place}.", hint=hint, place=place)
            return Request(RequestKind.PLACE_TARGET, text, slot.position_mm, slot.number)

        self._covers = False
        if self._closed() != {slot.number}:
            await self._ask_until({slot.number}, request)

    async def clear(self) -> None:
        """Ask to take the target out of the beam, and out of every slot; raises NoAnswer."""
        self._covers = False
        await self._ask_until(
            set(),
            lambda hint: Request(
                RequestKind.CLEAR_BEAM, say("{hint}Take everything out of the beam.", hint=hint)
            ),
        )

    async def cover(self) -> None:
        """Ask to cover the sensing face; raises NoAnswer."""
        self._covers = False
        request = Request(RequestKind.COVER_FACE, "Hold the target flat against the sensing face.", 0.0)
        await self._operator.ask(request, timeout_s=PATIENCE_S)
        self._covers = True

    def close(self) -> None:
        """Give the lines of the switches back."""
        for switch in self._switches.values():
            switch.close()

    async def _ask_until(self, wanted: set[int], request: Callable[[str], Request]) -> None:
        hint = ""
        for _ in range(_MOST_REQUESTS):
            self._asked = request(hint)
            try:
                await self._operator.ask(self._asked, timeout_s=PATIENCE_S)
            finally:
                self._asked = None
            if (closed := self._closed()) == wanted:
                return
            hint = _what_is_wrong(closed)
        raise NoAnswer(
            say(
                "asked {most_requests} times, and still: {hint}",
                most_requests=_MOST_REQUESTS,
                hint=hint.strip(),
            )
        )

    def _switch_changed(self, active: bool, _at_s: float) -> None:
        # Only our own request: the person may be asked for something else just now.
        if active and self._asked is not None and self._operator.request is self._asked:
            self._operator.done()

    def _closed(self) -> set[int]:
        return {number for number, switch in self._switches.items() if switch.level.active}

    def _slot_at(self, position_mm: float) -> Slot:
        check_reach(self._profile, position_mm)
        nearest = min(self._profile.slots, key=lambda slot: abs(slot.position_mm - position_mm))
        if abs(nearest.position_mm - position_mm) > SLOT_GRAIN_MM:
            raise OutOfReach(
                say(
                    "there is no slot at {position_mm:g} mm; the nearest is slot {number} at "
                    "{nearest_mm:g} mm",
                    position_mm=position_mm,
                    number=nearest.number,
                    nearest_mm=nearest.position_mm,
                )
            )
        return nearest


def _what_is_wrong(closed: set[int]) -> str:
    if not closed:
        return "No slot switch is closed. "
    if len(closed) == 1:
        return say("The target is in slot {closed}. ", closed=min(closed))
    numbers = ", ".join(str(number) for number in sorted(closed))
    return say(
        "The switches of slots {numbers} are closed together; look for a switch that sticks. ",
        numbers=numbers,
    )
