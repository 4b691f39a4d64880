"""A bar code reader on a serial line: hands over every code that came whole, and nothing else."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Final

from hal.errors import InstrumentError
from hal.instruments.wire import Wire
from wiring.instruments import CodeReaderProfile

LONGEST_CODE: Final = 512
"""Characters; more without an end is noise."""
PAUSE_S: Final = 0.25
"""A code comes in one go: what follows after a longer pause is another one."""

# Of control characters only those that labels are made of (ISO/IEC 15434): group and record separator, end.
_IN_LABELS = frozenset("\x1d\x1e\x04")


class CodeReader:
    """One reader on a wire; `on_code` listeners get each code without its line end.

    A code that began before the cable came loose, holds other control characters or bytes that are no text, or
    never ends, is dropped whole: half a serial may be the serial of another unit.
    """

    def __init__(self, wire: Wire) -> None:
        self.on_code: list[Callable[[str], object]] = []
        self._half = b""
        self._spoilt = False
        self._heard_s = 0.0
        wire.on_lost.append(self._lost)
        wire.set_receiver(self._receive)

    def _receive(self, data: bytes) -> None:
        now_s = asyncio.get_running_loop().time()
        if now_s - self._heard_s > PAUSE_S:
            self._forget()
        self._heard_s = now_s
        *whole, half = (self._half + data).replace(b"\r", b"\n").split(b"\n")
        for code in whole:
            self._take(code)
            self._spoilt = False
        self._spoilt = self._spoilt or len(half) > LONGEST_CODE
        self._half = half[:LONGEST_CODE]

    def _take(self, raw: bytes) -> None:
        try:
            code = raw.decode()
        except UnicodeDecodeError:
            return
        if self._spoilt or len(code) > LONGEST_CODE or not code.strip():
            return
        if all(letter.isprintable() or letter in _IN_LABELS for letter in code):
            for tell in tuple(self.on_code):
                tell(code)

    def _forget(self) -> None:
        self._half, self._spoilt = b"", False

    def _lost(self, _: InstrumentError) -> None:
        self._forget()


def start_code_reader(profile: CodeReaderProfile | None, wires: Mapping[str, Wire]) -> CodeReader | None:
    """Listen to the reader that the rig profile describes; None where none is fitted."""
    return None if profile is None else CodeReader(wires[profile.port])
