"""A simulated instrument on a real pseudo-terminal, in real time: for the wire code that meets the kernel."""

from __future__ import annotations

import asyncio
import os
import tty
from types import TracebackType

from hal.simulated.instrument import Instrument


class PtyPort:
    """A pseudo-terminal; the program opens `name`, whoever plays the instrument has `far_end`."""

    def __init__(self) -> None:
        self.far_end, self._near_end = os.openpty()
        tty.setraw(self._near_end)
        self.name = os.ttyname(self._near_end)
        self._reader: asyncio.AbstractEventLoop | None = None

    def serve(self, instrument: Instrument) -> None:
        """Let the instrument answer from the running loop."""
        loop = self._reader = asyncio.get_running_loop()
        loop.add_reader(self.far_end, lambda: instrument.receive(os.read(self.far_end, 4096)))

        def transmit(data: bytes, after_s: float) -> None:
            loop.call_later(after_s, self._say, data)

        instrument.transmit = transmit

    def unplug(self) -> None:
        """Pull the plug: the near end hangs up. Safe to call twice."""
        if self.far_end < 0:
            return
        if self._reader is not None:
            self._reader.remove_reader(self.far_end)
        for end in (self._near_end, self.far_end):
            os.close(end)
        self.far_end = -1

    def __enter__(self) -> PtyPort:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.unplug()

    def _say(self, data: bytes) -> None:
        if self.far_end >= 0:
            os.write(self.far_end, data)


def on_pty(instrument: Instrument) -> PtyPort:
    """Serve an instrument on a pseudo-terminal from the running loop; use as `with on_pty(x) as port:`."""
    port = PtyPort()
    port.serve(instrument)
    return port
