"""Bias and linearity of the target's scale, from the calibration under which a study was opened; pure."""

from __future__ import annotations

from rig.calibration.calibration import Calibration
from rig.gauge.bias import Bias
from rig.gauge.course import Course
from rig.gauge.figures import Scale
from wiring.profile import RigProfile, TargetKind


def scale_of(course: Course, rig: RigProfile) -> Scale | None:
    """What the calibration says of the scale; None where there was none, or no value yet."""
    content = course.design.calibration
    if content is None or not course.readings:
        return None
    calibration = Calibration.from_content(content)
    shown_mm, true_mm = calibration.shown_mm, calibration.true_mm
    off_mm = tuple(shown - true for shown, true in zip(shown_mm, true_mm, strict=True))
    values = [one.value_mm for one in course.readings.values()]
    return Scale(
        Bias(true_mm, off_mm),
        rig.target.kind is TargetKind.STAGE,
        calibration.u_mm(sum(values) / len(values)),
        calibration.day,
        calibration.reference,
    )
