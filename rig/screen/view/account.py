"""The account of one attempt at a unit: verdict and why, what was done and read, the numbers, the rule, the recount."""

from __future__ import annotations

from collections.abc import Iterator

from rig.recount.attempt import Attempt, NotRebuilt
from rig.recount.numbers import numbers_of
from rig.recount.recount import Recount, recount
from rig.recount.row import Part, Row
from rig.recount.rows import rows_of
from rig.recount.why import rule_words, why
from rig.screen.view.instruction import MARKS, VERDICT_ROLES
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.wording import Words
from wiring.saying import said_by

_LONGEST = 40
_INDENT = 10


def account(attempt: Attempt, words: Words, width: int) -> Iterator[Line]:
    """All lines, from the record alone; says aloud where that does not lead to its verdict."""
    again = recount(attempt)
    yield from _verdict(attempt, again, words, width)
    try:
        rows = tuple(rows_of(attempt))
        yield from _rows(rows, words, width)
        yield from _numbers(attempt, words, width)
        yield from _heading(words("account.rule"))
        for sentence in rule_words(attempt.planned.plan):
            yield from _indented(words.tell(sentence), width, 1)
    except NotRebuilt as gap:
        yield line()
        yield from _indented(words.tell(said_by(gap)), width, 0)


def _verdict(attempt: Attempt, again: Recount, words: Words, width: int) -> Iterator[Line]:
    judged = attempt.judged
    if judged is None:
        yield from _indented(words("account.cut-off"), width, 0, Role.WARN)
    else:
        said = f"{MARKS[judged.verdict]} {words(f'verdict.{judged.verdict}')}: {words.of('reason', judged.reason)}"
        yield from _indented(said, width, 0, VERDICT_ROLES[judged.verdict])
    if again.worked_out is not None and again.agrees:
        for label, text in why(attempt, again.worked_out):
            yield from _indented(f"{words.tell(label)}: {words.tell(text)}", width, 1)
    yield from _indented(
        words("account.agrees" if again.agrees else "account.departs"), width, 0, _role(again)
    )
    for departure in again.departures:
        yield from _indented(words.tell(departure), width, 1, Role.WARN)


def _role(again: Recount) -> Role:
    return Role.DIM if again.agrees else Role.BAD


def _rows(rows: tuple[Row, ...], words: Words, width: int) -> Iterator[Line]:
    for part in Part:
        own = [row for row in rows if row.part is part]
        if own:
            yield from _heading(words(f"account.{part.name.lower()}"))
        for row in own:
            yield from _row(row, words, width)


def _row(row: Row, words: Words, width: int) -> Iterator[Line]:
    what = words.tell(row.what)
    # The record has the judgement in English; without it, figures, limits and verdict say the same.
    read = row.read if words.knows(row.read) or row.part is not Part.DECISION else row.read.partition(": ")[0]
    said = f"{what}: {words.tell(read)}" if read else what
    first, *more = wrapped(said, width - _INDENT, _LONGEST)
    yield line(Span(f"{words.seconds(row.at_s):>{_INDENT - 2}}  ", Role.DIM), first)
    yield from (line(" " * _INDENT, text) for text in more)
    if row.wanted:
        behind = f" ({words.tell(row.proves)})" if row.proves else ""
        wanted = words("account.wanted", wanted=words.tell(row.wanted)) + behind
        yield from (
            line(Span(" " * _INDENT + text, Role.DIM)) for text in wrapped(wanted, width - _INDENT, _LONGEST)
        )


def _numbers(attempt: Attempt, words: Words, width: int) -> Iterator[Line]:
    for chapter in numbers_of(attempt):
        yield from _heading(words.tell(chapter.title))
        for one in chapter.formulas:
            then = f"; {words.tell(one.then)}" if one.then else ""
            steps = (one.symbol, one.formula, one.numbers, f"{one.result} {words.tell(one.unit)}".strip())
            yield from _indented(f"{words.tell(one.what)}: {' = '.join(steps)}{then}", width, 1)


def _heading(text: str) -> Iterator[Line]:
    yield line()
    yield line(Span(text, Role.STRONG))


def _indented(text: str, width: int, by: int, role: Role = Role.PLAIN) -> Iterator[Line]:
    for row in wrapped(text, width - by, _LONGEST):
        yield line(Span(f"{' ' * by}{row}", role))
