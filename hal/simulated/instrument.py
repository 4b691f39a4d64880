"""What every simulated instrument is to the wire that it hangs on."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Final

from hal.instruments.lines import LineSplitter

Transmit = Callable[[bytes, float], None]
"""Takes bytes and the seconds until the instrument begins to send them."""


class Instrument(ABC):
    """Takes bytes and sends bytes; `transmit` is set by whatever it is plugged into."""

    reply_s: Final = 0.002
    """From the end of a question to the beginning of its answer."""

    def __init__(self) -> None:
        self.transmit: Transmit = lambda _data, _after_s: None

    @abstractmethod
    def receive(self, data: bytes) -> None:
        """Take bytes as they come from the line."""


class LineInstrument(Instrument):
    """Obeys one line at a time."""

    def __init__(self) -> None:
        super().__init__()
        self._splitter = LineSplitter()

    def receive(self, data: bytes) -> None:
        """Take bytes as they come from the line."""
        for line in self._splitter.feed(data):
            self.obey(line.text)

    @abstractmethod
    def obey(self, line: str) -> None:
        """Obey one line."""

    def answer(self, text: str, busy_s: float = 0.0) -> None:
        """Send a line, `busy_s` seconds later than the usual reply."""
        self.transmit(f"{text}\r\n".encode("ascii"), self.reply_s + busy_s)
