"""A stand-in for the kernel's GPIO devices, for tests on machines that have none.

It models what the program relies on: lines with names and holders, outputs that take their level as they are
claimed, edges with the kernel's time stamps in a queue of bounded size behind a real file descriptor, news of
lines claimed and let go of, and the two kinds of driver: one lets an output fall to an input when its holder is
gone, the other goes on driving it. As in Linux (gpiolib, read in 6.1), the direction that is shown of a line that was
let go of is the old one until it is claimed again. The bindings above it are the real ones (`bindings.py`).
"""

from __future__ import annotations

import errno
import os
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from gpiod import _ext

Settings = Mapping[str, int]
_USUAL_EVENTS = 16
_MOST_EVENTS = 1024
_PULLED = {_ext.BIAS_PULL_UP: 1}


@dataclass
class Line:
    number: int
    name: str
    holder: str | None = None
    request: int | None = None
    is_output: bool = False
    shown_as_output: bool = False
    driven: int = 0
    outside: int | Callable[[], int] | None = None
    bias: int = _ext.BIAS_UNKNOWN
    edges: int = _ext.EDGE_NONE
    watchers: list[Any] = field(default_factory=list)
    seen: int = 0

    @property
    def level(self) -> int:
        if self.is_output:
            return self.driven
        if callable(self.outside):
            return self.outside()
        return _PULLED.get(self.bias, 0) if self.outside is None else self.outside


@dataclass
class Chip:
    label: str
    lines: list[Line]


@dataclass
class Request:
    chip: Chip
    lines: dict[int, Line]
    events: Any
    most: int
    sequence: int = 0


def board_lines(prefix: str = "GPIO", lines: int = 28) -> list[Line]:
    """The lines of a board, each named after its number."""
    return [Line(number, f"{prefix}{number}") for number in range(lines)]


