"""The calculation sheet against calculations by hand, and every value that is pushed out of bounds."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from rig.explained.calculator import worked_out
from rig.explained.electrical import electrical_sheet, out_of_bounds
from rig.explained.limits import Limited
from tests.looking import examples
from tests.wiring.variants import rig_profiles
from wiring.profile import RigProfile, load_profile, shipped_profiles

SIMULATED = load_profile(shipped_profiles()["simulated"])
TWO_RELAY = load_profile(Path(__file__).parents[2] / "wiring" / "two-relay.toml")


def results(profile: RigProfile) -> dict[str, Limited]:
    return {one.worked.what: one for chapter in electrical_sheet(profile) for one in chapter.results}


# Each by hand on a pocket calculator, from the profile's figures and the standard named; all standards from memory.
BY_HAND = [
    # 24 V and 10 % (IEC 60947-5-2) is 26.4 V; inputs withstand 30 V (IEC 61131-2).
    ("highest voltage of the supply of the units", 26.4, None, 30.0),
    # 26.4 V over 1000 ohm less 5 % = 26.4 / 950; 26.4 x 26.4 / 950.
    ("current with the teach wire shorted to the other rail", 0.02779, None, 0.25),
    ("heat in the series resistor meanwhile", 0.7336, None, 1.0),
    # 85 % of 24 V is 20.4 V; 1050 ohm x (2 mA + 12.4 V / 100 kOhm = 0.124 mA) = 2.230 V off it;
    # IEC 61131-2 type 3: on from 11 V, and 0.5 V that the monitor may be wrong.
    ("lowest voltage of the wire held to L+", 18.17, 11.5, None),
    # 1050 ohm x (2 mA + 0.08 mA); type 3: off up to 5 V, less 0.5 V.
    ("highest voltage of the wire held to L-", 2.184, None, 4.5),
    # 8 V and 100 kOhm x 10 uA = 1 V either way.
    ("lowest voltage of the floating wire", 7.0, 5.5, 10.5),
    ("highest voltage of the floating wire", 9.0, 5.5, 10.5),
    ("lowest voltage of the unit's L+ while it is supplied", 20.4, 11.5, None),
    # 26.4 x 26.4 / 4465 ohm.
    ("heat in the load resistor", 0.1561, None, 0.25),
    # IEC 60947-5-2: at most 3.5 V across an output that is on; 20.4 - 3.5.
    ("lowest voltage, PNP output on, load to L-", 16.9, 11.5, None),
    # IEC 60947-5-2: at most 0.5 mA through one that is off; 4935 ohm x 0.58 mA.
    ("highest voltage, PNP output off, load to L-", 2.862, None, 4.5),
    ("highest voltage, NPN output on, load to L+", 3.5, None, 4.5),
    # 20.4 V - 4935 ohm x (0.5 mA + 0.124 mA) = 20.4 - 3.079.
    ("lowest voltage, NPN output off, load to L+", 17.32, 11.5, None),
    # IEC 61131-2 type 3: 2 mA at 11 V. 11 - 1.4 - 3.9 x 1.05 = 5.505 V over 2310 ohm.
    ("least current at 11 V", 0.002383, 0.002, None),
    # IEC 61131-2 type 3: 1.5 mA at most at 5 V. 5 - 1 - 3.705 = 0.295 V over 2090 ohm.
    ("most current at 5 V", 0.0001411, None, 0.0015),
    # 30 - 1 - 3.705 = 25.295 V; squared over 2090 ohm.
    ("heat in the input resistor at 30 V", 0.3061, None, 0.5),
    ("lowest voltage across an input that a contact feeds", 20.4, 11.0, None),
    ("lowest voltage across an input that a monitor or the pick-up switches", 19.4, 11.0, None),
    # JESD8C: low up to 0.8 V, high from 2.0 V. 10500 ohm x 10 uA; 3.135 V less the same.
    ("GPIO22: lowest high level", 3.03, 2.0, None),
    # (3.135 - 1.4) / 493.5; (3.465 - 1) / 446.5; six of those.
    ("least LED current", 0.003516, 0.003, None),
    ("most current of a line", 0.005521, None, 0.008),
    ("most current of all lines", 0.03312, None, 0.05),
    # 26.4 V over 1440 ohm; 20.4 V less 1.2 V is four fifths of 24 V; 26.4 V and 24 V and 1 V.
    ("most coil current", 0.01833, None, 0.1),
    ("lowest share of the rated voltage across a coil", 0.8, 0.75, None),
    ("voltage across the driver when it opens, diode and Zener", 51.4, None, 60.0),
    # 1.1 x 160 kOhm x 1 uF = 0.176 s; and 6 % and 10 ms; less 6 % and two beats of 60 ms.
    ("longest time from the last pulse until the coils are off", 0.1966, None, 0.2),
    ("how late a pulse may come before the coils drop (a pulse is two beats)", 0.04544, 0.03, None),
    # 0.1 + 0.002 + 26.4 / 4465.
    ("most current of all units with their loads", 0.1079, None, 0.25),
    ("current limit, which has to act before the fuse", 0.25, None, 0.5),
    ("fuse in L+", 0.5, None, 3.0),
    # 5 x 26.4 / 1440 = 0.0917; 9 x 25.4 / 2090 = 0.1094; 3 x 0.03; 0.3.
    ("most current with everything on", 0.591, None, 0.8),
    ("fuse in the control supply, which the supply has to be able to blow", 1.0, None, 1.5),
]  # fmt: skip


@pytest.mark.parametrize(("what", "value", "least", "most"), BY_HAND, ids=[row[0] for row in BY_HAND])
def test_as_worked_out_by_hand(what: str, value: float, least: float | None, most: float | None) -> None:
    one = results(SIMULATED)[what]
    assert float(one.worked.result) == pytest.approx(value, rel=2e-4)
    assert (one.least, one.most) == (least, most)
    assert one.limit_source
    assert one.within


@pytest.mark.parametrize("name", shipped_profiles())
def test_what_ships_is_within_its_bounds(name: str) -> None:
    assert [
        one.worked.what for one in out_of_bounds(electrical_sheet(load_profile(shipped_profiles()[name])))
    ] == []


def mutated(path: str, value: object) -> RigProfile:
    data: dict[str, Any] = SIMULATED.model_dump(mode="json")
    *tables, key = path.split(".")
    place: Any = data
    for table in tables:
        place = place[0] if table == "0" else place[table]
    place[key] = value
    return RigProfile.model_validate_json(json.dumps(data), strict=True)


OUT_OF_BOUNDS = [
    ("supply.voltage_v", 28.0, "highest voltage of the supply of the units"),
    ("supply.current_limit_a", 0.02, "current with the teach wire shorted to the other rail"),
    ("nest.0.series_resistor_ohm", 680.0, "heat in the series resistor meanwhile"),
    ("nest.0.series_resistor_ohm", 2200.0, "highest voltage of the wire held to L-"),
    ("electrical.teach_input_a", 0.009, "lowest voltage of the wire held to L+"),
    ("electrical.monitor_middle_v", 6.0, "lowest voltage of the floating wire"),
    ("electrical.monitor_input_ohm", 300_000.0, "highest voltage of the floating wire"),
    ("nest.0.load_resistor_ohm", 2200.0, "heat in the load resistor"),
    ("nest.0.load_resistor_ohm", 10_000.0, "highest voltage, PNP output off, load to L-"),
    ("nest.0.load_resistor_ohm", 22_000.0, "lowest voltage, NPN output off, load to L+"),
    ("supply.voltage_v", 17.0, "lowest voltage, PNP output on, load to L-"),
    ("electrical.monitor_error_v", 2.0, "highest voltage, NPN output on, load to L+"),
    ("electrical.input_resistor_ohm", 3300.0, "least current at 11 V"),
    ("electrical.input_resistor_ohm", 1000.0, "heat in the input resistor at 30 V"),
    ("electrical.control_voltage_v", 12.0, "lowest voltage across an input that a contact feeds"),
    ("electrical.pull_ohm", 200_000.0, "GPIO22: lowest high level"),
    ("electrical.drive_resistor_ohm", 1000.0, "least LED current"),
    ("electrical.drive_resistor_ohm", 220.0, "most current of a line"),
    ("electrical.lines_a", 0.03, "most current of all lines"),
    ("electrical.coil_ohm", 120.0, "most coil current"),
    ("electrical.coil_driver_drop_v", 3.0, "lowest share of the rated voltage across a coil"),
    ("electrical.flyback_v", 47.0, "voltage across the driver when it opens, diode and Zener"),
    ("electrical.monostable_ohm", 220_000.0, "longest time from the last pulse until the coils are off"),
    ("electrical.monostable_ohm", 120_000.0, "how late a pulse may come before the coils drop (a pulse is two beats)"),
    ("electrical.unit_a", 0.4, "most current of all units with their loads"),
    ("electrical.supply_fuse_a", 0.2, "current limit, which has to act before the fuse"),
    ("electrical.supply_fuse_a", 4.0, "fuse in L+"),
    ("electrical.swing_a", 1.0, "most current with everything on"),
    ("electrical.control_fuse_a", 2.0, "fuse in the control supply, which the supply has to be able to blow"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "what"), OUT_OF_BOUNDS)
def test_a_value_out_of_bounds_is_flagged(path: str, value: object, what: str) -> None:
    assert not results(mutated(path, value))[what].within
    assert results(SIMULATED)[what].within


def test_two_welded_contacts_of_a_two_relay_nest_pass_milliamperes() -> None:
    # 26.4 V over two resistors of 1000 ohm less 5 %.
    one = results(TWO_RELAY)["current from rail to rail with both contacts welded, a resistor in each leg"]
    assert float(one.worked.result) == pytest.approx(0.01389, rel=1e-3)
    assert one.within


def test_on_another_header_nothing_is_claimed_of_its_lines() -> None:
    data = {**TWO_RELAY.model_dump(mode="json"), "electrical": {"header": "other"}}
    other = RigProfile.model_validate_json(json.dumps(data), strict=True)
    assert out_of_bounds(electrical_sheet(other)) == ()


def test_the_lines_with_resistors_of_their_own_are_looked_at_apart() -> None:
    # 3.465 V over 9500 ohm and over the board's own 1800 ohm: 0.365 mA + 1.925 mA, more than 100 % of 2 mA.
    slots = results(TWO_RELAY)["GPIO2, GPIO3: current that the coupler has to pass while it is fed"]
    assert float(slots.worked.result) == pytest.approx(0.00229, rel=1e-3)
    assert not slots.within


def test_an_output_that_a_reset_would_switch_on_is_flagged() -> None:
    flagged = [one.worked.what for one in out_of_bounds(electrical_sheet(TWO_RELAY))]
    assert any(what.startswith("GPIO14: LED current while the board is in reset") for what in flagged)


@given(rig_profiles())
@settings(max_examples=examples(25))
def test_every_line_gives_what_is_printed_beside_it(profile: RigProfile) -> None:
    for chapter in electrical_sheet(profile):
        for one in chapter.results:
            assert f"{worked_out(one.worked.numbers):.4g}" == one.worked.result
            assert one.least is not None or one.most is not None
