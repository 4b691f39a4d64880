"""Exit codes and the one way in which a command gives up."""

from __future__ import annotations

import sys
from enum import IntEnum


class Exit(IntEnum):
    """How a command ended."""

    DONE = 0
    NOT_ALL_GOOD = 1
    BAD_INPUT = 2
    BENCH_FAULT = 3
    HANGUP = 129
    INTERRUPTED = 130
    TERMINATED = 143


class GiveUp(Exception):
    """Ends a command with words for the person and an exit code."""

    def __init__(self, code: Exit, words: str) -> None:
        super().__init__(words)
        self.code = code


def narrate(words: str) -> None:
    """Say something that is not data: to standard error, never mixed into what a program reads."""
    print(words, file=sys.stderr, flush=True)
