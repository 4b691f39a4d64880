"""What may go wrong while a unit is measured: each is recognised, named in its finding, and never ends in good."""

from __future__ import annotations

import pytest

from hal.simulated.faults import BenchFault, UnitFault
from rig.events import BenchTripped, EdgeNotMeasured, Verdict
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from tests.rig.planned import job
from tests.rig.recount.replays import assert_recount_agrees
from tests.rig.sequencer.floor import Shift, work_through
from wiring.terms import Verification

MEASURED = CheckPlan(method=Verification.MEASURED)
POINT = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=MEASURED)
WINDOW = job("barrel-18-rail", "window", near_mm=200, far_mm=500, tolerance_mm=8, checks=MEASURED)
CONTACTS = 2  # a rail-order unit is taught by two; what comes later befalls the measuring


def measured_with(fault: BenchFault | UnitFault, made: object = POINT, seed: int = 1) -> Shift:
    unit = [fault] if isinstance(fault, UnitFault) else []
    bench = [fault] if isinstance(fault, BenchFault) else []
    shift = work_through(made, unit, bench, seed=seed)  # type: ignore[arg-type]
    shift.assert_safe()
    assert shift.finding.verdict is not Verdict.GOOD
    assert_recount_agrees(shift.events)
    return shift


@pytest.mark.parametrize("after_s", [4.0, 9.0, 25.0])
@pytest.mark.parametrize(
    ("kind", "reasons", "more"),
    [
        # On a way of a millimetre a drive that halts and one that loses steps end up alike.
        ("stage-stalled", (Reason.DRIVE_STALLED, Reason.DRIVE_LOST_STEPS), {}),
        ("stage-loses-steps", (Reason.DRIVE_LOST_STEPS,), {"offset_mm": 0.2}),
        ("stage-late", (Reason.DRIVE_LATE,), {}),
    ],
)
def test_a_drive_at_fault_ends_the_order_and_is_named(
    kind: str, reasons: tuple[Reason, ...], more: dict[str, float], after_s: float
) -> None:
    fault = BenchFault(kind=kind, after_contacts=CONTACTS, after_s=after_s, **more)  # type: ignore[arg-type]
    shift = measured_with(fault)
    assert shift.finding.verdict is Verdict.UNDECIDED
    assert shift.finding.reason in (reasons if after_s > 4 else reasons[:1])
    (tripped,) = shift.noted(BenchTripped)
    assert tripped.cause == str(shift.finding.reason)
    assert tripped.check.endswith("then start again.")
    assert shift.order.trip is not None


@pytest.mark.parametrize("after_s", [5.0, 10.0, 20.0])
def test_an_output_that_chatters(after_s: float) -> None:
    fault = BenchFault(kind="output-chatters", after_contacts=CONTACTS, after_s=after_s)
    finding = measured_with(fault).finding
    assert finding.verdict is Verdict.UNDECIDED
    assert finding.reason in (Reason.OUTPUT_CHATTERS, Reason.OUTPUT_UNCLEAR)
    assert "output" in finding.words


@pytest.mark.parametrize("after_s", [0.5, 4.0, 12.0, 22.0])
@pytest.mark.parametrize("made", [POINT, WINDOW], ids=["point", "window"])
def test_a_target_left_in_the_beam(made: object, after_s: float) -> None:
    fault = BenchFault(kind="target-left-in", after_contacts=CONTACTS, after_s=after_s)
    finding = measured_with(fault, made).finding
    assert (finding.verdict, finding.reason) == (Verdict.UNDECIDED, Reason.TARGET_LEFT)
    assert "leaves the beam" in finding.words


@pytest.mark.parametrize("after_s", [13.0, 18.0, 24.0])
@pytest.mark.parametrize("offset_mm", [-6.0, 6.0])
def test_a_unit_that_changes_its_mind_between_readings(offset_mm: float, after_s: float) -> None:
    shift = measured_with(UnitFault(kind="drifted", offset_mm=offset_mm, after_s=after_s))
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.CHANGES_ITS_MIND)
    (failed,) = shift.noted(EdgeNotMeasured)
    assert failed.trouble == "unit-changes-its-mind"
    assert failed.check


def test_a_scale_that_slips_unseen_looks_like_a_unit_that_changes_its_mind() -> None:
    fault = BenchFault(kind="target-misplaced", offset_mm=6.0, after_contacts=CONTACTS, after_s=14.0)
    assert measured_with(fault).finding.reason is Reason.CHANGES_ITS_MIND


def test_a_unit_much_noisier_than_its_type_is_never_good() -> None:
    for seed in range(8):
        finding = measured_with(UnitFault(kind="noisy-echo", factor=15.0), seed=seed).finding
        assert finding.reason in (
            Reason.OUTPUT_CHATTERS,
            Reason.OUTPUT_UNCLEAR,
            Reason.OUTPUT_UNSTEADY,
            Reason.CHANGES_ITS_MIND,
            Reason.REPEAT_ACCURACY,
            Reason.SET_POINT_OFF,
            Reason.NEAR_TOLERANCE,
            Reason.WIDE_DIFFERENTIAL,
            Reason.TARGET_LEFT,
        )
