"""Measured units worked out from their record alone: the same figures, the same verdict, nothing changed unseen."""

from __future__ import annotations

import random
from dataclasses import fields
from typing import Any

import pytest

from hal.simulated.faults import UnitFault
from rig.events import EdgeMeasured, EdgePassed, EdgeRead, PoweredUp, RequirementJudged, Verdict
from rig.recount.attempt import Attempt
from rig.recount.recount import recount
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from sequences.words import Rule
from tests.rig.planned import Job, job, rig_with
from tests.rig.recount.replays import attempts_in, changed
from tests.rig.sequencer.floor import on, work_through
from wiring.terms import Verification

MEASURED = CheckPlan(method=Verification.MEASURED)
POINT = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=MEASURED)
WINDOW = job("barrel-12-count", "window", "NC", near_mm=100, far_mm=200, tolerance_mm=5, checks=MEASURED)
FULL = job("block-rail", "full-range", checks=MEASURED.model_copy(update={"ends": True}))
SLOW = on(
    job(
        "barrel-18-rail",
        at_mm=400,
        tolerance_mm=20,
        checks=MEASURED.model_copy(update={"uncertainty_mm": 2.0}),
    ),
    rig_with(speed_mm_s=20.0, farthest_mm=1000.0),
)


def attempts(made: Job, *faults: UnitFault, units: int = 1, seed: int = 1) -> tuple[Attempt, ...]:
    return attempts_in(work_through(made, faults, units=units, seed=seed).events)


@pytest.mark.parametrize("made", [POINT, WINDOW, FULL, SLOW], ids=["point", "window", "full range", "sweep"])
def test_every_figure_and_verdict_comes_out_of_the_record_again(made: Job) -> None:
    for attempt in attempts(made, units=3):
        again = recount(attempt)
        assert again.agrees, again.departures
        assert again.worked_out is not None
        assert any(isinstance(one.event, EdgeMeasured) for one in attempt.events)


@pytest.mark.parametrize(
    "fault",
    [
        {"kind": "stores-wrongly", "offset_mm": 8.6},
        {"kind": "stores-wrongly", "offset_mm": 30.0},
        {"kind": "noisy-echo", "factor": 15.0},
        {"kind": "wide-hysteresis", "percent": 3.2},
        {"kind": "drifted", "offset_mm": 5.0, "after_s": 20.0},
        {"kind": "wrong-output-type"},
    ],
)
def test_units_that_are_measured_on_or_cannot_be_measured_too(fault: dict[str, Any]) -> None:
    for seed in range(4):
        (attempt,) = attempts(POINT, UnitFault(**fault), seed=seed)
        again = recount(attempt)
        assert again.agrees, again.departures
        assert again.worked_out is not None
        assert again.worked_out.verdict is not Verdict.GOOD or fault["kind"] == "wide-hysteresis"


def test_another_rule_comes_to_another_verdict_from_the_same_record() -> None:
    fault = UnitFault(kind="stores-wrongly", offset_mm=8.0)
    recorded = attempts(POINT, fault, units=6)
    found = [recount(one) for one in recorded]
    open_ = [one for one in found if one.recorded and one.recorded.reason == Reason.NEAR_TOLERANCE]
    assert open_
    simple = job(
        "barrel-18-rail", at_mm=400, tolerance_mm=8, checks=MEASURED.model_copy(update={"rule": Rule.SIMPLE})
    )
    assert not recount(recorded[found.index(open_[0])], simple.plan).agrees


def _turned(now: object) -> object:
    match now:
        case bool():
            return not now
        case int() | float():
            return 1000.0 + 10 * now
    return now


# Of two looks at a clear beam both have to see something. A look is not watched, and chatter counts only where an
# edge is searched for: elsewhere it is read again.
DECIDES_NOTHING = (
    "edge-read clear beam: detected",
    "edge-read seat: steady",
    "edge-read clear beam: steady",
    "edge-read clear beam: changes",
    "edge-read inside: changes",
    "edge-read repeat accuracy: changes",
)


def test_no_answer_of_the_unit_can_be_changed_unseen() -> None:
    (attempt,) = attempts(POINT)
    draw = random.Random(1)
    kinds = (EdgeRead, EdgePassed, EdgeMeasured, PoweredUp, RequirementJudged)
    places = [index for index, one in enumerate(attempt.events) if isinstance(one.event, kinds)]
    unseen = []
    for index in draw.sample(places, 16):
        event = attempt.events[index].event
        for field in fields(event):
            other = _turned(getattr(event, field.name))
            if (
                other is not getattr(event, field.name)
                and recount(changed(attempt, index, **{field.name: other})).agrees
            ):
                unseen.append(f"{event.kind} {getattr(event, 'where', '')}: {field.name}")
    assert {one for one in unseen if one not in DECIDES_NOTHING} == set()
