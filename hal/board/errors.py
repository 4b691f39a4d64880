"""What can be wrong with a board, and what the person should do about it."""

from __future__ import annotations

import errno
import os

from hal.errors import BenchError


class BoardMissing(BenchError, OSError):
    """This machine has no GPIO that the program can drive, or not the lines that the rig profile names."""

    check = (
        "Run on a board with a 40-pin header, with its GPIO library installed and your user in the group that "
        "owns it; or name the simulated bench with --rig simulated."
    )


class LinesMissing(BoardMissing):
    """The board has GPIO, but not the lines that the rig profile names."""

    check = (
        "Compare the rig profile with the board (teachrig rig lists its chips): [gpio] says on which chip the lines "
        "are, and what this board calls them."
    )


def os_words(fault: OSError) -> str:
    """What the operating system says."""
    if fault.errno == errno.EPERM:
        return "not permitted"
    return os.strerror(fault.errno) if fault.errno is not None else str(fault)
