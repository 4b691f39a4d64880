"""The reader of drawings itself: every fault that it is there for is found."""

from __future__ import annotations

import pytest

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from tests.rig.papers.drawn import faults, joined
from wiring.circuit.copper import Circuit


@pytest.fixture
def pen() -> Pen:
    return Pen(Drawing("any", "any"), Circuit((), ()))


def test_an_empty_page_has_no_fault(pen: Pen) -> None:
    assert faults(pen.drawing) == []


def test_texts_on_one_another(pen: Pen) -> None:
    pen.text(50, 50, "first")
    pen.text(52, 50.5, "second")
    assert faults(pen.drawing) == ["'first' and 'second' cover one another at 50, 48"]


@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
def test_a_line_through_a_text(pen: Pen, anchor: str) -> None:
    pen.text(50, 50, "word", anchor=anchor)  # type: ignore[arg-type]
    pen.wire((30, 49.5), (70, 49.5))
    assert [fault.partition(" at")[0] for fault in faults(pen.drawing)] == ["a line crosses 'word'"]


def test_what_lies_off_the_page(pen: Pen) -> None:
    pen.text(280, 50, "a long text that runs on")
    pen.symbol("-K1", 5, 50, 10, 10)
    assert faults(pen.drawing) == [
        "'a long text that runs on' lies off the page",
        "symbol -K1 lies off the page",
    ]


def test_symbols_on_one_another_and_a_wire_through_one(pen: Pen) -> None:
    pen.symbol("-K1", 50, 50, 10, 10)
    pen.symbol("-K2", 55, 55, 10, 10)
    pen.wire((45, 52), (80, 52))
    assert faults(pen.drawing) == ["symbols -K1 and -K2 cover one another", "a wire runs through symbol -K1"]


def test_wires_that_cross(pen: Pen) -> None:
    pen.wire((20, 50), (80, 50))
    pen.wire((50, 20), (50, 80))
    assert len(faults(pen.drawing)) == 1


def test_copper_joins_where_a_wire_ends_on_another_and_by_name(pen: Pen) -> None:
    pen.wire((20, 50), (80, 50))
    pen.wire((50, 50), (50, 80))
    pen.wire((60, 20), (60, 90))
    for name, x, y in (("-A:1", 20, 50), ("-B:1", 50, 80), ("-C:1", 60, 90), ("-D:1", 100, 100)):
        pen.pin(name, x, y)
    groups = joined((pen.drawing,))
    assert groups["-A:1"] == {"-A:1", "-B:1"}
    assert groups["-C:1"] == {"-C:1"}, "a wire that only crosses another is not joined to it"
    pen.flag("24", 60, 20, up=True)
    pen.wire((100, 100), (100, 110))
    pen.flag("24", 100, 110, up=False)
    assert joined((pen.drawing,))["-C:1"] == {"-C:1", "-D:1"}
