"""The pins of a real board: a gpiozero pin factory over the kernel's GPIO devices.

    pins = BoardPins(find_places(profile), loop)
    pins.claim({"GPIO16": 0, "GPIO4": 0})
    relay = gpiozero.OutputDevice("GPIO16", pin_factory=pins)

Edges come through the loop's own reader, stamped by the kernel and told in loop time: no thread of its own.
"""

from __future__ import annotations

import asyncio
import select
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import Any

import gpiod
from gpiod.line import Edge
from gpiozero.exc import (
    PinInvalidFunction,
    PinInvalidPin,
    PinSetInput,
)
from gpiozero.pins import BoardInfo, Factory, PinInfo

from hal.board.chips import Place
from hal.board.claims import Claim, claim_input, claim_outputs
from hal.board.errors import os_words
from hal.errors import BenchError
from hal.header import HEADER, board_info
from hal.pin import HeaderPin, level_of, no_level

_EDGES = {"both": Edge.BOTH, "rising": Edge.RISING, "falling": Edge.FALLING, "none": Edge.NONE}
_NS = 1_000_000_000

LostHandler = Callable[[BenchError], None]


class BoardPin(HeaderPin):
    """One line of the board."""

    def __init__(self, pins: BoardPins, info: PinInfo, place: Place) -> None:
        super().__init__(info)
        self.place = place
        self.claim: Claim | None = None
        self.safe: int | None = None
        self._pins = pins

    # What the board does with the line

    def hold(self, claim: Claim, safe: int) -> None:
        """Take over an output that was claimed at its safe level, as one of a group."""
        self.claim, self.safe, self._is_output = claim, safe, True

    def tell(self, ticks_s: float, level: int) -> None:
        """Tell whoever listens of an edge."""
        listener = None if self._listener is None else self._listener()
        if listener is not None:
            listener(ticks_s, level)

    # What gpiozero does with the line

    def close(self) -> None:
        """Let go of the line; one of a group is written to its safe level and let go of with the group."""
        self._listener = None
        if self.safe is not None:
            with suppress(gpiod.RequestReleasedError):
                self._held().write(self.place.number, self.safe)
            return
        if self.claim is not None:
            self._pins.forget(self.claim)
            self.claim.release()
        self.claim, self._is_output, self._pull = None, False, self._info.pull or "floating"

    def output_with_state(self, state: Any) -> None:
        """Make the line an output that starts at `state`, without passing through another level."""
        level = level_of(state)
        if self.claim is not None and self._is_output:
            self.claim.write(self.place.number, level)
            return
        self.close()
        self.claim, self._is_output = claim_outputs({self.place: level})[self.place], True

    def _set_function(self, value: str) -> None:
        if value == "output" and not self._is_output:
            raise PinInvalidFunction(
                f"say at which level {self!r} is to start: an output has no other way here"
            )
        if value not in ("input", "output"):
            raise PinInvalidFunction(f"{value!r} is no function of {self!r}; use input or output")
        if value == "input" and self._is_output and self.safe is not None:
            raise PinInvalidFunction(f"{self!r} is an output of this rig")
        if value == "input" and (self._is_output or self.claim is None):
            self.close()
            self.claim = claim_input(self.place, self._pull)

    def _get_state(self) -> int:
        return self._held().read(self.place.number)

    def _set_state(self, value: Any) -> None:
        if not self._is_output:
            raise PinSetInput(f"cannot set the state of input {self!r}")
        if value not in (0, 1):
            raise no_level(value)
        self._held().write(self.place.number, int(value))

    def _held(self) -> Claim:
        if self.claim is None:
            raise BenchError(f"line {self!r} has been given back")
        return self.claim

    def _set_pull(self, value: str) -> None:
        self._refuse_pull(value)
        self._pull = value
        self._configure()

    def _set_edges(self, value: str) -> None:
        super()._set_edges(value)
        self._configure()

    def _set_when_changed(self, value: Any) -> None:
        super()._set_when_changed(value)
        self._configure()

    def _configure(self) -> None:
        if self.claim is None or self._is_output:
            return
        wanted = _EDGES[self._edges] if self._listener is not None else Edge.NONE
        self.claim.watch(self.place.number, self._pull, wanted)
        if wanted is not Edge.NONE:
            self._pins.listen(self.claim, self)


