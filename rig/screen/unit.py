"""One unit: its verdict, its drawing, everything that the record says of it; the way to its account and its label."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rig.events import (
    DecidedByHand,
    DocumentMade,
    EdgeMeasured,
    OrderInputs,
    RequirementJudged,
    Stamped,
    UnitStarted,
    Verdict,
)
from rig.journal import JournalError
from rig.screen.explain import ExplainScreen
from rig.screen.listing import ListScreen, Row
from rig.screen.record import decided_by_hand, documents_of, recorded
from rig.screen.view.instruction import MARKS, VERDICT_ROLES
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.ruler import Marks, close_ruler, ruler
from rig.screen.view.standing import UnitStanding
from rig.screen.view.told import told
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from wiring.saying import said_by


class UnitScreen(ListScreen):
    """One unit: verdict, drawing, and its events, the last attempt first in view."""

    LIST_SHARE = 0.55

    def __init__(self, work: OrderWork, serial: str) -> None:
        super().__init__()
        self.work = work
        self.serial = serial
        self._events = _events_of(work, serial)
        order = work.setup.job.order.number
        self._by_hand = decided_by_hand(work.setup.journal, order, serial) if self._events else None

    def heading(self) -> Line:
        """The unit."""
        return line(Span(f" {self.words('unit.title', serial=self.serial)}", Role.STRONG))

    def commands(self) -> Mapping[str, str]:
        """The keys of a list that only shows; once there is a verdict, its account and its label."""
        judged = self.work.board.standing.units[self.serial].verdict is not None
        more = {"aside": "explain"} if judged and self._events else {}
        if more and not self.work.setup.practice:
            more["hands"] = "label"  # what was only practised is nowhere kept, so no label shall speak of it
        return {**self.choosing(), **more, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Explain the verdict, or bring the label once more."""
        if name == "aside":
            self.bench.push_screen(ExplainScreen(self.work, self.serial))
        elif name == "hands":
            self.say(self.words("label.coming"))
            self.run_worker(self._label_again, thread=True, exclusive=True)

    def _label_again(self) -> None:
        """On a thread of its own: a printer may take its time."""
        from rig.screen.label import CannotLabel, label_again

        setup, where = self.work.setup, self.bench.bench
        folder, journal = where.journal.parent / "labels", setup.journal or where.journal
        try:
            label = label_again(self.serial, setup.job.order.number, journal, where.library, folder)
        except CannotLabel as why:
            said, role = self.words("label.none", why=self.words.tell(said_by(why))), Role.WARN
        else:
            key = "label.saved" if label.not_printed else "label.printed"
            said, role = (
                self.words(key, where=label.where, why=self.words.tell(label.not_printed)),
                Role.PLAIN,
            )
            if label.not_recorded:
                said, role = f"{said}; {self.words('label.unrecorded', why=label.not_recorded)}", Role.WARN
        self.bench.call_from_thread(self.bench.say, said, role)

    def rows(self) -> Sequence[Row]:
        """Every event, with its time since the unit was put in."""
        return list(self._rows())

    def _rows(self) -> Iterator[Row]:
        if not self._events:
            yield Row("nothing", line(Span(self.words("unit.nothing"), Role.DIM)))
        begun_s = self._events[0].at_s if self._events else 0.0
        for number, stamped in enumerate(self._events):
            if isinstance(stamped.event, UnitStarted | DocumentMade):  # a paper is made at a time of its own
                begun_s = stamped.at_s
                yield Row("", line(Span(f" {stamped.utc[:19].replace('T', ' ')} UTC", Role.DIM)))
            text, role = told(stamped.event, self.words, self.work.board.job.plan)
            if text:
                time = self.words.seconds(stamped.at_s - begun_s)
                yield Row(f"{number}", line(Span(f"{time:>8}  ", Role.DIM), Span(text, role)))

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """What is chosen in full, verdict, why, and the drawing with what was measured."""
        board, setup = self.work.board, self.work.setup
        lines = verdict_lines(self.serial, board.standing.units[self.serial], self.words, width)
        lines += _by_hand_lines(self._by_hand, self.words, width)
        chosen = (
            told(self._events[int(key)].event, self.words, self.work.board.job.plan)[0]
            if key.isdigit()
            else ""
        )
        lines += [
            line(),
            *(line(Span(f"> {text}", Role.WISH)) for text in wrapped(chosen, width - 3, 4) if text),
        ]
        lines += [line(), *_why(self._events, self.words, width), line()]
        measured = (one.event for one in self._events if isinstance(one.event, EdgeMeasured))
        marks = Marks(edges=tuple({edge.edge: edge for edge in measured}.values()))
        lines += ruler(board.job.plan, setup.sensor_type, self.words, width - 1, marks)
        lines += [line(), *close_ruler(board.job.plan, self.words, width - 1, marks)]
        return lines[:rows]


