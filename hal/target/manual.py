"""A target that a person moves along a scale."""

from __future__ import annotations

from hal.operator import Operator, Request, RequestKind
from hal.target.target import PATIENCE_S, check_reach, standard_uncertainty_mm
from wiring.profile import TargetProfile


class ManualTarget:
    """Asks the person for every position; their 'done' is all the evidence there is."""

    def __init__(self, profile: TargetProfile, operator: Operator) -> None:
        self.reach_mm = (profile.nearest_mm, profile.farthest_mm)
        self.placement_u_mm = standard_uncertainty_mm(profile)
        self.position_mm: float | None = None
        self._profile = profile
        self._operator = operator

    async def move_to(self, position_mm: float) -> None:
        """Ask for the position; raises OutOfReach or NoAnswer.

        Which way the target comes is said too: past the unit on its way, hysteresis would keep the output on; lifted
        out, the unit would forget it.
        """
        check_reach(self._profile, position_mm)
        text = f"Slide the target along the scale to {position_mm:g} mm."
        if self.position_mm is None:
            text = f"Bring the target into the beam from the side, at {position_mm:g} mm on the scale."
        await self._ask(Request(RequestKind.PLACE_TARGET, text, position_mm=position_mm), position_mm)

    async def clear(self) -> None:
        """Ask to take the target out of the beam; raises NoAnswer."""
        await self._ask(Request(RequestKind.CLEAR_BEAM, "Take everything out of the beam."), None)

    async def cover(self) -> None:
        """Ask to cover the sensing face; raises NoAnswer."""
        request = Request(RequestKind.COVER_FACE, "Hold the target flat against the sensing face.", 0.0)
        await self._ask(request, 0.0)

    def close(self) -> None:
        """Nothing to give back."""

    async def _ask(self, request: Request, then_mm: float | None) -> None:
        self.position_mm = None
        await self._operator.ask(request, timeout_s=PATIENCE_S)
        self.position_mm = then_mm
