"""A target that a person moves along a scale."""

from __future__ import annotations

from hal.operator import NumberRange, Operator, Request, RequestKind
from hal.target.target import PATIENCE_S, check_reach
from wiring.profile import TargetProfile
from wiring.saying import say


class ManualTarget:
    """Asks the person for every position; their 'done' is all the evidence there is."""

    def __init__(self, profile: TargetProfile, operator: Operator) -> None:
        self.reach_mm = (profile.nearest_mm, profile.farthest_mm)
        self.position_mm: float | None = None
        self.hand = profile.by_hand
        self._profile = profile
        self._operator = operator
        self._sliding: Request | None = None

    async def move_to(self, position_mm: float) -> None:
        """Ask for the position; raises OutOfReach or NoAnswer.

        Which way the target comes is said too: past the unit on its way, hysteresis would keep the output on; lifted
        out, the unit would forget it.
        """
        check_reach(self._profile, position_mm)
        text = say("Slide the target along the scale to {position_mm:g} mm.", position_mm=position_mm)
        if self.position_mm is None:
            text = say(
                "Bring the target into the beam from the side, at {position_mm:g} mm on the scale.",
                position_mm=position_mm,
            )
        await self._ask(Request(RequestKind.PLACE_TARGET, text, position_mm=position_mm), position_mm)

    async def clear(self) -> None:
        """Ask to take the target out of the beam; raises NoAnswer."""
        await self._ask(Request(RequestKind.CLEAR_BEAM, "Take everything out of the beam."), None)

    async def cover(self) -> None:
        """Ask to cover the sensing face; raises NoAnswer."""
        request = Request(RequestKind.COVER_FACE, "Hold the target flat against the sensing face.", 0.0)
        await self._ask(request, 0.0)

    async def slide(
        self, to_mm: float, *, towards_face: bool, until_stopped: bool, patience_s: float, hint: str = ""
    ) -> None:
        """Ask for a slow slide to a position, or until the person is told to stop; `hint` goes before the words.

        Returns at 'done' or at `stop_slide`. Raises OutOfReach, or NoAnswer after `patience_s` seconds.
        """
        check_reach(self._profile, to_mm)
        way = "towards the unit" if towards_face else "away from the unit"
        end = (
            say("; stop when told, at {to_mm:.0f} mm at the latest", to_mm=to_mm)
            if until_stopped
            else say(", to {to_mm:.0f} mm", to_mm=to_mm)
        )
        pace = say("no faster than {slide_mm_s:g} mm a second", slide_mm_s=self.hand.slide_mm_s)
        kind = RequestKind.SLIDE_IN if towards_face else RequestKind.SLIDE_OUT
        self.position_mm = None
        self._sliding = Request(
            kind,
            say("{hint}Slide the target slowly {way}{end}: {pace}.", hint=hint, way=way, end=end, pace=pace),
            to_mm,
        )
        try:
            await self._operator.ask(self._sliding, timeout_s=patience_s)
        finally:
            self._sliding = None

    def stop_slide(self) -> None:
        """Take the request to slide off the screen; harmless when there is none."""
        if self._sliding is not None and self._operator.request is self._sliding:
            self._operator.done()

    async def read_scale(self, sensible: NumberRange) -> float:
        """Ask the person to stop, and for the number on the scale; raises NoAnswer."""
        text = "Stop. Leave the target where it stands, read the scale and type the number in mm."
        request = Request(RequestKind.READ_SCALE, text, number=sensible)
        self.position_mm = await self._operator.ask_number(request, timeout_s=PATIENCE_S)
        return self.position_mm

    def close(self) -> None:
        """Nothing to give back."""

    async def _ask(self, request: Request, then_mm: float | None) -> None:
        self.position_mm = None
        await self._operator.ask(request, timeout_s=PATIENCE_S)
        self.position_mm = then_mm