def _events_of(work: OrderWork, serial: str) -> list[Stamped]:
    try:
        found = recorded(work.setup.journal, order=work.setup.job.order.number, serial=serial)
        found += documents_of(work.setup.journal, serial)
    except JournalError:
        return []
    return [one for one in found if _shown(one)]


def _shown(stamped: Stamped) -> bool:
    return not isinstance(stamped.event, OrderInputs)


def verdict_lines(serial: str, unit: UnitStanding, words: Words, width: int) -> list[Line]:
    """The verdict on a unit, why, and when."""
    lines = [line(Span(serial, Role.STRONG))]
    if unit.verdict is None:
        return [*lines, line(words("unit.in-work" if unit.in_nest else "unit.open"))]
    role = VERDICT_ROLES[unit.verdict]
    lines.append(line(Span(f"{MARKS[unit.verdict]} {words(f'verdict.{unit.verdict}')}", role)))
    lines += [line(text) for text in wrapped(words.of("reason", unit.reason), width - 1, 2)]
    if unit.verdict is not Verdict.GOOD:
        lines += [
            line(text) for text in wrapped(words.tell(unit.words), width - 1, 4) if words.knows(unit.words)
        ]
    lines.append(line(Span(f"{unit.utc[:19].replace('T', ' ')} UTC", Role.DIM)))
    return lines


def _by_hand_lines(decided: Stamped | None, words: Words, width: int) -> list[Line]:
    """What two persons have decided where the bench was undecided; its own verdict stays above."""
    if decided is None or not isinstance(decided.event, DecidedByHand):
        return []
    event = decided.event
    verdict = f"{MARKS[event.verdict]} {words(f'verdict.{event.verdict}')}"
    title = line(Span(f"{words('unit.by-hand')}: ", Role.DIM), Span(verdict, VERDICT_ROLES[event.verdict]))
    who = words("unit.decided", person=event.person, released_by=event.released_by, day=decided.utc[:10])
    return [title, *(line(text) for given in (who, event.why) for text in wrapped(given, width - 1, 2))]


def _why(events: Sequence[Stamped], words: Words, width: int) -> list[Line]:
    """The requirements that were judged at the last attempt, with what they were judged by."""
    last = max((i for i, one in enumerate(events) if isinstance(one.event, UnitStarted)), default=0)
    lines: list[Line] = []
    for stamped in events[last:]:
        if isinstance(stamped.event, RequirementJudged):
            role = VERDICT_ROLES[stamped.event.verdict]
            text = f"{MARKS[stamped.event.verdict]} {_judged_words(stamped.event, words)}"
            lines += [line(Span(row, role)) for row in wrapped(text, width - 1, 2)]
    return [line(Span(words("unit.why"), Role.DIM)), *lines] if lines else []


def _judged_words(judged: RequirementJudged, words: Words) -> str:
    """What a requirement was judged by: in the words of the record, or of its figures where those are not known."""
    from rig.recount.edge_rows import (  # with the statistics, which no other screen needs
        limit_words,
        value_words,
    )

    named = words.tell(judged.requirement)
    if words.knows(judged.words):
        return f"{named}: {words.tell(judged.words)}"
    if judged.value is None:
        return f"{named}: {words(f'verdict.{judged.verdict}')}"
    figures = [value_words(judged.value, judged.expanded, judged.unit), limit_words(judged)]
    return (
        f"{named}: {words('unit.held-against', value=words.tell(figures[0]), limits=words.tell(figures[1]))}"
    )
