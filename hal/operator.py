"""The person at the bench, as far as the program can ask for something and be told 'done'."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from hal.errors import BenchError, NoAnswer


class RequestKind(StrEnum):
    """What the person is asked to do."""

    FIT_UNIT = "fit-unit"
    PLACE_TARGET = "place-target"
    CLEAR_BEAM = "clear-beam"
    COVER_FACE = "cover-face"
    REMOVE_UNIT = "remove-unit"
    CONFIRM = "confirm"


@dataclass(frozen=True, slots=True)
class Request:
    """One thing the person is asked for, in words, with the values that a screen may draw."""

    kind: RequestKind
    text: str
    position_mm: float | None = None
    slot: int | None = None
    serial: str | None = None


class Operator:
    """Asks the person for one thing at a time and waits for 'done' (foot switch, key or screen).

    All of it belongs to the engine's thread; another thread sends `done` through the loop.
    """

    def __init__(self) -> None:
        self.on_request: list[Callable[[Request], None]] = []
        self.request: Request | None = None
        self._answer: asyncio.Future[None] | None = None
        self._turn = asyncio.Lock()

    async def ask(self, request: Request, *, timeout_s: float | None = None) -> None:
        """Show `request` and wait for 'done'; requests of several nests take turns.

        Raises `NoAnswer` after `timeout_s` seconds, and whatever `give_up` was told.
        """
        async with self._turn:
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
            answer.result()

    def done(self) -> None:
        """Tell that the request was carried out; ignored when nothing was asked."""
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(None)

    def give_up(self, error: BenchError) -> None:
        """End the waiting with `error`, as after a trip."""
        if self._answer is not None and not self._answer.done():
            self._answer.set_exception(error)
