"""A probe measures the air at the bench; outside what the plan allows for, nothing is proven."""

from __future__ import annotations

from typing import Any

import pytest

from hal.simulated.faults import UnitFault
from hal.simulated.truths import AirTruth
from rig.events import AirMeasured, ContactEnded, SupplySwitched, Verdict
from rig.sequencer.findings import Reason
from tests.rig.planned import STAGE
from tests.rig.sequencer.floor import SETTINGS, Shift, on, rig_like, work_through

PROBED = rig_like(STAGE, air=STAGE.air.model_dump(mode="json") | {"probe": {"port": "sim:probe", "unit": 5}})
POINT = on(SETTINGS["18 point"], PROBED)


def done_in(faults: tuple[UnitFault, ...] = (), **air: Any) -> Shift:
    return work_through(POINT, faults, air=AirTruth(**air))


def test_the_air_is_recorded_before_a_unit_is_powered_and_before_it_is_called_good() -> None:
    shift = done_in(temperature_c=23.46, humidity_percent=52.04)
    assert shift.finding.verdict is Verdict.GOOD
    measured = shift.noted(AirMeasured)
    assert measured == 2 * [AirMeasured(23.5, 52.0, STAGE.air.pressure_kpa, "air probe at sim:probe")]
    kinds = [one.event.kind for one in shift.events]
    assert kinds.index("air-measured") < kinds.index("supply-switched")
    assert kinds[kinds.index("unit-judged") - 1] == "air-measured"


@pytest.mark.parametrize(
    ("air", "words"),
    [
        ({"temperature_c": 24.1}, "the air is 24.1 °C, 50 %; planned for 23 ±1 °C, 50 ±10 %"),
        ({"temperature_c": 21.9}, "the air is 21.9 °C"),
        ({"humidity_percent": 61.0}, "the air is 23.0 °C, 61 %"),
    ],
)
def test_in_other_air_than_planned_for_a_unit_is_not_even_powered(air: dict[str, Any], words: str) -> None:
    shift = done_in(**air)
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.AIR_CHANGED)
    assert words in shift.finding.words
    assert shift.noted(SupplySwitched) == shift.noted(ContactEnded) == []
    shift.assert_safe()


@pytest.mark.parametrize("faults", [(), (UnitFault.model_validate({"kind": "refuses-teach"}),)])
def test_air_that_warms_up_meanwhile_takes_every_verdict_back(faults: tuple[UnitFault, ...]) -> None:
    shift = done_in(faults, temperature_c=23.7, drift_c_per_hour=60.0)
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.AIR_CHANGED)
    assert len(shift.noted(AirMeasured)) == 2


def test_at_the_very_edge_of_what_was_planned_for_it_still_holds() -> None:
    assert done_in(temperature_c=24.0, humidity_percent=60.0).finding.verdict is Verdict.GOOD


def test_without_a_probe_nothing_is_measured() -> None:
    assert work_through(SETTINGS["18 point"]).noted(AirMeasured) == []
