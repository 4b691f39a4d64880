"""The stand-in below the bindings has the shape of the package's own C extension."""

from __future__ import annotations

import ast
from importlib.resources import files

import gpiod
import pytest

from tests.hal.board.bindings import REPLACED, below_the_bindings
from tests.hal.board.kernel import Kernel

STUBS = ast.parse((files(gpiod) / "_ext.pyi").read_text())
CLASSES = {node.name: node for node in STUBS.body if isinstance(node, ast.ClassDef)}


def methods(node: ast.ClassDef) -> dict[str, list[str]]:
    return {
        one.name: [argument.arg for argument in one.args.args]
        for one in node.body
        if isinstance(one, ast.FunctionDef) and (one.name == "__init__" or not one.name.startswith("_"))
    }


@pytest.mark.parametrize("replacement", REPLACED, ids=lambda one: one.__name__)
def test_a_class_of_the_stand_in_has_the_methods_of_the_one_that_it_replaces(replacement: type) -> None:
    source = ast.parse((files("tests.hal.board") / "bindings.py").read_text())
    (ours,) = (
        node for node in source.body if isinstance(node, ast.ClassDef) and node.name == replacement.__name__
    )
    theirs, mine = methods(CLASSES[replacement.__name__]), methods(ours)
    if replacement.__name__ == "Request":  # made by the chip only
        mine.pop("__init__")
    assert mine == theirs


def test_the_real_package_is_back_afterwards() -> None:
    before = [getattr(gpiod._ext, one.__name__) for one in REPLACED]
    with below_the_bindings(Kernel()):
        assert gpiod._ext.Chip is not before[0]
    assert [getattr(gpiod._ext, one.__name__) for one in REPLACED] == before
