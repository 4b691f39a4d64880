"""Standard output for tables and colours, without surprises."""

from __future__ import annotations

from typing import NoReturn

from rich.console import Console


class PlainConsole(Console):
    """Prints text from outside as it is: no markup, no emoji, no highlighting."""

    def __init__(self) -> None:
        super().__init__(highlight=False, markup=False, emoji=False)

    def on_broken_pipe(self) -> NoReturn:
        """Tell that the reader has left; by itself the library would end the program with exit code 1."""
        raise BrokenPipeError
