"""Finding sensor types and orders by name and by path."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequences.library import find_order, find_type, load_order, load_type, shipped_orders, shipped_types
from tests.badfiles import only_problem


def test_shipped_files_are_found_by_name() -> None:
    for name, path in shipped_types().items():
        assert find_type(name) == path
        assert load_type(find_type(name)).name == name
    for name, path in shipped_orders().items():
        assert find_order(name) == path
        assert load_order(find_order(name)).quantity > 0


@pytest.mark.parametrize("text", ["own.toml", "types/own", "/srv/types/own.toml"])
def test_what_looks_like_a_path_is_one(text: str) -> None:
    assert find_type(text) == Path(text)
    assert find_order(text) == Path(text)


def test_type_named_by_an_order_is_looked_for_beside_it(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    assert find_type("own/type.toml", order=order) == tmp_path / "own" / "type.toml"
    assert find_type("/srv/type.toml", order=order) == Path("/srv/type.toml")
    assert find_type("block-rail", order=order) == shipped_types()["block-rail"]


def test_unknown_type_name_is_told_with_the_names_there_are() -> None:
    problem = only_problem(lambda: find_type("barrel-18-rial"))
    assert "did you mean barrel-18-rail?" in problem.message
    assert problem.given == '"barrel-18-rial"'
    for name in shipped_types():
        assert name in problem.allowed


def test_unknown_type_name_in_an_order_is_told_on_its_line(tmp_path: Path) -> None:
    text = shipped_orders()["tipper-point-no"].read_text(encoding="utf-8")
    order = tmp_path / "order.toml"
    order.write_text(text.replace("barrel-18-rail", "barrel-19-rail"), encoding="utf-8-sig")
    problem = only_problem(lambda: find_type(load_order(order).sensor_type, order=order))
    line = 1 + next(number for number, line in enumerate(text.splitlines()) if line.startswith("sensor_type"))
    assert (problem.file, problem.line, problem.key) == (str(order), line, "sensor_type")
    assert "did you mean barrel-18-rail?" in problem.message


def test_unknown_order_name_is_told_with_the_names_there_are() -> None:
    problem = only_problem(lambda: find_order("tiper-point-no"))
    assert "did you mean tipper-point-no?" in problem.message
    assert "store-window-no" in problem.allowed
