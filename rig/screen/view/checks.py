"""A self-check as the screen shows it: each check with what was measured, how it came out, and what to look at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from hal.operator import RequestKind
from rig.events import Asked, BenchReset, BenchTripped, PartChecked, PartMeasured, SelfCheckEnded, Stamped
from rig.screen.view.lines import Line, Role, Span, beside, cut, line, wrapped
from rig.screen.view.wording import Words
from rig.selfcheck.checks import Check, Outcome

MARKS = {
    Outcome.PASSED: "+",
    Outcome.WORN: "!",
    Outcome.FAILED: "x",
    Outcome.NOT_DONE: "?",
    Outcome.NOT_FITTED: "-",
}
ROLES = {
    Outcome.PASSED: Role.GOOD,
    Outcome.WORN: Role.WARN,
    Outcome.FAILED: Role.BAD,
    Outcome.NOT_DONE: Role.WARN,
    Outcome.NOT_FITTED: Role.DIM,
}
_WANT_DOING = (Outcome.WORN, Outcome.FAILED, Outcome.NOT_DONE, Outcome.NOT_FITTED)
_MOST_LINES = 6


@dataclass(slots=True)
class _Row:
    part: str
    done: str
    figures: list[PartMeasured] = field(default_factory=list)
    found: PartChecked | None = None


class CheckBoard:
    """Folds the events of a self-check; feed it every event in order.

    Attributes:
        request: what the person is asked for.
        tripped: why everything is off, if it is.
        outcome: how it came out as a whole; None until it has ended.

    """

    def __init__(self, checks: Sequence[Check]) -> None:
        self._rows = {one.part: _Row(one.part, one.done) for one in checks}
        self.request: Asked | None = None
        self.tripped: BenchTripped | None = None
        self.outcome: Outcome | None = None

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        event = stamped.event
        self.request = event if isinstance(event, Asked) else None
        match event:
            case PartMeasured():
                self._row(event.part).figures.append(event)
            case PartChecked():
                self._row(event.part, event.done).found = event
            case BenchTripped():
                self.tripped = event
            case BenchReset():
                self.tripped = None
            case SelfCheckEnded():
                self.outcome = Outcome(event.outcome)

    @property
    def wants_number(self) -> bool:
        """Whether the person is asked for a number."""
        return self.request is not None and RequestKind(self.request.request).wants_number

    @property
    def counted(self) -> tuple[int, int]:
        """How many checks are concluded, and how many there are."""
        return sum(row.found is not None for row in self._rows.values()), len(self._rows)

    def lines(self, words: Words, width: int) -> Iterator[tuple[Line, bool]]:
        """Every check in its lines; true for those that matter now: the check in work, at the end the first failed."""
        rows = self._rows.values()
        if self.outcome is None:
            current = next((row for row in rows if row.found is None), None)
        else:
            current = next((row for row in rows if row.found and row.found.outcome == Outcome.FAILED), None)
        for row in rows:
            for one in _lines_of(row, words, width, now=row is current and self.outcome is None):
                yield one, row is current

    def _row(self, part: str, done: str = "") -> _Row:
        return self._rows.setdefault(part, _Row(part, done))


def _lines_of(row: _Row, words: Words, width: int, *, now: bool) -> Iterator[Line]:
    found = row.found
    if found is None:
        mark, role = (">", Role.WISH) if now else (".", Role.DIM)
        yield line(Span(f"{mark} {words.tell(row.part)}", role))
    else:
        outcome = Outcome(found.outcome)
        said = words.of("outcome", outcome.replace(" ", "-"))
        named = line(
            Span(f"{MARKS[outcome]} {cut(words.tell(row.part), width - len(said) - 4)}", ROLES[outcome])
        )
        yield beside(named, line(Span(said, ROLES[outcome])), width)
    if now or row.figures:
        yield from _indented(words.tell(row.done), width, Role.DIM)
    for text in row.figures:
        role = Role.PLAIN if _within(text) else Role.BAD
        yield from _indented(_figure(text, words), width, role)
    if found is not None:
        outcome = Outcome(found.outcome)
        if outcome is not Outcome.PASSED or not row.figures:
            yield from _indented(words.tell(found.words), width, Role.STRONG)
        if outcome in _WANT_DOING:
            yield from _indented(words.tell(found.check), width, Role.PLAIN)


def _indented(text: str, width: int, role: Role) -> Iterator[Line]:
    for one in wrapped(text, width - 4, _MOST_LINES):
        if one:
            yield line("    ", Span(one, role))


def _within(one: PartMeasured) -> bool:
    return (one.low is None or one.value >= one.low) and (one.high is None or one.value <= one.high)


_SCALES = {"s": (1000.0, "ms"), "A": (1000.0, "mA")}


def _figure(one: PartMeasured, words: Words) -> str:
    """`operate 7.1 ms, allowed up to 12 ms`."""
    scale, unit = _SCALES.get(one.unit, (1.0, one.unit))
    said = f"{words.tell(one.figure)} {words.number(one.value * scale, 1)} {unit}"
    low, high = (None if limit is None else words.short(limit * scale) for limit in (one.low, one.high))
    if low is not None and high is not None:
        return f"{said}, {words('selfcheck.between', low=low, high=high, unit=unit)}"
    if high is not None:
        return f"{said}, {words('selfcheck.most', high=high, unit=unit)}"
    return f"{said}, {words('selfcheck.least', low=low, unit=unit)}" if low is not None else said
