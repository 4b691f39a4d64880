"""Work within the calibration: it corrects the stage, budgets count by it, orders that need one are refused without."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from rig.calibration.calibration import Calibration, objections, sent_for, what_is_left
from rig.calibration.history import calibration_of
from rig.store.hashing import content_of
from sequences.checks import CalibrationNeed
from sequences.order import Order
from wiring.profile import RigProfile, TargetKind
from wiring.saying import say

if TYPE_CHECKING:
    from hal.bench import Bench


def correct_by_calibration(bench: Bench, journal: Path | None) -> None:
    """Send a stage to true distances, by the last calibration of its rig; raises JournalError."""
    from hal.target import StageTarget

    calibration = None if journal is None else _in_use(journal, bench.profile)
    if calibration is not None and isinstance(bench.target, StageTarget):
        bench.target.correction = partial(sent_for, calibration)


def as_calibrated(profile: RigProfile, journal: Path, today: date) -> RigProfile:
    """The rig with the doubt that its calibration leaves, be it less than the profile says or more, for its plans.

    As it is where there is no calibration, or none that still holds. Raises JournalError.
    """
    calibration = _in_use(journal, profile)
    if calibration is None or calibration.overdue(today):
        return profile
    left = what_is_left(calibration, profile.target)
    return profile.model_copy(update={"target": profile.target.model_copy(update={"calibrated": left})})


def outside(profile: RigProfile, journal: Path, today: date) -> str:
    """Why a rig that was calibrated is outside its calibration; empty if it is within, or never was calibrated."""
    calibration = _in_use(journal, profile)
    return "" if calibration is None else doubts(calibration, profile, today)


def _in_use(journal: Path, profile: RigProfile) -> Calibration | None:
    """That of the nest on which orders are worked through, the first."""
    return calibration_of(journal, profile.name, profile.nest[0].name)


def refusal_by_calibration(order: Order, profile: RigProfile, journal: Path, today: date) -> str:
    """Why an order that needs a calibrated rig is not worked on; empty if it may be. Raises JournalError."""
    if order.checks.calibration is not CalibrationNeed.NEEDED:
        return ""
    why = doubts(_in_use(journal, profile), profile, today)
    if not why:
        return ""
    return say(
        "order {number} needs a calibrated rig (checks.calibration), and {why}: teachrig "
        "calibrate --rig {name}",
        number=order.number,
        why=why,
        name=profile.name,
    )


def doubts(calibration: Calibration | None, profile: RigProfile, today: date) -> str:
    """Why work on a day is outside the calibration; empty if it is within."""
    if calibration is None:
        return say("rig {name} was never calibrated", name=profile.name)
    if calibration.overdue(today):
        return say("the calibration of rig {name} was due on {due}", name=profile.name, due=calibration.due)
    return "; ".join(objections(calibration, profile.target))


def words_of(calibration: Calibration, profile: RigProfile, day: date) -> str:
    """What a paper says of the calibration under which a unit was worked on."""
    first_mm, last_mm = calibration.shown_mm[0], calibration.shown_mm[-1]
    sha256, _ = content_of(calibration.content())
    u_first_mm, u_last_mm = calibration.u_mm(first_mm), calibration.u_mm(last_mm)
    corrected = ", corrected by it" if profile.target.kind is TargetKind.STAGE else ", not corrected"
    told = (
        f"Distances calibrated on {calibration.day} with {calibration.reference}, due {calibration.due}: zero "
        f"{calibration.zero_mm:+.2f} mm, scale {calibration.scale:.5f}{corrected}; expanded uncertainty (95 %) "
        f"{u_first_mm:.2f} mm at {first_mm:g} mm, {u_last_mm:.2f} mm at {last_mm:g} mm. "
        f"Record {sha256[:16]}. Currents and times rest on the limits of error that the rig's profile states."
    )
    why = doubts(calibration, profile, day)
    return f"OUTSIDE ITS CALIBRATION: {why}. {told}" if why else told
