"""The rates file: what ships is right, every wrong edit is told with its place; what is drawn keeps to it."""

from __future__ import annotations

import math
from collections import Counter
from statistics import mean, stdev

import pytest

from hal.simulated.faults import BenchFaultKind, UnitFaultKind
from rig.risk.draw import NO_FAULT, SEVERAL, draw_unit, unit_seed
from rig.risk.rates import Rates, find_rates, load_rates, shipped_rates
from rig.statistics.binomial import clopper_pearson
from tests.badfiles import DataFileContract, Slip, check_slip
from tests.rig.risk.cases import LIBRARY, case, rates
from tests.rig.risk.left_out import OF_THE_SELF_CHECK
from wiring.tomlfile import DataFileError, parse_toml_model

GOOD = """# Everything that a table of rates can say.
title = "Test"

[spread]
store_error = 0.5
zero = 1.0
scale = 1.0
air = 1.0
air_drift_c_per_hour = 2.0
light = ["dark", "mains-50"]
leaks = 0.2

[[unit_fault]]
kind = "stores-wrongly"
share = 0.3
offset_tolerances = [-3.0, 3.0]

[[unit_fault]]
kind = "drifted"
share = 0.2
offset_tolerances = [-2.0, 2.0]
after_s = [0.0, 60.0]

[[bench_fault]]
kind = "supply-sag"
share = 0.1
voltage_v = [5.0, 20.0]
after_s = [0.0, 40.0]
"""

SLIPS = (
    Slip("share in percent", "share = 0.3", "share = 30", "unit_fault#1.share", "too large", "30", "0 to 1"),
    Slip(
        "shares of more than all",
        "share = 0.3",
        "share = 0.9",
        "unit_fault",
        "add up to more than 1",
        "1.1",
        "up to 1",
        at='[[unit_fault]]\nkind = "stores-wrongly"',
    ),
    Slip(
        "unknown fault",
        '"drifted"',
        '"drfited"',
        "unit_fault#2.kind",
        "did you mean drifted?",
        '"drfited"',
        "dead",
    ),
    Slip(
        "range that falls",
        "[-2.0, 2.0]",
        "[2.0, -2.0]",
        "unit_fault#2.offset_tolerances",
        "the range falls",
        "2 to -2",
        "[from, to]",
    ),
    Slip(
        "range of another fault",
        "after_s = [0.0, 60.0]",
        "percent = [1.0, 2.0]",
        "unit_fault#2.percent",
        "knows no percent",
        "1 to 2",
        "after_s",
    ),
    Slip(
        "nothing wrong",
        "offset_tolerances = [-3.0, 3.0]\n",
        "",
        "unit_fault#1.offset_tolerances",
        "nothing would be wrong",
        "",
        "inverse = true",
        at="[[unit_fault]]\nkind",
    ),
    Slip(
        "sag to nowhere",
        "voltage_v = [5.0, 20.0]\n",
        "",
        "bench_fault#1.voltage_v",
        "needs voltage_v",
        "",
        "[from, to]",
        at="[[bench_fault]]",
    ),
    Slip(
        "unheard-of light",
        '"mains-50"',
        '"candle"',
        "spread.light#2",
        "is not a word known here",
        '"candle"',
        "daylight",
    ),
    Slip(
        "mistyped key",
        "leaks = 0.2",
        "leeks = 0.2",
        "spread.leeks",
        "did you mean leaks?",
        "0.2",
        "store_error",
    ),
)


def parse(text: str, file_name: str = "rates.toml") -> Rates:
    return parse_toml_model(text, file_name, Rates, what="table of rates")


class TestRatesAsDataFile(DataFileContract):
    good_text = GOOD
    load = staticmethod(load_rates)


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.name)
def test_a_slip_is_told_with_its_place(slip: Slip) -> None:
    check_slip(slip, GOOD, parse)


@pytest.mark.parametrize("name", sorted(shipped_rates()))
def test_every_shipped_table_knows_every_fault(name: str) -> None:
    table = load_rates(find_rates(name))
    assert {rate.kind for rate in table.unit_fault if rate.share > 0} == set(UnitFaultKind)
    assert {rate.kind for rate in table.bench_fault if rate.share > 0} == set(
        BenchFaultKind
    ) - OF_THE_SELF_CHECK


def test_an_unknown_table_is_told() -> None:
    with pytest.raises(DataFileError, match="did you mean realistic"):
        LIBRARY.read_rates("realistik")


def test_faults_come_as_often_as_stated() -> None:
    made = case(table=parse(GOOD))
    drawn = Counter(draw_unit(made, unit_seed(5, number)).fault for number in range(4000))
    shares = {
        "stores-wrongly": 0.3 * 0.9,
        "drifted": 0.2 * 0.9,
        "supply-sag": 0.5 * 0.1,
        SEVERAL: 0.05,
        NO_FAULT: 0.45,
    }
    for fault, share in shares.items():
        assert share in clopper_pearson(drawn[fault], 4000, 0.9999), fault


def test_sound_units_and_benches_spread_as_stated() -> None:
    made = case(table=rates(store_error=0.5, zero=1.0, air=0.5))
    benches = [draw_unit(made, unit_seed(7, number)).bench_file for number in range(1500)]
    # Half of 0.5 % is the whole spread; a reading's own 0.1 % is a part of it.
    assert benches[0].unit[0].change.store_error_percent == pytest.approx(math.sqrt(0.25**2 - 0.1**2))
    zeros = [bench.target.zero_mm for bench in benches]
    assert max(map(abs, zeros)) <= 0.2
    assert stdev(zeros) == pytest.approx(0.2 / math.sqrt(3), rel=0.05)
    airs = [bench.air.temperature_c for bench in benches]
    assert mean(airs) == pytest.approx(23.0, abs=0.05)
    assert max(abs(one - 23.0) for one in airs) <= 0.5


def test_a_seed_draws_the_same_again_and_another_another() -> None:
    made = case(table=parse(GOOD))
    assert draw_unit(made, 77) == draw_unit(made, 77)
    seeds = {unit_seed(seed, number) for seed in range(5) for number in range(400)}
    assert len(seeds) == 2000


def test_offsets_are_drawn_in_tolerances_of_the_order() -> None:
    made = case(table=rates({"kind": "stores-wrongly", "share": 1.0, "offset_tolerances": (2.0, 2.0)}))
    fault = draw_unit(made, 1).unit_fault
    assert fault is not None
    assert fault.offset_mm == pytest.approx(16.0)
