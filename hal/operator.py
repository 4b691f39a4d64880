"""The person at the bench, as far as the program can ask for something and be told 'done', or a number."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from hal.errors import BenchError, NoAnswer
from wiring.saying import say


class RequestKind(StrEnum):
    """What the person is asked to do."""

    FIT_UNIT = "fit-unit"
    PLACE_TARGET = "place-target"
    CLEAR_BEAM = "clear-beam"
    COVER_FACE = "cover-face"
    REMOVE_UNIT = "remove-unit"
    CONFIRM = "confirm"
    SLIDE_IN = "slide-in"
    SLIDE_OUT = "slide-out"
    READ_SCALE = "read-scale"
    PRESS_STOP = "press-stop"
    LIGHT_PICKUP = "light-pickup"
    DARKEN_PICKUP = "darken-pickup"
    MEASURE_DISTANCE = "measure-distance"

    @property
    def wants_number(self) -> bool:
        """Whether the answer is a number, not 'done'."""
        return self in (RequestKind.READ_SCALE, RequestKind.MEASURE_DISTANCE)


@dataclass(frozen=True, slots=True)
class NumberRange:
    """Between which numbers an answer makes sense."""

    low: float
    high: float
    unit: str = "mm"

    def holds(self, number: float) -> bool:
        """Whether the number lies within; not-a-number never does."""
        return self.low <= number <= self.high

    def __str__(self) -> str:
        return f"{self.low:.4g} to {self.high:.4g} {self.unit}"


@dataclass(frozen=True, slots=True)
class Request:
    """One thing the person is asked for, in words, with the values that a screen may draw.

    Where a number is wanted, `number` says between which ones. A slide ends at `position_mm` at the latest.
    """

    kind: RequestKind
    text: str
    position_mm: float | None = None
    slot: int | None = None
    serial: str | None = None
    number: NumberRange | None = None


def _once_more(number: float, request: Request) -> str:
    assert request.number is not None, "a number was asked for"
    unit = request.number.unit
    return say("{number:g} {unit} cannot be: {text}", number=number, unit=unit, text=request.text)


_MOST_NUMBERS = 5
"""Whoever types so many numbers that make no sense reads another scale, or none."""


class Operator:
    """Asks the person for one thing at a time and waits for 'done' (foot switch, key or screen), or for a number.

    All of it belongs to the engine's thread; another thread sends `done` and `number` through the loop.
    """

    def __init__(self) -> None:
        self.on_request: list[Callable[[Request], None]] = []
        self.request: Request | None = None
        self._answer: asyncio.Future[float | None] | None = None
        self._turn = asyncio.Lock()

    async def ask(self, request: Request, *, timeout_s: float | None = None) -> None:
        """Show `request` and wait for 'done'; requests of several nests take turns.

        Raises `NoAnswer` after `timeout_s` seconds, and whatever `give_up` was told.
        """
        async with self._turn:
            await self._answered(request, timeout_s)

    async def ask_number(self, request: Request, *, timeout_s: float | None = None) -> float:
        """Show `request` and wait for a number; one outside `request.number` is asked for again, saying so.

        Raises `NoAnswer` after `timeout_s` seconds without any, or after five that make no sense.
        """
        wanted = request.number
        if wanted is None:
            raise ValueError("a request for a number says between which ones")
        asked = request
        async with self._turn:
            for _ in range(_MOST_NUMBERS):
                number = await self._answered(asked, timeout_s)
                assert number is not None, "only a number answers a request for one"
                if wanted.holds(number):
                    return number
                asked = replace(request, text=_once_more(number, request))
        raise NoAnswer(f"{_MOST_NUMBERS} numbers, none of them {wanted}, to: {request.text}")

    def done(self) -> None:
        """Tell that the request was carried out; ignored when nothing was asked, or a number was."""
        if self.request is not None and self.request.number is None:
            self._take(None)

    def number(self, number: float) -> None:
        """Tell the number that was asked for; ignored when none was."""
        if self.request is not None and self.request.number is not None:
            self._take(number)

    def give_up(self, error: BenchError) -> None:
        """End the waiting with `error`, as after a trip."""
        if self._answer is not None and not self._answer.done():
            self._answer.set_exception(error)

    async def _answered(self, request: Request, timeout_s: float | None) -> float | None:
        self._answer = answer = asyncio.get_running_loop().create_future()
        self.request = request
        try:
            for show in self.on_request:
                show(request)
            await asyncio.wait((answer,), timeout=timeout_s)
        finally:
            self.request = self._answer = None
        if not answer.done():
            raise NoAnswer(f"no answer within {timeout_s:g} s to: {request.text}")
        number: float | None = answer.result()
        return number

    def _take(self, answer: float | None) -> None:
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(answer)
