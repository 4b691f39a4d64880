"""Headings, pairs and tables on a terminal, as wide as it is and no wider than reads well."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import JustifyMethod
from rich.table import Table
from rich.text import Text

from rig.cli.console import PlainConsole

_GAP = 2
_WIDEST = 120
_NARROWEST = 60


class Page:
    """Prints to standard output. Text from outside is printed as it is: no markup, no highlighting."""

    def __init__(self) -> None:
        self._console = PlainConsole()
        self.width = min(max(self._console.width, _NARROWEST), _WIDEST)

    def say(self, words: str) -> None:
        """A paragraph."""
        for line in words.splitlines():
            self.lines(textwrap.wrap(line, self.width) or [""])

    def heading(self, words: str) -> None:
        """A heading with an empty line above."""
        self._console.print()
        self._console.print(words, style="bold", soft_wrap=True)

    def item(self, words: str) -> None:
        """One of a list, behind a dash."""
        self.lines(textwrap.wrap(words, self.width, initial_indent="- ", subsequent_indent="  "))

    def lines(self, lines: Iterable[Text | str]) -> None:
        """Lines that are laid out already."""
        for line in lines:
            self._console.print(line, soft_wrap=True)

    def pairs(self, rows: Sequence[tuple[str, str]]) -> None:
        """Labels and what is said of each, wrapped behind the label."""
        indent = max((len(label) for label, _ in rows), default=0) + 4
        for label, words in rows:
            self.lines(
                textwrap.wrap(
                    words,
                    self.width,
                    initial_indent=f"  {label:<{indent - 2}}",
                    subsequent_indent=" " * indent,
                    break_on_hyphens=False,
                )
            )

    def table(self, columns: Sequence[str], rows: Iterable[Sequence[Text | str]]) -> None:
        """A table; a column whose name begins with `>` holds figures and is set to the right."""
        table = Table(box=None, pad_edge=False, padding=(0, _GAP, 0, 0), header_style="bold")
        cells = [tuple(row) for row in rows]
        for name, narrowest in zip(columns, self._narrowest(columns, cells), strict=True):
            right = name.startswith(">")
            justify: JustifyMethod = "right" if right else "left"
            words = name.removeprefix(">")
            table.add_column(words, justify=justify, no_wrap=right, overflow="fold", min_width=narrowest)
        for row in cells:
            table.add_row(*row)
        self._console.print_table(table, self.width)

    def _narrowest(self, columns: Sequence[str], rows: Sequence[Sequence[Text | str]]) -> list[int]:
        """How wide each column must be to break no word; where there is no room, the longest words are broken."""
        longest = [
            max(
                cell_len(part)
                for text in texts
                for part in ([text] if name.startswith(">") else text.split(" "))
            )
            for name, texts in (
                (name, [name.removeprefix(">"), *(str(row[place]) for row in rows)])
                for place, name in enumerate(columns)
            )
        ]
        room = self.width - _GAP * len(columns)
        most = max(longest)
        while most > 1 and sum(min(width, most) for width in longest) > room:
            most -= 1
        return [min(width, most) for width in longest]
