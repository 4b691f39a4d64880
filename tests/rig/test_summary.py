"""What became of each unit, folded from events alone."""

from __future__ import annotations

import json
from dataclasses import replace

from rig.events import (
    BenchTripped,
    CheckDone,
    ContactEnded,
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    Event,
    FigureMeasured,
    OrderEnded,
    OrderStarted,
    Purpose,
    RequirementJudged,
    Stamped,
    StepStarted,
    SupplyMeasured,
    UnitJudged,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.summary import CheckSummary, ContactSummary, Summary, UnitSummary
from wiring.terms import Rail

ORDER, CLAIM = "QOC-0101", "output with the beam clear"


class Bench:
    """Feeds hand-written events to a summary."""

    def __init__(self) -> None:
        self.summary = Summary()
        self.number = 0

    def at(self, at_s: float, serial: str, event: Event, order: str = ORDER) -> UnitSummary | None:
        self.number += 1
        at_ns = round(at_s * 1e9)
        return self.summary.add(Stamped(self.number, at_ns, "2026-01-05T07:00:00.000Z", order, serial, event))

    def start_order(self, *, simulated: bool = True, sensor_type: str = "barrel-18-rail") -> None:
        customer = "Quillmere Orchard Co-op"
        started = OrderStarted(ORDER, customer, Purpose.SET, sensor_type, 2, "simulated", simulated, "0.1.0")
        self.at(0.0, "", started)


def test_one_good_unit_from_beginning_to_end() -> None:
    bench = Bench()
    bench.start_order()
    for at_s, event in [
        (10.0, UnitStarted("A", 1)),
        (11.0, SupplyMeasured(0.031, 24.0)),
        (12.0, StepStarted(1, "clear the beam")),
        (13.5, ContactEnded(Rail.PLUS, 1.234, "flashing 2 Hz", confirmed=True)),
        (14.0, ContactEnded(Rail.MINUS, 1.5, "flashing 2 Hz", confirmed=True)),
        (15.0, CheckDone(CLAIM, "from clear", None, expected_on=False, read_on=False)),
        (16.0, CheckDone("detects inside its zone", "from clear", 226.3, expected_on=True, read_on=None)),
        (22.3456, UnitJudged(Verdict.GOOD, "proven", "6 check positions read, all right")),
        (23.0, UnitRemoved()),
    ]:
        bench.at(at_s, "QOC18-0041", event)
    assert bench.summary.simulated is True
    assert list(bench.summary.units) == [(ORDER, "QOC18-0041")]
    unit = bench.summary.units[ORDER, "QOC18-0041"]
    assert unit.as_dict() == {
        "order": ORDER,
        "serial": "QOC18-0041",
        "sensor_type": "barrel-18-rail",
        "verdict": "good",
        "reason": "proven",
        "words": "6 check positions read, all right",
        "current_a": 0.031,
        "seconds_on_bench": 12.346,
        "contacts": [
            {"rail": "L+", "length_s": 1.234, "answer": "flashing 2 Hz"},
            {"rail": "L-", "length_s": 1.5, "answer": "flashing 2 Hz"},
        ],
        "checks": [
            {"requirement": CLAIM, "position_mm": None, "expected_on": False, "read_on": False},
            {
                "requirement": "detects inside its zone",
                "position_mm": 226.3,
                "expected_on": True,
                "read_on": None,
            },
        ],
        "edges": [],
        "figures": [],
        "requirements": [],
    }
    assert json.loads(json.dumps(unit.as_dict())) == unit.as_dict()


def test_a_unit_in_work_shows_its_step_and_has_no_verdict() -> None:
    bench = Bench()
    bench.start_order()
    steps = []
    for event in (
        UnitStarted("A", 1),
        StepStarted(1, "clear the beam"),
        StepStarted(2, "teach wire to L+ until flashing 2 Hz"),
        CheckDone(CLAIM, "from clear", None, expected_on=False, read_on=False),
    ):
        unit = bench.at(1.0, "QOC18-0041", event)
        assert unit is not None
        steps.append(unit.step)
        assert unit.verdict is None
    assert steps == ["inspection", "clear the beam", "teach wire to L+ until flashing 2 Hz", CLAIM]


def test_events_of_no_unit_belong_to_none() -> None:
    bench = Bench()
    bench.start_order(simulated=False)
    assert bench.at(1.0, "", BenchTripped("asked", "stopped", "start again")) is None
    assert bench.at(2.0, "", OrderEnded(ORDER, 0, 0, 0, 2)) is None
    assert bench.summary.units == {}
    assert bench.summary.simulated is False


def test_units_are_kept_apart_by_order_and_serial_in_the_order_in_which_they_came() -> None:
    bench = Bench()
    bench.start_order()
    for order, serial, current_a in (
        (ORDER, "QOC18-0042", 0.031),
        (ORDER, "QOC18-0041", 0.032),
        ("QOC-0102", "QOC18-0042", 0.033),
    ):
        bench.at(1.0, serial, UnitStarted("A", 1), order)
        bench.at(2.0, serial, SupplyMeasured(current_a, 24.0), order)
    assert [(key, unit.current_a) for key, unit in bench.summary.units.items()] == [
        ((ORDER, "QOC18-0042"), 0.031),
        ((ORDER, "QOC18-0041"), 0.032),
        (("QOC-0102", "QOC18-0042"), 0.033),
    ]


def test_a_unit_that_is_set_again_starts_with_a_clean_sheet() -> None:
    bench = Bench()
    bench.start_order()
    for event in (
        UnitStarted("A", 1),
        SupplyMeasured(0.08, 24.0),
        ContactEnded(Rail.PLUS, 1.2, "none", confirmed=False),
        CheckDone(CLAIM, "from clear", None, expected_on=False, read_on=True),
        UnitJudged(Verdict.BAD, "over-current", "unit draws 80 mA"),
    ):
        bench.at(1.0, "QOC18-0041", event)
    again = bench.at(100.0, "QOC18-0041", UnitStarted("A", 1))
    assert again == UnitSummary(ORDER, "QOC18-0041", "barrel-18-rail", step="inspection", _started_s=100.0)
    bench.at(101.0, "QOC18-0041", ContactEnded(Rail.MINUS, 1.1, "flashing 2 Hz", confirmed=True))
    bench.at(102.0, "QOC18-0041", CheckDone(CLAIM, "from clear", None, expected_on=False, read_on=False))
    unit = bench.at(107.5, "QOC18-0041", UnitJudged(Verdict.GOOD, "proven", "all right"))
    assert unit is not None
    assert unit.verdict is Verdict.GOOD
    assert unit.current_a is None
    assert unit.contacts == [ContactSummary("L-", 1.1, "flashing 2 Hz")]
    assert unit.checks == [CheckSummary(CLAIM, None, expected_on=False, read_on=False)]
    assert unit.seconds_on_bench == 7.5


def test_a_measured_unit_shows_its_edges_with_the_time_that_each_took() -> None:
    bench = Bench()
    bench.start_order()
    found = EdgeMeasured(
        "outer", "step by step", 400.0, 0.5, 404.0, 0.6, 4.0, 0.7, 0.4, 0.04, 0.006, None, None, 90, 120
    )
    judged = RequirementJudged(
        "operate point, outer", Verdict.GOOD, "guarded", 400.0, 0.5, "mm", 392.0, 408.0, 0.0, "good"
    )
    steps = []
    for at_s, event in [
        (1.0, UnitStarted("A", 1)),
        (10.0, EdgeBegun("outer", "step by step", 1.0)),
        (30.5, replace(found, operate_u_mm=0.9)),
        (31.0, EdgeBegun("outer", "step by step", 0.5)),
        (41.0, found),
        (42.0, EdgeBegun("inner", "step by step", 0.5)),
        (
            43.0,
            EdgeNotMeasured(
                "inner", "output-chatters", "the output keeps changing", "Look for a loose plug."
            ),
        ),
        (44.0, FigureMeasured("supply current", 0.03, 0.001, "A")),
        (45.0, judged),
    ]:
        unit = bench.at(at_s, "QOC18-0041", event)
        assert unit is not None
        steps.append(unit.step)
    assert "measuring the outer edge" in steps
    told = unit.as_dict()
    outer, inner = told["edges"]
    assert (outer["seconds"], outer["wanted_mm"], outer["operate_u_mm"]) == (30.5, 0.5, 0.5)
    assert (inner["edge"], inner["trouble"], inner["seconds"]) == ("inner", "the output keeps changing", 1.0)
    assert [one["requirement"] for one in told["requirements"]] == ["operate point, outer"]
    assert told["figures"][0]["value"] == 0.03
