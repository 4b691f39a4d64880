"""The watcher: a small process that switches every output off when the engine is gone without a goodbye.

Started by `watching.py` as `python watcher.py HOLDER PATH:NUMBER:SAFE...`, outputs in the order in which they are
to go off. It says `ready` once it watches, and ends at `bye` on its standard input. When that input ends without
it, or a line is let go of, it claims each line at its safe level, lets go and ends. It imports nothing of ours:
it has to stay small. A program that hangs still holds its lines; that is the heartbeat's business.
"""

from __future__ import annotations

import errno
import os
import select
import signal
import sys

import gpiod
from gpiod.line import Direction, Value

_NAME = "teachrig watcher"
_AGAIN_S = 0.002


def main(holder: str, *outputs: str) -> int:
    """Watch until the engine says goodbye, or is gone; returns the exit code."""
    for ends in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(ends, signal.SIG_IGN)  # what ends the engine must not end this first
    lines = [(path, int(number), int(safe)) for path, number, safe in (one.rsplit(":", 2) for one in outputs)]
    chips = {path: gpiod.Chip(path) for path, _, _ in lines}
    for path, number, _ in lines:
        chips[path].watch_line_info(number)
    os.write(1, b"ready\n")
    if _goodbye({chip.fd: chip for chip in chips.values()}):
        return 0
    off = [_switch_off(chips[path], number, safe, holder) for path, number, safe in lines]
    others = f", {len(off) - sum(off)} left to the program that holds them now" if not all(off) else ""
    _tell(f"teachrig: {holder} ended without a goodbye; {sum(off)} of its outputs switched off{others}\n")
    return 0 if all(off) else 1


def _goodbye(chips: dict[int, gpiod.Chip]) -> bool:
    """Wait; true for a goodbye, false when the engine or its lines are gone."""
    while True:
        ready, _, _ = select.select([0, *chips], [], [])
        if 0 in ready:
            return os.read(0, 16).startswith(b"bye")
        for fd in ready:
            if chips[fd].read_info_event().event_type is gpiod.InfoEvent.Type.LINE_RELEASED:
                return False


def _switch_off(chip: gpiod.Chip, number: int, safe: int, holder: str) -> bool:
    """Claim a line at its safe level as soon as the engine has let go of it; false if another program has it."""
    settings = gpiod.LineSettings(direction=Direction.OUTPUT, output_value=Value(safe))
    while True:
        try:
            chip.request_lines({number: settings}, consumer=_NAME).release()
            return True
        except OSError as fault:
            if fault.errno != errno.EBUSY or _taken_by_another(chip, number, holder):
                return False
        select.select([], [], [], _AGAIN_S)


def _taken_by_another(chip: gpiod.Chip, number: int, holder: str) -> bool:
    info = chip.get_line_info(number)
    return info.used and info.consumer != holder


def _tell(words: str) -> None:
    try:
        os.write(2, words.encode())
    except OSError:
        return  # the terminal may be gone with the engine


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
