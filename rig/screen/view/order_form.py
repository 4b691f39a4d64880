"""The form of a new order: its fields, and what stands against what is in them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from rig.screen.view.wording import read_number
from sequences.order import POINT_KEYS, Order
from sequences.sensor_type import SensorType
from sequences.words import SET_POINTS
from wiring.problems import Explainer
from wiring.profile import RigProfile
from wiring.saying import together
from wiring.terms import DetectionMode

_FEWEST_DIGITS = 3
_TABLES = dict.fromkeys(("number", "customer", "quantity", "sensor_type"), "") | dict.fromkeys(
    ("prefix", "first"), "serial_run"
)
_WHOLE = ("quantity", "first")
_CHOSEN = ("sensor_type", "output_type", "mode", "output_function")


_USUAL = str(DetectionMode.SINGLE_POINT)


@dataclass(frozen=True, slots=True)
class Objection:
    """What is wrong with one field; an empty key is about the whole."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of the form: an order with its plan, or every objection."""

    order: Order | None
    plan: Plan | None
    objections: tuple[Objection, ...]

    def about(self, key: str) -> str:
        """The first objection to a field."""
        return next((one.words for one in self.objections if one.key == key), "")


@dataclass
class OrderForm:
    """The texts as typed; choices are always one of those that the sensor type offers.

    Args:
        types: every sensor type that can be chosen.
        rig: where the order is planned.
        taken: numbers of orders that are there already.

    """

    types: Mapping[str, SensorType]
    rig: RigProfile
    taken: Sequence[str] = ()
    texts: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        first = next(iter(self.types))
        self.texts = {"number": "", "customer": "", "sensor_type": first, **self.texts}
        self.texts |= {"quantity": "1", "prefix": "", "first": "1"}
        self._keep_to_type()

    @property
    def sensor_type(self) -> SensorType:
        """The type that is chosen."""
        return self.types[self.texts["sensor_type"]]

    @property
    def keys(self) -> tuple[str, ...]:
        """The fields that this setting has, from top to bottom."""
        points = [POINT_KEYS[point] for point in SET_POINTS[DetectionMode(self.texts["mode"])]]
        tolerance = ["tolerance_mm"] if points else []
        head = ("number", "customer", "sensor_type", "output_type", "mode", "output_function")
        return (*head, *points, *tolerance, "quantity", "prefix", "first")

    def choices(self, key: str) -> tuple[str, ...]:
        """What can be chosen in a field; nothing for one that is typed into."""
        sensor_type = self.sensor_type
        offered: dict[str, Sequence[str]] = {
            "sensor_type": tuple(self.types),
            "output_type": [str(one) for one in sensor_type.output.types],
            "mode": list(dict.fromkeys(str(mode) for mode, _ in sensor_type.offered)),
            "output_function": [
                str(function) for mode, function in sensor_type.offered if mode == self.texts.get("mode")
            ],
        }
        return tuple(offered.get(key, ()))

    def type_in(self, key: str, text: str) -> None:
        """Put a text into a field."""
        self.texts[key] = text

    def choose(self, key: str, step: int) -> None:
        """Take the next choice of a field, or the one before."""
        choices = self.choices(key)
        self.texts[key] = choices[(choices.index(self.texts[key]) + step) % len(choices)]
        self._keep_to_type()

    def data(self) -> dict[str, Any]:
        """What the file of the order would hold; what cannot be read as a number stays as it was typed."""
        data: dict[str, Any] = {"serial_run": {}, "setting": {}}
        for key in self.keys:
            text = self.texts.get(key, "").strip()
            table = _TABLES.get(key, "setting")
            if text or key in ("number", "customer", "prefix"):
                (data[table] if table else data)[key] = _value(key, text)
        run = data["serial_run"]
        last = run.get("first", 0), data.get("quantity", 1)
        numbers = all(isinstance(one, int) for one in last)
        run["digits"] = max(_FEWEST_DIGITS, len(str(sum(last) - 1))) if numbers else _FEWEST_DIGITS
        return data

    def check(self) -> Checked:
        """Hold it against the model of orders and against what type and rig can do."""
        data = self.data()
        try:
            order = Order.model_validate_json(json.dumps(data), strict=True)
        except ValidationError as error:
            found = Explainer("", "", data, Order).problems(error)
            return Checked(
                None,
                None,
                tuple(_objection(one.key, together("; ", (one.message, one.allowed))) for one in found),
            )
        if order.number in self.taken:
            return Checked(None, None, (Objection("number", "another order has this number"),))
        try:
            return Checked(order, make_plan(order, self.sensor_type, self.rig), ())
        except PlanRefused as refused:
            return Checked(None, None, tuple(_objection(one.key, str(one)) for one in refused.refusals))

    def _keep_to_type(self) -> None:
        for key in _CHOSEN[1:]:
            choices = self.choices(key)
            if self.texts.get(key) not in choices:
                self.texts[key] = _USUAL if _USUAL in choices else choices[0]


def objections_left(checked: Checked, keys: Sequence[str]) -> Iterator[Objection]:
    """Objections that are about no field that can be seen."""
    return (one for one in checked.objections if one.key not in keys)


def _objection(key: str, words: str) -> Objection:
    return Objection(key.rpartition(".")[2], words)


def _value(key: str, text: str) -> object:
    if key in _WHOLE or key.endswith("_mm"):
        number = read_number(text)
        if number is not None:
            return int(number) if number.is_integer() else number
    return text
