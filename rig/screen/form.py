"""A new order: a short form that is checked as one types, with the plan's drawing beside it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from textual import events
from textual.containers import Horizontal
from textual.widget import Widget

from rig.forms.written import as_toml
from rig.library import Section
from rig.planning.plan_drawing import whole_drawing
from rig.planning.planned import planned
from rig.schemas import schema_text
from rig.screen.base import BenchScreen
from rig.screen.orders import numbers_in_use
from rig.screen.view.commands import ROW
from rig.screen.view.lines import Line, Role, Span, cut, line, wrapped
from rig.screen.view.order_form import Checked, OrderForm, objections_left
from rig.screen.view.steps import step_words
from rig.screen.widgets import LinesView
from rig.screen.work import OrderWork

_LONGEST = 60
# Rows of what stands against a field: that of the chosen one in full.
_FULL, _SHORT = 5, 2
# Columns of a label, and of all fields at least, so that no value to choose is cut off.
_FIELD, _FIELDS = 19, 44


class OrderFormScreen(BenchScreen):
    """Up and Down go from field to field, Left and Right choose, F7 writes the file and takes the order."""

    DEFAULT_CSS = """
    OrderFormScreen #both { height: 1fr; }
    OrderFormScreen #fields { height: 100%; }
    OrderFormScreen #drawn { height: 100%; width: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._form: OrderForm | None = None
        self._at = 0

    def body(self) -> Iterator[Widget]:
        """The fields, the drawing and a line for what is said."""
        yield Horizontal(LinesView(id="fields"), LinesView(id="drawn"), id="both")
        yield LinesView(id="note")

    @property
    def form(self) -> OrderForm:
        """The form, made when it is first needed: the types have to be read for it."""
        if self._form is None:
            bench = self.bench.bench
            self._form = OrderForm(bench.library.good_types(), bench.profile, tuple(numbers_in_use(bench)))
        return self._form

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('form.title')}", Role.STRONG), f"   {self.bench.bench.profile.title}")

    def commands(self) -> Mapping[str, str]:
        """Move, choose, save."""
        save = {"aside": "save"} if self.form.check().order is not None else {}
        moves = {"enter": "next", "tab": "next", "arrows": "next"}
        chooses = {"sides": "choose"} if self.form.choices(self.form.keys[self._at]) else {}
        return {**moves, **chooses, **save, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Write the file and take the order, or go to the next field."""
        checked = self.form.check()
        if name == "enter":
            self._go(1)
        elif name == "aside" and checked.order is not None:
            try:
                path = self._write()
            except OSError as failure:
                self.say(self.words("form.unwritten", why=failure.strerror or str(failure)), Role.BAD)
                return
            self.bench.open_work(OrderWork(self.bench.bench.order(path), self.words))

    def _write(self) -> str:
        folder = self.bench.bench.library.own_folder(Section.ORDERS)
        folder.mkdir(parents=True, exist_ok=True)
        data = self.form.data()
        path = folder / f"{data['number']}.toml"
        text = as_toml(data, json.loads(schema_text("order")), ["Made on the bench screen."])
        with open(path, "x", encoding="utf-8") as file:
            file.write(text)
        return str(path)

    def on_key(self, event: events.Key) -> None:
        """Edit the field that is chosen, or go to another."""
        form, key = self.form, self.form.keys[self._at]
        choices = form.choices(key)
        if event.key in ("up", "down", "enter", "tab"):
            self._go(-1 if event.key == "up" else 1)
        elif choices and event.key in ("left", "right"):
            self._choose(-1 if event.key == "left" else 1)
        elif not choices and event.key == "backspace":
            form.type_in(key, form.texts.get(key, "")[:-1])
        elif not choices and event.is_printable and event.character is not None:
            form.type_in(key, (form.texts.get(key, "") + event.character)[:_LONGEST])
        else:
            return
        event.stop()
        self.paint()

    def pick(self, key: str) -> None:
        """Go to the field that was clicked; a second click chooses the next of its values."""
        if self.form.keys[self._at] == key and self.form.choices(key):
            self._choose(1)
        elif key in self.form.keys:
            self._at = self.form.keys.index(key)
        self.paint()

    def _go(self, step: int) -> None:
        self._at = (self._at + step) % len(self.form.keys)
        self.paint()

    def _choose(self, step: int) -> None:
        """Another value of the field; which fields there are may follow from it."""
        key = self.form.keys[self._at]
        self.form.choose(key, step)
        self._at = self.form.keys.index(key)

    def paint(self) -> None:
        """Paint fields and drawing."""
        super().paint()
        if not self.can_paint:
            return
        half, checked = max(self.size.width // 2, _FIELDS), self.form.check()
        fields = self.query_one("#fields", LinesView)
        fields.take_columns(half)
        fields.show(list(self._fields(checked, half)))
        self.query_one("#drawn", LinesView).show(list(self._drawn(checked, self.size.width - half - 1)))

    def _fields(self, checked: Checked, width: int) -> Iterator[Line]:
        form = self.form
        for number, key in enumerate(form.keys):
            chosen = number == self._at
            text = form.texts.get(key, "")
            shown = f"< {text} >" if form.choices(key) else f"{text}_" if chosen else text
            label = f"{self.words(f'form.{key}'):<{_FIELD}}"
            mark = ">" if chosen else " "
            role = Role.CHOSEN if chosen else Role.STRONG
            command = f"{ROW}{key}"
            room = width - _FIELD - 4
            given = Span(shown[-room:] if chosen else cut(shown, room), role, command)
            yield line(Span(f" {mark} {label}", Role.DIM, command), given)
            objection = self.words.tell(checked.about(key)) if text or chosen else ""
            if objection:
                yield from self._objected(objection, width, chosen=chosen, given=bool(text))
        yield line()
        for one in objections_left(checked, form.keys):
            yield from (
                line(Span(f"   {row}", Role.WARN))
                for row in wrapped(self.words.tell(one.words), width - 5, 3)
            )

    @staticmethod
    def _objected(objection: str, width: int, *, chosen: bool, given: bool) -> Iterator[Line]:
        """What is wrong with a field; of one that nobody has filled in only what is allowed."""
        said, role = (objection, Role.WARN) if given else (objection.rpartition("; ")[2], Role.DIM)
        for row in wrapped(said, width - 7, _FULL if chosen else _SHORT):
            yield line(Span(f"     {row}", role))

    def _drawn(self, checked: Checked, width: int) -> Iterator[Line]:
        if checked.order is None or checked.plan is None:
            yield from (
                line(Span(row, Role.DIM)) for row in wrapped(self.words("form.not-yet"), width - 1, 3)
            )
            return
        made = planned(checked.order, self.form.sensor_type, self.form.rig, checked.plan)
        yield from (line(text) for text in whole_drawing(made, width - 1, self.words.tell))
        yield line()
        for number, step in enumerate(checked.plan.steps, start=1):
            yield line(f"{number}. {step_words(step, self.words)}")
        yield line(self.words("form.time", time=self.words.clock(checked.plan.expected_s)))
        for warning in checked.plan.warnings:
            yield from (
                line(Span(row, Role.WARN)) for row in wrapped(f"! {self.words.tell(warning)}", width - 1, 3)
            )
