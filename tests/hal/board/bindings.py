"""The real `gpiod` bindings with the stand-in kernel below them instead of the C library.

Only the four classes of the C extension that talk to the kernel are replaced; names, checks, enums, settings and
events above them stay the package's own. `test_bindings.py` holds the four to the package's stubs.
"""

from __future__ import annotations

import os
import select
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import PurePath
from typing import Any

from gpiod import ChipInfo, EdgeEvent, InfoEvent, LineInfo, _ext
from gpiod.line import Value

opened_by: Callable[[str], tuple[Any, str, Any]]
"""Tells the kernel, the name of the chip and a maker of queues for a path."""


class Queue:
    """Events behind a real file descriptor, no more than `most`: the oldest make room."""

    def __init__(self) -> None:
        self._events: deque[Any] = deque()
        self._read, self._write = os.pipe()

    def fileno(self) -> int:
        return self._read

    def put(self, event: Any, most: int) -> None:
        if len(self._events) >= most:
            self._events.popleft()
        else:
            os.write(self._write, b".")
        self._events.append(event)

    def get(self) -> Any:
        os.read(self._read, 1)
        return self._events.popleft()

    def close(self) -> None:
        os.close(self._read)
        os.close(self._write)


class LineSettings:
    def __init__(
        self,
        direction: int,
        edge_detection: int,
        bias: int,
        drive: int,
        active_low: bool,
        debounce_period: int,
        event_clock: int,
        output_value: int,
    ) -> None:
        assert not active_low, "levels are the copper's here"
        assert event_clock == _ext.CLOCK_MONOTONIC
        assert (drive, debounce_period) == (_ext.DRIVE_PUSH_PULL, 0)
        self.plain = {
            "direction": direction,
            "edge_detection": edge_detection,
            "bias": bias,
            "output_value": output_value,
        }


class LineConfig:
    def __init__(self) -> None:
        self.lines: dict[int, dict[str, int]] = {}

    def add_line_settings(self, offsets: list[int], settings: LineSettings) -> None:
        self.lines |= {offset: dict(settings.plain) for offset in offsets}

    def set_output_values(self, global_output_values: list[Value]) -> None:
        for settings, value in zip(self.lines.values(), global_output_values, strict=True):
            settings["output_value"] = int(bool(value))


class Request:
    def __init__(self, kernel: Any, chip: str, offsets: list[int], number: int, events: Any) -> None:
        self._kernel, self._chip, self._offsets = kernel, chip, offsets
        self._number, self._events = number, events

    def release(self) -> None:
        self._kernel.release(self._number)
        self._events.close()

    def get_values(self, offsets: list[int], values: list[Value]) -> None:
        values[:] = [Value(level) for level in self._kernel.get(self._number, list(offsets))]

    def set_values(self, values: dict[int, Value]) -> None:
        self._kernel.set(self._number, {offset: int(bool(value)) for offset, value in values.items()})

    def reconfigure_lines(self, line_cfg: LineConfig) -> None:
        self._kernel.reconfigure(self._number, line_cfg.lines)

    def read_edge_events(self, max_events: int | None) -> list[EdgeEvent]:
        events = [EdgeEvent(*self._events.get())]
        while len(events) < (max_events or 64) and select.select([self._events], [], [], 0)[0]:
            events.append(EdgeEvent(*self._events.get()))
        return events

    @property
    def chip_name(self) -> str:
        return self._chip

    @property
    def num_lines(self) -> int:
        return len(self._offsets)

    @property
    def offsets(self) -> list[int]:
        return self._offsets

    @property
    def fd(self) -> int:
        return int(self._events.fileno())


class Chip:
    def __init__(self, path: str) -> None:
        self._path = path
        self._kernel, self._name, self._queue = opened_by(path)
        self._news = self._queue()
        self._kernel.info(self._name)

    def get_info(self) -> ChipInfo:
        return ChipInfo(*self._kernel.info(self._name))

    def line_offset_from_id(self, id: str) -> int:  # noqa: A002  # the package's own name
        return int(self._kernel.number_of(self._name, id))

    def get_line_info(self, offset: int, watch: bool) -> LineInfo:
        if watch:
            return LineInfo(*self._kernel.watch(self._name, offset, self._news))
        return LineInfo(*self._kernel.line_info(self._name, offset))

    def get_line_name(self, offset: int) -> str | None:
        return self.get_line_info(offset, False).name or None

    def request_lines(
        self, line_cfg: LineConfig, consumer: str | None, event_buffer_size: int | None
    ) -> Request:
        events = self._queue()
        try:
            number = self._kernel.request(
                self._name, line_cfg.lines, consumer or "", event_buffer_size or 0, events
            )
        except OSError:
            events.close()
            raise
        return Request(self._kernel, self._name, list(line_cfg.lines), number, events)

    def read_info_event(self) -> InfoEvent:
        kind, stamp_ns, info = self._news.get()
        return InfoEvent(kind, stamp_ns, LineInfo(*info))

    def close(self) -> None:
        self._kernel.unwatch(self._news)
        self._news.close()

    def unwatch_line_info(self, line: int) -> None:
        raise NotImplementedError

    @property
    def path(self) -> str:
        return self._path

    @property
    def fd(self) -> int:
        return int(self._news.fileno())


REPLACED = (Chip, LineConfig, LineSettings, Request)


def put_below_the_bindings(opener: Callable[[str], tuple[Any, str, Any]]) -> None:
    """Let every chip be opened with `opener` in this process from now on."""
    global opened_by
    opened_by = opener
    for replacement in REPLACED:
        setattr(_ext, replacement.__name__, replacement)


@contextmanager
def below_the_bindings(kernel: Any) -> Iterator[None]:
    """Let the kernel in this process be the one that the bindings open."""
    kept = {one.__name__: getattr(_ext, one.__name__) for one in REPLACED}
    put_below_the_bindings(lambda path: (kernel, PurePath(path).name, Queue))
    try:
        yield
    finally:
        for name, original in kept.items():
            setattr(_ext, name, original)
