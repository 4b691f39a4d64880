"""Units that come set already, and what has become of them since."""

from __future__ import annotations

from typing import Any

import pytest

from hal.simulated.already_set import already_set
from hal.simulated.bench import make_bench
from hal.simulated.benchfile import BenchFile
from hal.simulated.clock import JumpingLoop
from tests.rig.planned import STAGE
from wiring.terms import DetectionMode, OutputFunction

POINT, WINDOW, FULL = DetectionMode.SINGLE_POINT, DetectionMode.WINDOW, DetectionMode.FULL_RANGE
NO, NC = OutputFunction.NO, OutputFunction.NC


def bench(*rows: dict[str, Any], kind: str = "barrel-18-rail", **more: Any) -> BenchFile:
    units = [{"kind": kind} | row for row in rows]
    return BenchFile.model_validate({"title": "came back", "unit": units, **more})


def unit_of(bench_file: BenchFile) -> Any:
    loop = JumpingLoop()
    try:
        return make_bench(STAGE, bench_file, loop).next_unit()
    finally:
        loop.close()


@pytest.mark.parametrize("kind", ["barrel-18-rail", "barrel-18-plain"])
@pytest.mark.parametrize("temperature_c", [5.0, 20.0, 38.0])
def test_a_unit_switches_where_it_was_set_on_the_bench_in_any_air(kind: str, temperature_c: float) -> None:
    air = {"temperature_c": temperature_c}
    unit = unit_of(already_set(bench({}, kind=kind, air=air), WINDOW, NC, (210.0, 520.0)))
    assert (unit.memory.mode, unit.memory.function) == (WINDOW, NC)
    assert unit.true_ends().operate_near_mm == pytest.approx(210.0, abs=1e-6)
    assert unit.true_ends().operate_far_mm == pytest.approx(520.0, abs=1e-6)


@pytest.mark.parametrize(
    ("fault", "at_mm"),
    [
        ({"kind": "drifted", "offset_mm": 12.0}, 388.0),
        ({"kind": "stores-wrongly", "offset_mm": 12.0}, 412.0),
        ({"kind": "led-dark"}, 400.0),
    ],
)
def test_what_moves_a_set_point_has_done_so_before_it_comes(fault: dict[str, Any], at_mm: float) -> None:
    (row,) = already_set(bench({"faults": [fault]}), POINT, NO, (400.0,)).unit
    unit = unit_of(already_set(bench({"faults": [fault]}), POINT, NO, (400.0,)))
    assert row.faults[0].kind == fault["kind"]
    # A compensated unit keeps a trace of the air.
    assert unit.true_ends().operate_far_mm == pytest.approx(at_mm, abs=0.01)


def test_an_inverse_output_function_is_kept_too() -> None:
    fault = {"kind": "stores-wrongly", "inverse": True}
    for asked, kept in ((NO, NC), (NC, NO)):
        (row,) = already_set(bench({"faults": [fault]}), FULL, asked, ()).unit
        assert row.arrives is not None
        assert (row.arrives.mode, row.arrives.output_function) == (FULL, kept)


def test_a_row_that_says_how_its_units_come_is_left_alone() -> None:
    came = {"arrives": {"mode": "single-point", "near_mm": 300.0}}
    (own, other) = already_set(bench(came, {}), POINT, NC, (400.0,)).unit
    assert own.arrives is not None
    assert (own.arrives.near_mm, own.arrives.output_function) == (300.0, NO)
    assert other.arrives is not None
    assert other.arrives.near_mm == pytest.approx(400.0, rel=0.01)
