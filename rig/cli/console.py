"""Standard output for tables and colours, without surprises."""

from __future__ import annotations

from typing import NoReturn

from rich.console import Console
from rich.table import Table


class PlainConsole(Console):
    """Prints text from outside as it is: no markup, no emoji, no highlighting."""

    def __init__(self) -> None:
        super().__init__(highlight=False, markup=False, emoji=False)

    def print_table(self, table: Table, width: int | None = None) -> None:
        """Print a table without blanks at the ends of its lines."""
        with self.capture() as drawn:
            self.print(table, width=width)
        # Straight out: what is drawn already must not be laid out once more.
        print("\n".join(line.rstrip() for line in drawn.get().splitlines()))

    def on_broken_pipe(self) -> NoReturn:
        """Tell that the reader has left; by itself the library would end the program with exit code 1."""
        raise BrokenPipeError
