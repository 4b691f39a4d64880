"""Exit codes, the one way in which a command gives up, and how it speaks."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import IntEnum


class Exit(IntEnum):
    """How a command ended."""

    DONE = 0
    NOT_ALL_GOOD = 1
    BAD_INPUT = 2
    BENCH_FAULT = 3
    PROGRAM_FAULT = 70  # EX_SOFTWARE of sysexits.h
    HANGUP = 129
    INTERRUPTED = 130
    TERMINATED = 143


class GiveUp(Exception):
    """Ends a command with words for the person and an exit code."""

    def __init__(self, code: Exit, words: str) -> None:
        super().__init__(words)
        self.code = code


def narrate(words: str) -> None:
    """Say something that is not data: to standard error, never mixed into what a program reads.

    On a terminal no word is cut in two; in a file each line stays whole. Whether anybody still listens must
    not decide what becomes of the work.
    """
    with suppress(OSError):
        if sys.stderr.isatty():
            # Names and paths have hyphens and may be long, but have to be copied whole.
            wrap = textwrap.TextWrapper(terminal_width(), break_on_hyphens=False, break_long_words=False)
            words = "\n".join(wrap.fill(line) for line in words.splitlines())
        print(words, file=sys.stderr, flush=True)


def terminal_width() -> int:
    """How many characters fit into a line of the terminal on standard error, without its last column."""
    # A terminal that nobody has told its size says 0.
    return max((os.get_terminal_size(sys.stderr.fileno()).columns or 80) - 1, 20)


@contextmanager
def reader_may_leave() -> Iterator[None]:
    """Print data for a reader who may have seen enough (`teachrig ... | head`)."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        # What is still in the buffer would be written, and fail again, when the program ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