class Kernel:
    """Some GPIO chips; safe to use from any thread.

    `history` lists every change of a line: its name, and the level that it is driven to, or None once it is let
    go of and no longer driven. `on_output` is told the same, with its number.
    """

    def __init__(
        self,
        chips: Mapping[str, Chip] | None = None,
        *,
        keeps_outputs: bool = False,
        clock_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        self.chips = {"gpiochip0": Chip("board-pins", board_lines())} if chips is None else dict(chips)
        self.keeps_outputs = keeps_outputs
        self.history: list[tuple[str, int | None]] = []
        self.on_output: list[Callable[[int, int | None], None]] = []
        self.on_bias: list[Callable[[int, int], None]] = []
        self._clock_ns = clock_ns
        self._requests: dict[int, Request] = {}
        self._numbers = count(1)
        self._lock = threading.RLock()

    # What a test does

    def line(self, name: str) -> Line:
        (line,) = (line for chip in self.chips.values() for line in chip.lines if line.name == name)
        return line

    def drive(self, name: str, level: int | None) -> None:
        """Put an outside level on a line."""
        with self._lock:
            line = self.line(name)
            before = line.level
            line.outside = level
            self._changed(line, before)

    def edge(self, line: Line, level: int, at_ns: int) -> None:
        """Tell of an edge that the copper has made."""
        with self._lock:
            self._edge(line, level, at_ns)

    # What the bindings do: every argument is plain data, so that it can come from another process

    def info(self, chip: str) -> tuple[str, str, int]:
        return chip, self._chip(chip).label, len(self._chip(chip).lines)

    def number_of(self, chip: str, name: str) -> int:
        for line in self._chip(chip).lines:
            if line.name == name:
                return line.number
        raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))

    def line_info(self, chip: str, number: int) -> tuple[Any, ...]:
        return self._info(self._line(chip, number))

    def watch(self, chip: str, number: int, events: Any) -> tuple[Any, ...]:
        with self._lock:
            line = self._line(chip, number)
            if events in line.watchers:
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
            line.watchers.append(events)
            return self._info(line)

    def unwatch(self, events: Any) -> None:
        with self._lock:
            for chip in self.chips.values():
                for line in chip.lines:
                    line.watchers = [one for one in line.watchers if one is not events]

    def request(
        self, chip: str, settings: Mapping[int, Settings], consumer: str, most: int, events: Any
    ) -> int:
        with self._lock:
            lines = {number: self._line(chip, number) for number in settings}
            if any(line.holder is not None for line in lines.values()):
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
            number = next(self._numbers)
            most = min(most or _USUAL_EVENTS * len(lines), _MOST_EVENTS)
            self._requests[number] = Request(self._chip(chip), lines, events, most)
            for line in lines.values():
                line.holder, line.request = consumer[:31] or "?", number
                line.shown_as_output = line.is_output
            self._configure(lines, settings)
            self._news(lines.values(), _ext.INFO_EVENT_TYPE_LINE_REQUESTED)
            return number

    def reconfigure(self, request: int, settings: Mapping[int, Settings]) -> None:
        with self._lock:
            lines = self._requests[request].lines
            self._configure(lines, settings)
            self._news(lines.values(), _ext.INFO_EVENT_TYPE_LINE_CONFIG_CHANGED)

    def get(self, request: int, numbers: Iterable[int]) -> list[int]:
        with self._lock:
            return [self._requests[request].lines[number].level for number in numbers]

    def set(self, request: int, levels: Mapping[int, int]) -> None:
        with self._lock:
            for number, level in levels.items():
                line = self._requests[request].lines[number]
                if not line.is_output:
                    raise OSError(errno.EPERM, os.strerror(errno.EPERM))
                self._drive(line, level)

    def release(self, request: int) -> None:
        with self._lock:
            asked = self._requests.pop(request, None)
            if asked is None:
                return
            for line in asked.lines.values():
                line.holder = line.request = None
                line.edges, line.bias = _ext.EDGE_NONE, _ext.BIAS_UNKNOWN
                if line.is_output and not self.keeps_outputs:
                    line.is_output = False
                    self._note(line, None)
            self._news(asked.lines.values(), _ext.INFO_EVENT_TYPE_LINE_RELEASED)

    # How it does it

    def _chip(self, name: str) -> Chip:
        if name not in self.chips:
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        return self.chips[name]

    def _line(self, chip: str, number: int) -> Line:
        return self._chip(chip).lines[number]

    def _configure(self, lines: Mapping[int, Line], settings: Mapping[int, Settings]) -> None:
        for number, asked in settings.items():
            line, before = lines[number], lines[number].level
            if asked["bias"] != _ext.BIAS_AS_IS:
                line.bias = asked["bias"]
                for tell in self.on_bias:
                    tell(number, line.bias)
            if asked["direction"] == _ext.DIRECTION_OUTPUT:
                line.is_output = line.shown_as_output = True
                self._drive(line, asked["output_value"])
            elif asked["direction"] == _ext.DIRECTION_INPUT:
                line.is_output = line.shown_as_output = False
            self._changed(line, before)
            line.edges = asked["edge_detection"]

    def _drive(self, line: Line, level: int) -> None:
        line.driven = level
        self._note(line, level)

    def _note(self, line: Line, level: int | None) -> None:
        self.history.append((line.name, level))
        for tell in self.on_output:
            tell(line.number, level)

    def _changed(self, line: Line, before: int) -> None:
        if line.level != before:
            self._edge(line, line.level, self._clock_ns())

    def _edge(self, line: Line, level: int, at_ns: int) -> None:
        wanted = {_ext.EDGE_BOTH: (0, 1), _ext.EDGE_RISING: (1,), _ext.EDGE_FALLING: (0,)}
        if line.request is None or level not in wanted.get(line.edges, ()):
            return
        request = self._requests[line.request]
        kind = _ext.EDGE_EVENT_TYPE_RISING if level else _ext.EDGE_EVENT_TYPE_FALLING
        request.sequence += 1
        line.seen += 1
        request.events.put((kind, at_ns, line.number, request.sequence, line.seen), request.most)

    def _news(self, lines: Iterable[Line], kind: int) -> None:
        for line in lines:
            for events in line.watchers:
                events.put((kind, self._clock_ns(), self._info(line)), _MOST_EVENTS)

    def _info(self, line: Line) -> tuple[Any, ...]:
        direction = _ext.DIRECTION_OUTPUT if line.shown_as_output else _ext.DIRECTION_INPUT
        return (
            line.number, line.name or None, line.holder is not None, line.holder, direction, False, line.bias,
            _ext.DRIVE_PUSH_PULL, line.edges, _ext.CLOCK_MONOTONIC, False, 0,
        )  # fmt: skip
