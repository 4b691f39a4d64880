"""Questions and answers by the line, on a wire that may echo, garble, lose or delay them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from hal.errors import InstrumentError
from hal.instruments.foreign import WHO_ARE_YOU, foreign_kind, only_echo
from hal.instruments.wire import Wire
from wiring.saying import say

LONGEST_LINE = 512
"""Characters; more without a line end is noise or the wrong baud rate."""

_WHO_S = 0.5
_EXCHANGED = "Compare the cables with the ports in the rig profile: two may be exchanged."

IsWhole = Callable[[Sequence[str]], bool]
"""Whether the lines received so far, at least one, are the whole answer."""


class Line(NamedTuple):
    """One received line without its end; `clean` is False when it cannot be what the instrument sent."""

    text: str
    clean: bool


class LineSplitter:
    """Cuts what comes in, in whatever pieces, at carriage return or line feed; empty lines are dropped."""

    def __init__(self, longest: int = LONGEST_LINE) -> None:
        self._longest = longest
        self._half = b""
        self._overlong = False

    def feed(self, data: bytes) -> list[Line]:
        """Return the lines that these bytes complete."""
        *whole, half = (self._half + data).replace(b"\r", b"\n").split(b"\n")
        lines = [self._line(raw) for raw in whole if raw]
        # Only the head of an endless line is kept: enough to show, never enough to fill memory.
        self._overlong = self._overlong or len(half) > self._longest
        self._half = half[: self._longest]
        return lines

    def forget(self) -> None:
        """Drop a half line."""
        self._half = b""
        self._overlong = False

    def _line(self, raw: bytes) -> Line:
        too_long = self._overlong or len(raw) > self._longest
        self._overlong = False
        text = raw[: self._longest].decode("ascii", "backslashreplace").strip()
        return Line(text, clean=not too_long and raw.isascii() and text.isprintable())


class Marker(NamedTuple):
    """A harmless question whose answer is like no other, to find the place again after an answer was missed."""

    text: str
    is_whole: IsWhole
    timeout_s: float


class NoReply(InstrumentError):
    """No usable answer to one attempt; the next may bring it."""


@dataclass
class _Question:
    """The question on the wire now, and what has come since."""

    text: str
    is_whole: IsWhole
    answer: asyncio.Future[tuple[str, ...]]
    lines: list[str]


class LineLink:
    """Asks one question at a time on a wire and gives back its own answer, never that of an earlier one.

    `what` names the instrument in error messages. After a missed answer the marker is asked first and
    everything before its answer is thrown away. Lines that come while nothing is asked go to
    `on_unsolicited`.
    """

    def __init__(
        self,
        wire: Wire,
        *,
        what: str,
        marker: Marker,
        on_unsolicited: Callable[[str], None] | None = None,
    ) -> None:
        self.what = what
        self._wire = wire
        self._marker = marker
        self._on_unsolicited = on_unsolicited
        self._splitter = LineSplitter()
        self._turn = asyncio.Lock()
        self._question: _Question | None = None
        self._in_doubt = True  # the instrument may still be answering whoever asked before
        wire.on_lost.append(self._lost)
        wire.set_receiver(self._receive)

    async def ask(
        self, text: str, timeout_s: float, *, is_answer: Callable[[str], bool], attempts: int = 1
    ) -> str:
        """Send one line and return the line that answers it; other lines before it are thrown away.

        More than one attempt only where the instrument may obey twice without harm. Raises InstrumentError
        when the wire is lost (at once) or no usable answer has come in `timeout_s` seconds per attempt.
        """
        lines = await self.exchange(
            text, timeout_s, is_whole=lambda so_far: is_answer(so_far[-1]), attempts=attempts
        )
        return lines[-1]

    async def exchange(
        self, text: str, timeout_s: float, *, is_whole: IsWhole, attempts: int = 1
    ) -> tuple[str, ...]:
        """Like `ask`, for answers of several lines: return all lines that have come until they are whole."""
        async with self._turn:
            while True:
                attempts -= 1
                try:
                    if self._in_doubt:
                        marker = self._marker
                        await self._once(marker.text, marker.timeout_s, marker.is_whole)
                    return await self._once(text, timeout_s, is_whole)
                except NoReply:
                    if attempts <= 0:
                        raise

    async def find(self, attempts: int) -> tuple[str, ...]:
        """Ask the marker of an instrument that nobody has spoken to yet, and return its answer.

        Raises InstrumentError that names another instrument, if one is found in its place.
        """
        marker = self._marker
        try:
            return await self.exchange(
                marker.text, marker.timeout_s, is_whole=marker.is_whole, attempts=attempts
            )
        except NoReply as silence:
            other = await self._who_is_there()
            if other is None:
                raise
            raise InstrumentError(
                say(
                    "{what}: another instrument is on this port, it answers like a {other}",
                    what=self.what,
                    other=other,
                ),
                check=_EXCHANGED,
            ) from silence

    async def _who_is_there(self) -> str | None:
        own = self.what.split(" ", 1)[0]
        async with self._turn:
            for question in WHO_ARE_YOU:
                try:
                    lines = await self._once(
                        question, _WHO_S, lambda lines: foreign_kind(lines, own) is not None
                    )
                except NoReply:
                    continue
                return foreign_kind(lines, own)
        return None

    def tell(self, text: str) -> None:
        """Send one line that brings no answer of its own."""
        self._wire.write(f"{text}\n".encode("ascii"))

    def interject(self, data: bytes) -> None:
        """Send bytes at once, whatever is being asked; whatever they provoke is not taken for an answer."""
        self._in_doubt = True
        self._wire.write(data)

    async def _once(self, text: str, timeout_s: float, is_whole: IsWhole) -> tuple[str, ...]:
        loop = asyncio.get_running_loop()
        self._splitter.forget()
        self.tell(text)
        # Until the answer is here, whatever happens (time-out, cancelling) leaves one on its way.
        self._in_doubt = True
        question = self._question = _Question(text, is_whole, loop.create_future(), [])
        timer = loop.call_later(timeout_s, self._miss, "no answer to {!r} in {:g} s", text, timeout_s)
        try:
            lines = await question.answer
        finally:
            timer.cancel()
        self._in_doubt = False
        return lines

    def _receive(self, data: bytes) -> None:
        for line in self._splitter.feed(data):
            self._take(line)

    def _take(self, line: Line) -> None:
        question = self._question
        if question is None or question.answer.done():
            if line.clean and self._on_unsolicited is not None:
                self._on_unsolicited(line.text)
        elif not line.clean:
            self._miss("garbled answer to {!r}: {!r}", question.text, line.text[:40])
        else:
            question.lines.append(line.text)
            if question.is_whole(question.lines):
                question.answer.set_result(tuple(question.lines))

    def _miss(self, why: str, *facts: object) -> None:
        question = self._question
        if question is not None and not question.answer.done():
            question.answer.set_exception(
                NoReply(
                    say(
                        "{instrument}: {trouble}{question}",
                        instrument=self.what,
                        trouble=why.format(*facts),
                        question=_heard(question),
                    )
                )
            )

    def _lost(self, error: InstrumentError) -> None:
        if self._question is not None and not self._question.answer.done():
            self._question.answer.set_exception(error)


def _heard(question: _Question) -> str:
    if not question.lines:
        return ""
    if only_echo(question.text, question.lines):
        return "; only its echo came back: is anything connected behind the port?"
    return f"; heard {question.lines[-1]!r}"
