"""Exit codes, the one way in which a command gives up, and how it speaks."""

from __future__ import annotations

import errno
import os
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from enum import IntEnum
from io import TextIOWrapper
from typing import TextIO


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


_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


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
    try:
        if sys.stderr.isatty():
            # Names and paths have hyphens and may be long, but have to be copied whole.
            wrap = textwrap.TextWrapper(terminal_width(), break_on_hyphens=False, break_long_words=False)
            words = "\n".join(wrap.fill(line) for line in words.splitlines())
        print(words, file=sys.stderr, flush=True)
    except OSError:
        drop(sys.stderr)


def repaint(text: str) -> None:
    """Put a text in the place of the terminal's last line, cut off where the line ends."""
    try:
        sys.stderr.write(f"\r\x1b[2K{text[: terminal_width()]}")
        sys.stderr.flush()
    except OSError:
        drop(sys.stderr)


def terminal_width() -> int:
    """How many characters fit into a line of the terminal on standard error, without its last column."""
    # A terminal that nobody has told its size says 0.
    return max((os.get_terminal_size(sys.stderr.fileno()).columns or 80) - 1, 20)


@contextmanager
def reader_may_leave(*, only_printing: bool = True) -> Iterator[None]:
    """Print data for a reader who may have seen enough (`teachrig ... | head`), or whose terminal may be gone.

    Where more than printing is done in here, an error of input or output may be about something else.

    Raises:
        GiveUp: when there is no room for the data.

    """
    try:
        yield
        sys.stdout.flush()
    except OSError as failure:
        gone = isinstance(failure, BrokenPipeError) or (only_printing and failure.errno == errno.EIO)
        if not gone and failure.errno not in _NO_ROOM:
            raise
        drop(sys.stdout)
        if not gone:
            words = f"the output cannot be written ({failure.strerror}); make room, or write it elsewhere"
            raise GiveUp(Exit.BENCH_FAULT, words) from None


def show_what_can_be_shown() -> None:
    """Let a terminal or locale that lacks a letter show a question mark in its place; no work may end for that."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def drop(stream: TextIO) -> None:
    """Let what is still in the buffer go nowhere: it would fail again, and change the exit code, at the end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
