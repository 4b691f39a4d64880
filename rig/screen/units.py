"""The units of an order: search, filter, and everything that the record says of one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rig.events import (
    EdgeMeasured,
    OrderInputs,
    RequirementJudged,
    Stamped,
    UnitStarted,
    Verdict,
)
from rig.journal import JournalError
from rig.screen.listing import ListScreen, Row
from rig.screen.record import recorded
from rig.screen.view.instruction import MARKS, VERDICT_ROLES
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.ruler import Marks, close_ruler, ruler
from rig.screen.view.standing import UnitStanding
from rig.screen.view.told import told
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
        everywhere = self.bench.everywhere()
        return {"enter": "details", "arrows": "choose", "aside": "filter", **everywhere}

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
        return _verdict_lines(key, self.work.board.standing.units[key], self.words, width)[:rows]

    def take(self, key: str) -> None:
        """Show all that is known of a unit."""
        self.bench.show(UnitScreen(self.work, key))


class UnitScreen(ListScreen):
    """One unit: verdict, drawing, and its events, the last attempt first in view."""

    LIST_SHARE = 0.55

    def __init__(self, work: OrderWork, serial: str) -> None:
        super().__init__()
        self.work = work
        self.serial = serial
        self._events = _events_of(work, serial)

    def heading(self) -> Line:
        """The unit."""
        return line(Span(f" {self.words('unit.title', serial=self.serial)}", Role.STRONG))

    def commands(self) -> Mapping[str, str]:
        """The keys of a list that only shows."""
        return {"arrows": "choose", **self.bench.everywhere()}

    def rows(self) -> Sequence[Row]:
        """Every event, with its time since the unit was put in."""
        return list(self._rows())

    def _rows(self) -> Iterator[Row]:
        if not self._events:
            yield Row("", line(Span(f" {self.words('unit.nothing')}", Role.DIM)))
        begun_s = self._events[0].at_s if self._events else 0.0
        for number, stamped in enumerate(self._events):
            if isinstance(stamped.event, UnitStarted):
                begun_s = stamped.at_s
                yield Row("", line(Span(f" {stamped.utc[:19].replace('T', ' ')} UTC", Role.DIM)))
            text, role = told(stamped.event, self.words)
            if text:
                time = self.words.seconds(stamped.at_s - begun_s)
                yield Row(f"{number}", line(Span(f"{time:>8}  ", Role.DIM), Span(text, role)))

    def side(self, _: str, width: int, rows: int, /) -> Sequence[Line]:
        """Verdict, why, and the drawing with what was measured."""
        board, setup = self.work.board, self.work.setup
        lines = _verdict_lines(self.serial, board.standing.units[self.serial], self.words, width)
        lines += [line(), *_why(self._events, self.words, width), line()]
        edges = tuple(one.event for one in self._events if isinstance(one.event, EdgeMeasured))
        lines += ruler(board.job.plan, setup.sensor_type, self.words, width - 1, Marks(edges=edges[-2:]))
        lines += [line(), *close_ruler(board.job.plan, self.words, width - 1, Marks(edges=edges[-2:]))]
        return lines[:rows]


def _events_of(work: OrderWork, serial: str) -> list[Stamped]:
    try:
        found = recorded(work.setup.journal, order=work.setup.job.order.number, serial=serial)
    except JournalError:
        return []
    return [one for one in found if _shown(one)]


def _shown(stamped: Stamped) -> bool:
    return not isinstance(stamped.event, OrderInputs)


def _unit_line(serial: str, unit: UnitStanding, words: Words) -> Line:
    if unit.verdict is None:
        state = Span(words("unit.in-work" if unit.in_nest else "unit.open"), Role.DIM)
    elif unit.interrupted:
        state = Span(words("reason.interrupted"), Role.WARN)
    else:
        role = VERDICT_ROLES[unit.verdict]
        state = Span(f"{MARKS[unit.verdict]} {words(f'verdict.{unit.verdict}')}", role)
    return line(f"{serial:<16} ", state)


def _verdict_lines(serial: str, unit: UnitStanding, words: Words, width: int) -> list[Line]:
    lines = [line(Span(serial, Role.STRONG))]
    if unit.verdict is None:
        return [*lines, line(words("unit.in-work" if unit.in_nest else "unit.open"))]
    role = VERDICT_ROLES[unit.verdict]
    lines.append(line(Span(f"{MARKS[unit.verdict]} {words(f'verdict.{unit.verdict}')}", role)))
    lines += [line(text) for text in wrapped(words.of("reason", unit.reason), width - 1, 2)]
    if unit.verdict is not Verdict.GOOD:
        lines += [line(text) for text in wrapped(unit.words, width - 1, 4)]
    lines.append(line(Span(f"{unit.utc[:19].replace('T', ' ')} UTC", Role.DIM)))
    return lines


def _why(events: Sequence[Stamped], words: Words, width: int) -> list[Line]:
    """The requirements that were judged at the last attempt, with what they were judged by."""
    last = max((i for i, one in enumerate(events) if isinstance(one.event, UnitStarted)), default=0)
    lines: list[Line] = []
    for stamped in events[last:]:
        if isinstance(stamped.event, RequirementJudged):
            role = VERDICT_ROLES[stamped.event.verdict]
            text = f"{MARKS[stamped.event.verdict]} {stamped.event.requirement}: {stamped.event.words}"
            lines += [line(Span(row, role)) for row in wrapped(text, width - 1, 2)]
    return [line(Span(words("unit.why"), Role.DIM)), *lines] if lines else []
