"""The pins of the simulated bench: a gpiozero pin factory whose lines end in physics.

    factory = SimulatedPins(Timeline(loop))
    relay = gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory)

Time is the loop's: `factory.ticks()` is `loop.time()`, and an edge carries the time at which the physics
made it. A line that no device holds is an input; where it drives something, an outside resistor holds it at
the level at which that something is off.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gpiozero.exc import (
    PinInvalidFunction,
    PinInvalidPin,
    PinSetInput,
)
from gpiozero.pins import BoardInfo, Factory, PinInfo

from hal.header import HEADER, board_info
from hal.pin import HeaderPin, level_of, no_level
from hal.simulated.timeline import Timeline

_EDGES = {"both": (True, True), "rising": (False, True), "falling": (True, False), "none": (False, False)}
_PULLED = {"up": 1, "down": 0, "floating": 0}


class SimulatedPin(HeaderPin):
    """One line of the header."""

    def __init__(self, timeline: Timeline, info: PinInfo) -> None:
        super().__init__(info)
        self._timeline = timeline
        self._driven: int | None = None
        self._level = _PULLED[self._pull]
        self._tells = _EDGES["both"]
        self._sink: Callable[[int], None] | None = None
        self._drives = _EDGES["none"]

    # What the physics does with the line

    def drive(self, level: int) -> None:
        """Put an outside level on the line; an input follows it and its listener is told."""
        self._driven = level
        if not self._is_output:
            self._settle(level)

    def connect(self, sink: Callable[[int], None], idle: int, edges: str = "both") -> None:
        """Let the line drive `sink(level)` with its edges; an outside resistor holds it at `idle` while it is an input.

        Edges that drive nothing cost next to nothing.
        """
        self._driven = idle
        self._settle(idle)
        self._sink, self._drives = sink, _EDGES[edges]

    # What gpiozero does with the line

    def close(self) -> None:
        """Let go of the line: it becomes an input, and what it drove falls to its idle level."""
        with self._timeline:
            self._listener = None
            self._is_output = False
            self._pull = self._info.pull or "floating"
            self._settle(self._resting_level())

    def output_with_state(self, state: Any) -> None:
        """Make the line an output that starts at `state`, without passing through another level."""
        with self._timeline:
            self._is_output = True
            self._settle(level_of(state))

    def input_with_pull(self, pull: str) -> None:
        """Make the line an input with a pull resistor."""
        with self._timeline:
            self._is_output = False
            self._set_pull(pull)
            self._settle(self._resting_level())

    def _set_function(self, value: str) -> None:
        if value not in ("input", "output"):
            raise PinInvalidFunction(f"{value!r} is no function of {self!r}; use input or output")
        with self._timeline:
            self._is_output = value == "output"
            if not self._is_output:
                self._settle(self._resting_level())

    def _get_state(self) -> int:
        self._timeline.catch_up()
        return self._level

    def _set_state(self, value: Any) -> None:
        if not self._is_output:
            raise PinSetInput(f"cannot set the state of input {self!r}")
        if value not in (0, 1):
            raise no_level(value)
        if value == self._level:
            return
        if self._drives[value] or self._listener is not None:
            with self._timeline:
                self._settle(int(value))
        else:
            self._level = int(value)

    def _set_pull(self, value: str) -> None:
        self._refuse_pull(value)
        with self._timeline:
            self._pull = value
            self._settle(self._resting_level())

    def _set_edges(self, value: str) -> None:
        super()._set_edges(value)
        self._tells = _EDGES[value]

    def _resting_level(self) -> int:
        return _PULLED[self._pull] if self._driven is None else self._driven

    def _settle(self, level: int) -> None:
        if level == self._level:
            return
        self._level = level
        if self._sink is not None and self._drives[level]:
            self._sink(level)
        if self._listener is not None and self._tells[level]:
            self._timeline.tell(self._tell_listener, level)

    def _tell_listener(self, ticks_s: float, level: int) -> None:
        listener = None if self._listener is None else self._listener()
        if listener is not None:
            listener(ticks_s, level)


class SimulatedPins(Factory):  # type: ignore[misc]  # gpiozero has no types
    """The pin factory to hand to every device: `pin_factory=`."""

    def __init__(self, timeline: Timeline) -> None:
        super().__init__()
        self._timeline = timeline
        self._board = board_info("simulated")
        self._by_name: dict[object, SimulatedPin] = {}
        for info in self._board.headers[HEADER].pins.values():
            pin = SimulatedPin(timeline, info)
            self._by_name.update((name, pin) for name in info.names)

    def close(self) -> None:
        """Let go of every line."""
        for pin in dict.fromkeys(self._by_name.values()):
            pin.close()

    def pin(self, name: object) -> SimulatedPin:
        """Return the line of that name (`"GPIO17"` or `17`); the same object each time."""
        try:
            return self._by_name[name]
        except KeyError:
            raise PinInvalidPin(f"{name} is not a line of the header; use GPIO2 to GPIO27") from None

    def ticks(self) -> float:
        """Return the loop's time in seconds."""
        return self._timeline.loop.time()

    def ticks_diff(self, later: float, earlier: float) -> float:
        """Return seconds from `earlier` to `later`."""
        return later - earlier

    def _get_board_info(self) -> BoardInfo:
        return self._board
