"""What holds for every file that is taken, whatever was written in it."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from itertools import pairwise
from typing import Any

from hypothesis import event, given, settings
from hypothesis import strategies as st

from sequences.library import shipped_orders, shipped_types
from sequences.order import Order
from sequences.sensor_type import REFUSED, SensorType
from sequences.steps import Contact, Expect, Place
from sequences.words import SET_POINTS, SetPoint
from tests.looking import examples
from wiring.terms import DetectionMode
from wiring.tomlfile import DataFileError, parse_toml_model

Path = tuple[str | int, ...]

TYPES = {name: tomllib.loads(path.read_text(encoding="utf-8")) for name, path in shipped_types().items()}
ORDERS = {name: tomllib.loads(path.read_text(encoding="utf-8")) for name, path in shipped_orders().items()}


def toml(value: object) -> str:
    """Write one value as TOML, tables inline."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return str(value) if isinstance(value, float) else json.dumps(value, ensure_ascii=False)


def as_file(data: dict[str, Any]) -> str:
    return "".join(f"{json.dumps(key)} = {toml(value)}\n" for key, value in data.items())


def as_type(data: dict[str, Any]) -> SensorType:
    return parse_toml_model(as_file(data), "type.toml", SensorType)


def as_order(data: dict[str, Any]) -> Order:
    return parse_toml_model(as_file(data), "order.toml", Order)


DISTANCES_MM = st.floats(1, 10000, allow_subnormal=False)
CODES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)
LINES = st.text(min_size=1, max_size=60).filter(lambda text: text.isprintable() and text == text.strip())


@st.composite
def sets(draw: st.DrawFn) -> dict[str, Any]:
    mode = draw(st.sampled_from(list(DetectionMode)))
    setting = {
        "mode": str(mode),
        "output_function": draw(st.sampled_from(["NO", "NC"])),
        "output_type": draw(st.sampled_from(["PNP", "NPN", "push-pull"])),
    }
    points_mm = sorted(draw(st.lists(DISTANCES_MM, min_size=2, max_size=2)))
    keys = {SetPoint.ONLY: "at_mm", SetPoint.NEAR: "near_mm", SetPoint.FAR: "far_mm"}
    figures = {keys[point]: mm for point, mm in zip(SET_POINTS[mode], points_mm, strict=False)}
    if figures:
        figures["tolerance_mm"] = draw(st.floats(0.1, 500))
    return {**setting, **figures}


@st.composite
def order_data(draw: st.DrawFn) -> dict[str, Any]:
    serials = draw(st.lists(CODES, min_size=1, max_size=6, unique_by=str.casefold))
    run = {"prefix": draw(CODES), "first": draw(st.integers(0, 999)), "digits": draw(st.integers(1, 10))}
    return {
        "number": draw(CODES),
        "customer": draw(LINES),
        "quantity": len(serials),
        "sensor_type": draw(LINES),
        "notes": draw(LINES),
        **(draw(st.sampled_from([{"serials": serials}, {"serial_run": run}]))),
        "setting": draw(sets()),
    }


@given(order_data())
def test_order_that_is_taken_comes_back_the_same(data: dict[str, Any]) -> None:
    try:
        order = as_order(data)
    except DataFileError as error:
        event("refused for " + ", ".join(sorted({problem.key for problem in error.problems})))
        return
    event("taken")
    assert as_order(order.model_dump(mode="json", exclude_none=True)) == order


