"""The bench file: what ships is right, every wrong edit is told with its place, and code may build one too."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile, UnitRow, find_bench_file, load_bench_file, shipped_bench_files
from hal.simulated.clock import run
from hal.simulated.faults import BenchFault, BenchFaultKind, UnitFault, UnitFaultKind
from hal.simulated.kind import UnitKind, shipped_kinds
from hal.simulated.mishaps import _EFFECTS
from tests.badfiles import DataFileContract, Slip, check_slip, problems_of
from tests.hal.simulated.benchslips import GOOD, SLIPS
from tests.hal.simulated.hands import SIMULATED
from wiring.profile import load_profile
from wiring.terms import OutputType
from wiring.tomlfile import DataFileError, parse_toml_model

TWO_RELAY = load_profile(Path(__file__).parents[2] / "wiring" / "two-relay.toml")


def parse(text: str, file_name: str = "bench.toml") -> BenchFile:
    return parse_toml_model(text, file_name, BenchFile, what="simulated bench")


class TestBenchFileAsDataFile(DataFileContract):
    good_text = GOOD
    load = staticmethod(load_bench_file)


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.name)
def test_a_slip_is_told_with_its_place(slip: Slip) -> None:
    check_slip(slip, GOOD, parse)


def test_slips_of_one_file_are_told_at_once() -> None:
    text = (
        GOOD.replace("seed = 7", "seed = -1")
        .replace("count = 8", "count = 0")
        .replace('"mains-50"', '"candle"')
    )
    keys = [problem.key for problem in problems_of(lambda: parse(text))]
    assert keys == ["seed", "light.ambient", "unit#1.count"]


@pytest.mark.parametrize("name", sorted(shipped_bench_files()))
def test_every_shipped_bench_is_right_and_can_be_built(name: str) -> None:
    async def main() -> None:
        furnished = load_bench_file(find_bench_file(name)).as_ordered("barrel-18-rail")
        bench = simulate(SIMULATED, furnished, asyncio.get_running_loop())
        for _ in range(sum(row.count for row in furnished.unit)):
            assert bench.next_unit() is not None
        assert (bench.next_unit() is None) is not furnished.endless

    run(main())


def test_every_shipped_kind_stands_for_the_sensor_type_of_its_name() -> None:
    # Only the names and the outer figures: what a unit makes of its wire is its own affair.
    from sequences.library import load_type, shipped_types

    types = {name: load_type(path) for name, path in shipped_types().items()}
    assert shipped_kinds().keys() == types.keys()
    for name, kind in shipped_kinds().items():
        sensing, timing = types[name].sensing, types[name].timing
        assert (kind.blind_zone_mm, kind.range_mm) == (sensing.blind_zone_mm, sensing.range_mm)
        assert kind.standard_target_mm == sensing.standard_target_mm
        assert kind.response_s <= timing.response_on_s
        assert kind.availability_s <= timing.availability_delay_s
        assert kind.output_type in types[name].output.types


def test_rows_without_a_kind_hold_what_the_order_is_about() -> None:
    rows = (UnitRow(), UnitRow(kind="block-rail"))
    ordered = BenchFile(title="t", unit=rows).as_ordered("barrel-18-rail", OutputType.NPN)
    assert [row.kind for row in ordered.unit] == ["barrel-18-rail", "block-rail"]
    assert [row.change.output_type for row in ordered.unit] == [OutputType.NPN, None]
    with pytest.raises(ValueError, match="barrel-99"):
        ordered.as_ordered("barrel-99")


def misfit(bench_file: BenchFile, profile=SIMULATED) -> str:
    async def main() -> str:
        with pytest.raises(DataFileError) as caught:
            simulate(profile, bench_file, asyncio.get_running_loop())
        return str(caught.value)

    return run(main())


def test_a_row_that_nobody_filled_in_is_refused() -> None:
    told = misfit(BenchFile(title="t", unit=(UnitRow(kind="block-rail"), UnitRow())))
    assert "unit#2.kind: nobody says what kind it is" in told
    assert "barrel-18-rail" in told


@pytest.mark.parametrize(
    ("fault", "profile", "says"),
    [
        ({"kind": "selector-stuck", "nest": "B"}, SIMULATED, "the rig has no such nest"),
        ({"kind": "selector-stuck"}, TWO_RELAY, "nest left has no rail_selector"),
        ({"kind": "relay-slow", "relay": "plus_contact"}, SIMULATED, "nest A has no plus_contact"),
    ],
)
def test_a_fault_of_what_the_rig_does_not_have_is_refused(fault, profile, says) -> None:
    rows = (UnitRow(kind="block-rail"),)
    assert says in misfit(BenchFile(title="t", unit=rows, fault=(BenchFault(**fault),)), profile)


def test_every_fault_of_the_bench_has_an_effect() -> None:
    assert set(_EFFECTS) == set(BenchFaultKind)


def test_the_docstring_shows_a_file_that_works(tmp_path: Path) -> None:
    import textwrap

    import hal.simulated.benchfile as module

    example = textwrap.dedent(module.__doc__.split("\n\n", 1)[1])
    path = tmp_path / "example.toml"
    path.write_text(example, encoding="utf-8")
    loaded = load_bench_file(path)
    assert [row.count for row in loaded.unit] == [10, 2]


def test_two_thousand_rows_are_read_and_served_quickly() -> None:
    import time

    kinds: list[UnitKind] = list(shipped_kinds().values())
    faults = list(UnitFaultKind)
    rows = []
    for index in range(2000):
        kind = faults[index % len(faults)]
        values = {"offset_mm": 5.0} if kind in ("stores-wrongly", "drifted") else {}
        values |= {"actual": "block-rail"} if kind == "wrong-kind" else {}
        rows.append(UnitRow(kind=kinds[index % 4].name, faults=(UnitFault(kind=kind, **values),)))

    async def main() -> int:
        bench = simulate(SIMULATED, BenchFile(title="t", unit=tuple(rows)), asyncio.get_running_loop())
        served = 0
        while bench.next_unit() is not None:
            served += 1
        return served

    began = time.process_time()
    assert run(main()) == 2000
    assert time.process_time() - began < 20.0
