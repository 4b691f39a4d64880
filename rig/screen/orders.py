"""The orders: what was begun and can go on, what lies in the folder, and the plan of what is chosen."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache

from rig.events import OrderInputs, OrderStarted, Purpose, Stamped, UnitJudged, UnitRemoved, UnitStarted
from rig.journal import JournalError
from rig.library import Section
from rig.planning.plan_drawing import whole_drawing
from rig.planning.planned import planned
from rig.screen.listing import ListScreen, Row
from rig.screen.lots import LOT, lot_lines, lot_rows
from rig.screen.record import of_like_work, recorded
from rig.screen.setup import Bench, CannotStart, Setup
from rig.screen.studies import STUDY, study_lines, study_rows
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.standing import Standing
from rig.screen.view.steps import step_words
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from sequences.order import Order
from sequences.sensor_type import SensorType

_MOST_RECENT = 8
# What is done under another number than that of an order is no order to go on with.
_ON_ORDERS = (Purpose.SET, Purpose.VERIFY)
_RECENT = (OrderStarted, OrderInputs, UnitStarted, UnitJudged, UnitRemoved)


@dataclass(frozen=True, slots=True)
class Recent:
    """An order that the record knows, as it was when it was last begun."""

    order: Order
    sensor_type: SensorType
    done: int
    begun_utc: str

    @property
    def unfinished(self) -> bool:
        """Whether units are left."""
        return self.done < self.order.quantity


def numbers_in_use(bench: Bench) -> frozenset[str]:
    """Numbers that no new order may have: those of files, as far as they can be read, and those on record."""
    numbers = set(bench.library.entries(Section.ORDERS))
    for entry in bench.library.entries(Section.ORDERS).values():
        with suppress(OSError, ValueError, KeyError):
            numbers.add(str(tomllib.loads(entry.path.read_text(encoding="utf-8"))["number"]))
    with suppress(JournalError):
        numbers |= {one.order for one in recorded(bench.journal, (OrderStarted,))}
    return frozenset(numbers)


def recent_orders(bench: Bench) -> list[Recent]:
    """The orders of the record, the last begun first; none where there is no record, or none that can be read."""
    events: dict[str, list[Stamped]] = {}
    last: dict[str, tuple[str, OrderInputs]] = {}
    others: set[str] = set()
    try:
        simulated = bench.holds is not None
        for stamped in of_like_work(recorded(bench.journal, _RECENT), Purpose.SET, simulated=simulated):
            events.setdefault(stamped.order, []).append(stamped)
            if isinstance(stamped.event, OrderStarted) and stamped.event.purpose not in _ON_ORDERS:
                others.add(stamped.order)
            if isinstance(stamped.event, OrderInputs):
                last.pop(stamped.order, None)
                last[stamped.order] = (stamped.utc, stamped.event)
    except JournalError:
        return []
    newest = [one for one in reversed(last.items()) if one[0] not in others][:_MOST_RECENT]
    return [one for number, (utc, inputs) in newest if (one := _recent(inputs, utc, events[number]))]


def _recent(inputs: OrderInputs, utc: str, events: Sequence[Stamped]) -> Recent | None:
    try:
        order = Order.model_validate(inputs.order, strict=False)
        sensor_type = SensorType.model_validate(inputs.sensor_type, strict=False)
    except ValueError:  # written by another version
        return None
    standing = Standing(order.unit_serials()).take_all(events)
    return Recent(order, sensor_type, order.quantity - len(standing.open_serials), utc)


class OrdersScreen(ListScreen):
    """Pick an order: the one that was left in the midst stands on top."""

    LIST_SHARE = 0.42

    def __init__(self) -> None:
        super().__init__()
        self._recent: dict[str, Recent] = {}
        self._setups = cache(self._setup)

    def heading(self) -> Line:
        """What this screen is."""
        return line(
            Span(f" {self.words('orders.title')}", Role.STRONG), f"   {self.bench.bench.profile.title}"
        )

    def commands(self) -> Mapping[str, str]:
        """The keys of a list, and a new order."""
        return {
            **({"enter": "take"} if self.chosen else {}),
            **self.choosing(),
            "aside": "new",
            **self.bench.everywhere(),
        }

    def do(self, name: str) -> None:
        """Take an order, or make a new one."""
        if name == "aside":
            from rig.screen.form import (
                OrderFormScreen,
            )  # with what writes files: the first picture shall not wait

            self.bench.push_screen(OrderFormScreen())
        else:
            super().do(name)

    def rows(self) -> Sequence[Row]:
        """Recent orders, then those of the folders."""
        words, bench = self.words, self.bench.bench
        self._recent = {f"recent/{one.order.number}": one for one in recent_orders(bench)}
        rows = [*lot_rows(bench.journal, words), *study_rows(bench.journal, words)]
        rows += [Row("", _heading(words("orders.recent")))] if self._recent else []
        rows += [Row(key, _recent_line(one, words)) for key, one in self._recent.items()]
        entries = bench.library.entries(Section.ORDERS).values()
        for own in (True, False):
            named = [one for one in entries if one.own is own]
            if named:
                rows.append(Row("", _heading(words("orders.own" if own else "orders.shipped"))))
            rows += [Row(f"file/{one.name}", line(one.name)) for one in named]
        return rows

    def side(self, key: str, width: int, rows: int, /) -> Sequence[Line]:
        """What is known of an order: its setting, its drawing and its steps, or why it cannot be done."""
        if key.startswith(LOT):
            return lot_lines(self.bench.bench.journal, key.removeprefix(LOT), self.words, width)[:rows]
        if key.startswith(STUDY):
            return study_lines(self.bench.bench.journal, key.removeprefix(STUDY), self.words, width)[:rows]
        try:
            return setup_lines(self._setups(key), self.words, width)[:rows]
        except CannotStart as refused:
            texts = [row for text in refused.lines for row in wrapped(self.words.tell(text), width - 1, 6)]
            return [line(Span(text, Role.BAD)) for text in texts[:rows]]

    def take(self, key: str) -> None:
        """Work on it."""
        if key.startswith(LOT):
            self._take_lot(key.removeprefix(LOT))
            return
        if key.startswith(STUDY):
            self._take_study(key.removeprefix(STUDY))
            return
        try:
            setup = self._setups(key)
        except CannotStart:
            self.say(self.words("orders.cannot"), Role.BAD)
            return
        self.bench.open_work(OrderWork(setup, self.words))

    def _take_lot(self, number: str) -> None:
        from rig.screen.lot_setup import lot_setup  # only where lots are received
        from rig.screen.lot_work import LotWork

        try:
            work = LotWork(lot_setup(self.bench.bench, number), self.words)
        except CannotStart as refused:
            self.say(str(refused), Role.BAD)
            return
        self.bench.open_work(work)

    def _take_study(self, number: str) -> None:
        from rig.screen.study_work import StudyWork, study_setup  # only where the rig is studied

        try:
            work = StudyWork(study_setup(self.bench.bench, number), self.words)
        except CannotStart as refused:
            self.say("; ".join(map(self.words.tell, refused.lines)), Role.BAD)
            return
        except JournalError as refused:
            self.say(self.words.tell(str(refused)), Role.BAD)
            return
        self.bench.open_work(work)

    def _setup(self, key: str) -> Setup:
        kind, _, name = key.partition("/")
        if kind == "recent":
            one = self._recent[key]
            return self.bench.bench.planned(one.order, one.sensor_type)
        return self.bench.bench.order(name)


def setup_lines(setup: Setup, words: Words, width: int) -> list[Line]:
    """An order with its plan, as far as a panel has room."""
    order, plan = setup.order, setup.job.plan
    points = ", ".join(words.mm(at_mm) for _, at_mm in plan.set_points)
    made = planned(order, setup.sensor_type, setup.profile, plan)
    facts = (
        (words("orders.customer"), order.customer),
        (words("orders.type"), setup.sensor_type.title),
        (words("orders.setting"), f"{plan.mode} {plan.output_function} {points}"),
        (
            words("orders.quantity"),
            f"{order.quantity}, {words.clock(plan.expected_s)} {words('orders.each')}",
        ),
    )
    column = max(len(name) for name, _ in facts) + 1
    lines = [line(Span(f"{order.number}", Role.STRONG))]
    for name, value in facts:
        for row, text in enumerate(wrapped(value, width - column - 1, 2)):
            lines.append(line(Span(f"{'' if row else name:<{column}}", Role.DIM), text))
    lines += [line(), *(line(text) for text in whole_drawing(made, width - 1, words.tell)), line()]
    for text in wrapped(" ".join(order.notes.split()), width - 1, 3):
        lines.append(line(Span(text, Role.DIM)))
    lines += [line(f"{number}. {step_words(step, words)}") for number, step in enumerate(plan.steps, start=1)]
    for warning in plan.warnings:
        lines += [line(Span(text, Role.WARN)) for text in wrapped(f"! {words.tell(warning)}", width - 1, 3)]
    return lines


def _heading(text: str) -> Line:
    return line(Span(f" {text}", Role.DIM))


def _recent_line(one: Recent, words: Words) -> Line:
    role = Role.WISH if one.unfinished else Role.PLAIN
    key = "orders.go-on" if one.unfinished else "orders.finished"
    state = words(key, done=one.done, total=one.order.quantity)
    return line(
        Span(f"{one.order.number:<12} ", role), Span(state, role), Span(f"  {one.begun_utc[:10]}", Role.DIM)
    )