class BoardPins(Factory):  # type: ignore[misc]  # gpiozero has no types
    """The pin factory to hand to every device: `pin_factory=`.

    `on_lost` is told when a line can no longer be read, as when its chip was unplugged. `goodbye` is called at
    closing, between the safe levels and the letting go; not if a safe level could not be written.
    """

    def __init__(
        self,
        places: Mapping[str, Place],
        loop: asyncio.AbstractEventLoop,
        kernel_time: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self.on_lost: list[LostHandler] = []
        self.goodbye: Callable[[], None] = lambda: None
        self._loop = loop
        self._ahead_s = _ahead_s(loop.time, kernel_time)
        self._board = board_info("board")
        self._pins: list[BoardPin] = []
        self._outputs: list[BoardPin] = []
        self._by_name: dict[object, BoardPin] = {}
        self._listening: dict[int, tuple[Claim, BoardPin]] = {}
        self._ready = select.epoll()
        loop.add_reader(self._ready.fileno(), self._edges_have_come)
        for info in self._board.headers[HEADER].pins.values():
            if info.name in places:
                pin = BoardPin(self, info, places[info.name])
                self._pins.append(pin)
                self._by_name.update((name, pin) for name in info.names)

    def claim(self, safe: Mapping[str, int]) -> None:
        """Claim the outputs of the rig together, each at its safe level; raises as `claim_outputs`.

        They are made safe in this order.
        """
        pins = {self.pin(name): level for name, level in safe.items()}
        claims = claim_outputs({pin.place: level for pin, level in pins.items()})
        for pin, level in pins.items():
            pin.hold(claims[pin.place], level)
        self._outputs = list(pins)

    def make_safe(self) -> None:
        """Write its safe level to every output of the rig; one that fails does not keep the others.

        Raises the first failure.
        """
        failures = []
        for pin in self._outputs:
            try:
                pin.close()
            except (OSError, BenchError) as fault:
                failures.append(fault)
        if failures:
            raise failures[0]

    def close(self) -> None:
        """Write the safe levels, then let go of every line; safe to call twice."""
        try:
            self.make_safe()
            self.goodbye()
        finally:
            for pin in self._pins:
                if pin.claim is not None:
                    pin.claim.release()
                    pin.claim = pin.safe = None
            self._outputs.clear()
            self._listening.clear()
            if not self._ready.closed:
                self._loop.remove_reader(self._ready.fileno())
                self._ready.close()

    def pin(self, name: object) -> BoardPin:
        """Return the line of that name (`"GPIO17"` or `17`); the same object each time."""
        try:
            return self._by_name[name]
        except KeyError:
            raise PinInvalidPin(f"{name} is not a line of this rig") from None

    def ticks(self) -> float:
        """Return the loop's time in seconds."""
        return self._loop.time()

    def ticks_diff(self, later: float, earlier: float) -> float:
        """Return the seconds between two ticks."""
        return later - earlier

    def _get_board_info(self) -> BoardInfo:
        return self._board

    # Edges

    def listen(self, claim: Claim, pin: BoardPin) -> None:
        """Hear of the edges of an input from now on."""
        if claim.fd not in self._listening:
            self._listening[claim.fd] = claim, pin
            self._ready.register(claim.fd, select.EPOLLIN)

    def forget(self, claim: Claim) -> None:
        """Hear no more of an input."""
        with suppress(gpiod.RequestReleasedError):
            if self._listening.pop(claim.fd, None) is not None:
                self._ready.unregister(claim.fd)

    def _edges_have_come(self) -> None:
        # Lines that changed together are told in the order in which the kernel saw them.
        edges = sorted(self._read_all(), key=lambda edge: edge[0])
        for at_ns, pin, level in edges:
            try:
                pin.tell(at_ns / _NS + self._ahead_s, level)
            except Exception as failure:
                words = f"whoever listens to {pin!r} failed"
                self._loop.call_exception_handler({"message": words, "exception": failure})

    def _read_all(self) -> Iterator[tuple[int, BoardPin, int]]:
        for fd, _ in self._ready.poll(0):
            claim, pin = self._listening[fd]
            try:
                events = claim.edges()
            except OSError as fault:
                self._lose(claim, pin, fault)
                continue
            for event in events:
                yield event.timestamp_ns, pin, int(event.event_type is gpiod.EdgeEvent.Type.RISING_EDGE)

    def _lose(self, claim: Claim, pin: BoardPin, fault: OSError) -> None:
        self.forget(claim)
        words = f"GPIO line {pin!r} is lost: {os_words(fault)}"
        self.lose(
            BenchError(words, check="Switch the bench supply off by hand, then look at the board's GPIO.")
        )

    def lose(self, error: BenchError) -> None:
        """Tell that something of the board is lost."""
        for tell in self.on_lost:
            tell(error)


def _ahead_s(loop_time: Callable[[], float], kernel_time: Callable[[], float]) -> float:
    """How far the loop's clock is ahead of the kernel's stamps; they are one clock on an ordinary loop."""
    before_s, kernel_s, after_s = loop_time(), kernel_time(), loop_time()
    return 0.0 if before_s <= kernel_s <= after_s else before_s - kernel_s
