"""The units of an order: search and filter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rig.screen.listing import ListScreen, Row
from rig.screen.unit import UnitScreen, verdict_lines
from rig.screen.view.instruction import MARKS, VERDICT_ROLES
from rig.screen.view.lines import Line, Role, Span, line
from rig.screen.view.standing import UnitStanding
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork

_FILTERS = ("all", "good", "bad", "undecided", "open")


class UnitsScreen(ListScreen):
    """All units of the order in hand."""

    LIST_SHARE = 0.45

    def __init__(self, work: OrderWork) -> None:
        super().__init__()
        self.work = work
        self._filter = _FILTERS[0]

    def heading(self) -> Line:
        """The order, and which units are listed."""
        number = self.work.setup.job.order.number
        listed = self.words(f"units.{self._filter}")
        return line(Span(f" {self.words('units.title', order=number)}", Role.STRONG), f"   {listed}")

    def commands(self) -> Mapping[str, str]:
        """The keys of a list, and the filter."""
        details = {"enter": "details"} if self.chosen else {}
        return {**details, **self.choosing(), "aside": "filter", **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Change the filter, or show a unit."""
        if name == "aside":
            self._filter = _FILTERS[(_FILTERS.index(self._filter) + 1) % len(_FILTERS)]
            self.look_again()
        else:
            super().do(name)

    def rows(self) -> Sequence[Row]:
        """The units that pass the filter."""
        units = self.work.board.standing.units.items()
        return [
            Row(serial, _unit_line(serial, unit, self.words)) for serial, unit in units if self._passes(unit)
        ]

    def _passes(self, unit: UnitStanding) -> bool:
        return self._filter == "all" or (
            unit.open if self._filter == "open" else unit.verdict == self._filter
        )

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """The verdict and its reason."""
        return verdict_lines(key, self.work.board.standing.units[key], self.words, width)[:rows]

    def take(self, key: str) -> None:
        """Show all that is known of a unit."""
        self.bench.push_screen(UnitScreen(self.work, key))


def _unit_line(serial: str, unit: UnitStanding, words: Words) -> Line:
    if unit.verdict is None:
        state = Span(words("unit.in-work" if unit.in_nest else "unit.open"), Role.DIM)
    elif unit.interrupted:
        state = Span(words("reason.interrupted"), Role.WARN)
    else:
        role = VERDICT_ROLES[unit.verdict]
        state = Span(f"{MARKS[unit.verdict]} {words(f'verdict.{unit.verdict}')}", role)
    return line(f"{serial:<16} ", state)
