"""The person at the simulated bench, who reads the screen and has two hands and a foot."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Collection

from hal.operator import Operator, Request, RequestKind
from hal.simulated.clock import NS
from hal.simulated.eye import Eye
from hal.simulated.truths import PersonTruth
from hal.simulated.world import World

_GLANCE_S = 0.05
_AGAIN_S = 3.0
_SETTLE_S = 0.3  # from the hand letting go to the foot going down
_STROKE_S = (0.3, 0.8)  # a hand keeps one speed for about so long
_HALT_S = (0.2, 1.0)
_DIVISION_MM = 0.1  # nobody reads a scale more finely


class Person:
    """Does what a request asks for, in human time and with human precision, then says 'done'.

    'Done' is the foot switch where the rig has one, else the key on the screen. A person who cannot do what is
    asked (no unit is left, the LED does not show what it should), or is silent by fault, does not answer.
    What is in `leaves` somebody else at the bench does, who says 'done' through `finish`.
    """

    def __init__(self, world: World, truth: PersonTruth, seed: int) -> None:
        self.leaves: frozenset[RequestKind] = frozenset()
        self._world = world
        self._truth = truth
        self._draw = random.Random(f"{seed}/person")
        self._operator: Operator | None = None
        self._eye: Eye | None = None
        self._sliding: Request | None = None
        self._halting = False
        self._fitted: dict[str | None, str | None] = {}
        self._deeds: dict[RequestKind, Callable[[Request], float | None]] = {
            RequestKind.FIT_UNIT: self._fit,
            RequestKind.REMOVE_UNIT: self._remove,
            RequestKind.PLACE_TARGET: self._place,
            RequestKind.CLEAR_BEAM: self._clear,
            RequestKind.COVER_FACE: self._cover,
            RequestKind.CONFIRM: self._confirm,
            RequestKind.SLIDE_IN: self._slide,
            RequestKind.SLIDE_OUT: self._slide,
            RequestKind.READ_SCALE: self._read_scale,
            RequestKind.PRESS_STOP: self._press_stop,
            RequestKind.LIGHT_PICKUP: lambda request: self._shine(request, True),
            RequestKind.MEASURE_DISTANCE: self._measure_distance,
            RequestKind.DARKEN_PICKUP: lambda request: self._shine(request, False),
        }

    def attach(self, operator: Operator) -> None:
        """Begin to look at this operator's screen."""
        self._operator = operator
        operator.on_request.append(self._read)

    def _read(self, request: Request) -> None:
        with self._world.timeline:
            self._see_stop()
            self._eye = Eye(
                self._world.timeline,
                request.text,
                lit=lambda: self._led_is_lit(request),
                still_asked=lambda: self._still_asked(request),
            )
            self._after(self._truth.reaction_s * self._draw.uniform(0.7, 1.3), lambda: self._do(request))

    def take_over(self, leaves: Collection[RequestKind]) -> None:
        """Do from now on all but `leaves`, beginning with what is asked for now."""
        self.leaves = frozenset(leaves)
        if self._operator is not None and self._operator.request is not None:
            self._read(self._operator.request)

    def finish(self) -> None:
        """Let another person's unit change hands, where that is asked for, and say 'done' for them.

        Nothing is done for them while they are asked for what they left to this person.
        """
        operator = self._operator
        if operator is None or operator.request is None or operator.request.kind not in self.leaves:
            return
        request = operator.request
        if request.kind in (RequestKind.FIT_UNIT, RequestKind.REMOVE_UNIT):
            with self._world.timeline:
                self._deeds[request.kind](request)
        operator.done()

    def _do(self, request: Request) -> None:
        if request.kind in self.leaves or self._world.person_silent or not self._still_asked(request):
            return
        takes_s = self._deeds[request.kind](request)
        if takes_s is not None:
            self._after(takes_s, lambda: self._say_done(request))

    def _still_asked(self, request: Request) -> bool:
        return self._operator is not None and self._operator.request is request

    def _say_done(self, request: Request) -> None:
        # Who falls silent still finishes a deed that was begun; a slide of many strokes is broken off.
        if not self._still_asked(request):
            return
        if self._world.profile.foot_switch is not None:
            self._world.press_foot_switch()
            # Whoever still reads the request then steps on it again: a hurried bench may have missed the first time.
            self._after(_AGAIN_S, lambda: self._say_done(request))
        elif self._operator is not None:
            self._world.timeline.loop.call_soon_threadsafe(self._operator.done)

    def _say_number(self, request: Request, number: float) -> None:
        operator = self._operator
        if operator is not None and self._still_asked(request) and not self._world.person_silent:
            self._world.timeline.loop.call_soon_threadsafe(lambda: operator.number(number))

    # Each deed returns the seconds until it is done, None if it cannot be done.

    def _fit(self, request: Request) -> float | None:
        nest = self._nest_named_in(request)
        # A unit that is set again after a trip is in there still.
        if request.serial is not None and self._fitted.get(nest) == request.serial:
            return self._truth.fit_s
        unit = self._world.fit_next(nest, request.serial)
        self._fitted[nest] = request.serial
        return None if unit is None else self._truth.fit_s

    def _remove(self, request: Request) -> float | None:
        nest = self._nest_named_in(request)
        self._fitted.pop(nest, None)
        self._world.remove(nest)
        return self._truth.fit_s / 2

    def _place(self, request: Request) -> float | None:
        if request.position_mm is None:
            return None
        return self._carry(request.position_mm, self._truth.placement_mm)

    def _cover(self, _: Request) -> float | None:
        return self._carry(0.0, 0.0)

    def _clear(self, _: Request) -> float | None:
        self._world.target.put_in_beam(self._world.target_left_in and self._world.target.in_beam)
        return _SETTLE_S

    def _slide(self, request: Request) -> float | None:
        if request.position_mm is None:
            return None
        self._sliding, self._halting = request, False
        self._stroke(request)
        return None

    def _stroke(self, request: Request) -> None:
        """Push the plate on, at another speed each time, until it is there or the hand is told to stop."""
        if self._sliding is not request or request.position_mm is None:
            return
        target = self._world.target
        left_mm = request.position_mm - target.position_mm()
        if self._world.person_silent:
            self._sliding = None
            return
        if abs(left_mm) < _DIVISION_MM:
            self._sliding = None
            self._after(_SETTLE_S, lambda: self._say_done(request))
            return
        if not self._still_asked(request):
            self._see_stop()
        if self._draw.random() < self._truth.hesitation:
            self._after(self._draw.uniform(*_HALT_S), lambda: self._stroke(request))
            return
        unevenness = self._draw.uniform(-self._truth.unevenness, self._truth.unevenness)
        speed_mm_s = self._truth.slide_mm_s * (1.0 + unevenness)
        stroke_s = min(self._draw.uniform(*_STROKE_S), abs(left_mm) / speed_mm_s)
        stroke_mm = stroke_s * speed_mm_s
        target.slide(target.position_mm() + (stroke_mm if left_mm > 0 else -stroke_mm), speed_mm_s)
        self._after(stroke_s, lambda: self._stroke(request))

    def _see_stop(self) -> None:
        """The request to slide has gone from the screen: the hand stops, somewhat later."""
        request = self._sliding
        if request is not None and not self._halting:
            self._halting = True
            self._after(self._truth.stop_s * self._draw.uniform(0.8, 1.2), lambda: self._halt(request))

    def _halt(self, request: Request) -> None:
        if self._sliding is request:  # a quick hand is at the next slide already
            self._sliding = None
            self._world.target.stop()

    def _read_scale(self, request: Request) -> float | None:
        error_mm = self._draw.uniform(-self._truth.reading_mm, self._truth.reading_mm)
        read_mm = self._world.target.shown_mm + error_mm + self._world.misread_mm
        number = round(read_mm / _DIVISION_MM) * _DIVISION_MM
        self._after(_SETTLE_S, lambda: self._say_number(request, number))
        return None

    def _measure_distance(self, request: Request) -> None:
        error_mm = self._draw.uniform(-self._truth.measuring_mm, self._truth.measuring_mm)
        number = round(self._world.target.true_mm + error_mm, 2)
        self._after(_SETTLE_S, lambda: self._say_number(request, number))

    def _press_stop(self, _: Request) -> float:
        self._world.coils.press_stop(True)
        return self._truth.reaction_s

    def _shine(self, request: Request, lit: bool) -> float:
        nests = self._world.nests
        nests[self._nest_named_in(request) or next(iter(nests))].pick_up.see(lit)
        return _SETTLE_S

    def _confirm(self, request: Request) -> float | None:
        if self._world.coils.stop_pressed:
            self._world.coils.press_stop(False)
        eye = self._eye
        if eye is None or not eye.has_a_sign or eye.sees_it:
            return _SETTLE_S
        if self._still_asked(request):
            self._after(_GLANCE_S, lambda: self._do(request))
        return None

    def _led_is_lit(self, request: Request) -> bool:
        nests = self._world.nests
        unit = nests[self._nest_named_in(request) or next(iter(nests))].unit
        return unit is not None and unit.led.lit

    def _carry(self, to_mm: float, error_mm: float) -> float:
        target, speed_mm_s = self._world.target, self._truth.hand_mm_s
        travel_s = abs(to_mm - target.position_mm()) / speed_mm_s
        target.start_move(to_mm, speed_mm_s, placement_mm=error_mm)
        if not target.in_beam:
            # Carried outside the beam, it comes in from the side: the unit does not see it on its way.
            self._after(travel_s, lambda: target.put_in_beam(True))
        return travel_s + _SETTLE_S

    def _nest_named_in(self, request: Request) -> str | None:
        named = re.search(r"\bnest ([A-Za-z0-9-]+)", request.text)
        return named[1] if named and named[1] in self._world.nests else None

    def _after(self, seconds: float, do: Callable[[], None]) -> None:
        self._world.timeline.after(round(seconds * NS), do)
