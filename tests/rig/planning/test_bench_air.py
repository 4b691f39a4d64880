"""A bench in a cold shed or a hot hall: the checks fall where a sound unit really begins and ends to hear there."""

from __future__ import annotations

from typing import Any

import pytest

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.truths import AirTruth
from rig.events import Verdict
from rig.planning.plan import Requirement
from tests.rig.planned import STAGE, TYPES, Job, check_of, job
from tests.rig.sequencer.floor import work_through
from wiring.profile import RigProfile


def rig_at(temperature_c: float) -> RigProfile:
    air = STAGE.air.model_copy(update={"temperature_c": temperature_c})
    return STAGE.model_copy(update={"air": air})


def made_at(temperature_c: float, name: str, mode: str) -> Job:
    sensor_type = TYPES[name]
    range_mm = sensor_type.sensing.range_mm
    point: dict[str, Any] = {"at_mm": 0.6 * range_mm, "tolerance_mm": 0.03 * range_mm}
    function = next(function for offered, function in sensor_type.offered if offered == mode)
    distances_mm = point if mode == "single-point" else {}
    return job(name, mode, function, rig=rig_at(temperature_c), **distances_mm)


@pytest.mark.parametrize("mode", ["full-range", "single-point"])
@pytest.mark.parametrize("name", TYPES)
@pytest.mark.parametrize("temperature_c", [-20.0, 55.0])
def test_sound_units_are_good_on_a_bench_in_any_air(temperature_c: float, name: str, mode: str) -> None:
    bench = BenchFile(title="any air", air=AirTruth(temperature_c=temperature_c), unit=(UnitRow(count=3),))
    shift = work_through(made_at(temperature_c, name, mode), furnished=bench, units=3)
    assert {finding.verdict for finding in shift.findings} == {Verdict.GOOD}, shift.findings


def test_an_uncompensated_type_hears_less_far_on_a_cold_bench() -> None:
    # 319.1 m/s at -20 °C against 345.9 m/s at 23 °C: 0.9226 of 95 % of 800 mm; 0.2 mm for the law beyond its span.
    made = made_at(-20.0, "barrel-18-plain", "full-range")
    assert check_of(made.plan, Requirement.RANGE_END).position_mm == pytest.approx(701.2, abs=0.3)


def test_a_compensated_type_loses_only_what_its_correction_leaves_over() -> None:
    # 43 K at 0.02 % per kelvin is 0.86 % of the 95 % of 800 mm; the dry cold air adds up to 0.3 % of humidity.
    made = made_at(-20.0, "barrel-18-rail", "full-range")
    assert check_of(made.plan, Requirement.RANGE_END).position_mm == pytest.approx(760 * 0.9914, abs=2.3)


@pytest.mark.parametrize("name", TYPES)
def test_the_air_of_the_data_sheet_changes_nothing(name: str) -> None:
    made = made_at(23.0, name, "full-range")
    assert check_of(made.plan, Requirement.RANGE_END).position_mm == 0.95 * made.sensor_type.sensing.range_mm