@given(order_data())
def test_order_that_is_taken_can_be_labelled_and_checked(data: dict[str, Any]) -> None:
    try:
        order = as_order(data)
    except DataFileError:
        return
    serials = order.unit_serials()
    assert len({serial.casefold() for serial in serials}) == order.quantity == len(serials)
    assert all(re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", serial) for serial in serials)
    zone_mm = list(order.setting.set_points_mm.values())
    tolerance_mm = order.setting.tolerance_mm or 0.0
    edges_mm = [edge for point in zone_mm for edge in (point - tolerance_mm, point + tolerance_mm)]
    assert all(inner_mm < outer_mm + 1e-9 for inner_mm, outer_mm in pairwise(edges_mm))
    assert all(edge > 0 for edge in edges_mm)
    assert (order.setting.tolerance_mm is None) == (not zone_mm)


def test_every_shipped_file_comes_back_the_same() -> None:
    for data in TYPES.values():
        sensor_type = as_type(data)
        assert as_type(sensor_type.model_dump(mode="json", exclude_none=True)) == sensor_type
    for data in ORDERS.values():
        order = as_order(data)
        assert as_order(order.model_dump(mode="json", exclude_none=True)) == order


LENGTHS_S = st.sampled_from([0.1, 0.3, 0.8, 1.0, 2.2, 4.8, 5.0, 8.0, 10.0, 10.5, 40.0])
SIGNS = st.sampled_from(["accepted", "refused", "stored", "stored-1", "stored-4", "near-span", "far-span"])


FIGURES = ("for_s", "shortest_s", "longest_s", "gap_s", "times")
EXTRA_STEPS: tuple[dict[str, Any], ...] = (
    {"do": "cover"},
    {"do": "place", "at": "far"},
    {"do": "rest", "for_s": 40.0},
    {"do": "power-cycle", "off_s": 1.0},
    {"do": "expect", "output": "on", "within_s": 1.0},
    {"do": "contact", "rail": "L+", "for_s": 1.0, "shortest_s": 0.3, "longest_s": 10.0},
)


def change(draw: st.DrawFn, steps: list[dict[str, Any]]) -> None:
    index = draw(st.integers(0, len(steps) - 1))
    kind = draw(st.sampled_from(["length", "sign", "drop", "insert", "repeat"]))
    if kind == "length" and steps[index]["do"] == "contact":
        key = draw(st.sampled_from(FIGURES))
        steps[index] |= {key: draw(st.integers(1, 6)) if key == "times" else draw(LENGTHS_S)}
    elif kind == "sign":
        key = "until" if steps[index]["do"] == "contact" else "led"
        steps[index] |= {key: draw(SIGNS)} if key in steps[index] else {}
    elif kind == "drop" and len(steps) > 1:
        del steps[index]
    elif kind == "insert":
        steps.insert(index, dict(draw(st.sampled_from(EXTRA_STEPS))))
    elif kind == "repeat":
        steps.insert(index, dict(steps[index]))


@st.composite
def types_with_changed_steps(draw: st.DrawFn) -> dict[str, Any]:
    data = deepcopy(TYPES[draw(st.sampled_from(sorted(TYPES)))])
    sequence = draw(st.sampled_from(data["sequence"]))
    for _ in range(draw(st.integers(0, 4))):
        change(draw, sequence["steps"])
    data["sequence"] = [sequence]
    return data


@settings(max_examples=examples(80))
@given(types_with_changed_steps())
def test_steps_that_are_taken_keep_every_promise(data: dict[str, Any]) -> None:
    try:
        sensor_type = as_type(data)
    except DataFileError:
        event("refused")
        return
    event(f"taken with {sensor_type.teach_method}")
    (sequence,) = sensor_type.sequence
    assert {step.at for step in sequence.steps if isinstance(step, Place)} == set(SET_POINTS[sequence.mode])
    for step, following in zip(sequence.steps, [*sequence.steps[1:], None], strict=True):
        if isinstance(step, Contact):
            check_contact(step, sensor_type)
            assert step.until or following is None or following.do in ("expect", "rest")
        if isinstance(step, Expect) and step.led:
            assert step.led in set(sensor_type.led) - {REFUSED}


def check_contact(contact: Contact, sensor_type: SensorType) -> None:
    limits = sensor_type.contact
    assert limits.shortest_s <= contact.shortest_s < contact.longest_s <= limits.longest_s
    if contact.for_s is None:
        assert contact.until in set(sensor_type.led) - {REFUSED}
    else:
        assert contact.shortest_s <= contact.for_s <= contact.longest_s
    if contact.times > 1:
        assert limits.longest_gap_s is not None
        assert contact.gap_s is not None
        assert contact.gap_s <= limits.longest_gap_s


def leaves(value: object, path: Path = ()) -> Iterator[Path]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    yield path
    for key, item in inner:
        yield from leaves(item, (*path, key))


def replaced(data: dict[str, Any], path: Path, value: object) -> dict[str, Any]:
    changed = deepcopy(data)
    place: Any = changed
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return changed


ANYTHING = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(),
    st.text(st.characters(codec="utf-8", exclude_characters="\x7f"), max_size=20),
    st.sampled_from([[], {}, [[]], [{}], {"kind": {}}, "L+", "contact", "window", "NC", "flashing", 0.0]),
)


@given(st.data(), ANYTHING)
def test_any_value_anywhere_is_taken_or_told_with_its_line(data: st.DataObject, value: object) -> None:
    files = [(as_type, good) for good in TYPES.values()] + [(as_order, good) for good in ORDERS.values()]
    read, good = data.draw(st.sampled_from(files))
    path = data.draw(st.sampled_from(list(leaves(good))[1:]))
    try:
        read(replaced(good, path, value))
    except DataFileError as error:
        for problem in error.problems:
            assert problem.message
            assert str(problem).isprintable()
            # Every top-level value stands on a line of its own; only a missing one has none.
            assert problem.line is not None or problem.message == "is missing"
