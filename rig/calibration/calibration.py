"""One calibration of one nest's distances: what was measured, what follows, and how long it holds; pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from functools import cached_property
from math import hypot, sqrt
from typing import Any

from rig.statistics.line import Line, fit_line
from rig.statistics.uncertainty import coverage_factor
from wiring.profile import Calibrated, TargetKind, TargetProfile

COVERAGE = 0.95
_FIRST_MM = 50.0
"""Nearer to the face a rule or a block is hard to handle (our choice)."""
_PLOT_WIDTH = 41


@dataclass(frozen=True)
class Calibration:
    """Reference distances against the target's own scale, and the line through them.

    Attributes:
        shown_mm: where the target was sent, by its own scale.
        true_mm: what the reference said of the same places.
        reference: with what it was measured.
        reference_error_mm: half-width of the reference's error, the same at every place.
        day: ISO date on which it was made; it holds up to and with `due`.

    """

    rig: str
    nest: str
    shown_mm: tuple[float, ...]
    true_mm: tuple[float, ...]
    reference: str
    reference_error_mm: float
    person: str
    day: str
    due: str

    @cached_property
    def line(self) -> Line:
        """True distance over the distance shown."""
        return fit_line(self.shown_mm, self.true_mm)

    @property
    def zero_mm(self) -> float:
        """By how much the target stands further away than its scale says, at its zero."""
        return self.line.intercept

    @property
    def scale(self) -> float:
        """How many true millimetres one of the scale is."""
        return self.line.slope

    def u_mm(self, shown_mm: float) -> float:
        """Expanded uncertainty (95 %) of the corrected distance: scatter of the line, and reference (GUM 5.1.2).

        The reference's error is taken as rectangular (GUM 4.3.7), and its part of the effective degrees of freedom as
        endless, so that Student's factor with those of the line alone is on the safe side.
        """
        factor = coverage_factor(COVERAGE, self.line.degrees_of_freedom)
        return factor * hypot(self.line.u_at(shown_mm), self.reference_error_mm / sqrt(3))

    def overdue(self, today: date) -> bool:
        """Whether its time is over."""
        return today > date.fromisoformat(self.due)

    def content(self) -> dict[str, Any]:
        """What is kept in the record."""
        return asdict(self)

    @classmethod
    def from_content(cls, content: Mapping[str, Any]) -> Calibration:
        """The same, read back."""
        lists = {key: tuple(float(one) for one in content[key]) for key in ("shown_mm", "true_mm")}
        return cls(**{**content, **lists})


def due_day(made: date, valid_days: int) -> date:
    """The last day on which a calibration holds."""
    return made + timedelta(days=valid_days)


def places_of(target: TargetProfile, count: int) -> tuple[float, ...]:
    """Where to measure: evenly over the reach, or the slots."""
    if target.kind is TargetKind.SLOTS:
        return tuple(slot.position_mm for slot in target.slots)
    first_mm = max(target.nearest_mm, min(_FIRST_MM, 0.1 * target.farthest_mm))
    step_mm = (target.farthest_mm - first_mm) / (count - 1)
    return tuple(round(first_mm + index * step_mm, 1) for index in range(count))


def objections(calibration: Calibration, target: TargetProfile) -> tuple[str, ...]:
    """Why work on the rig is not within this calibration, each with what to do; none: it is.

    A stage is corrected by the line, so only what is left counts: its uncertainty, and at the ends of the way what it
    cannot reach. By hand nothing is corrected: the scale itself has to be as good as the profile says.
    """
    found = []
    for at_mm, u_mm in _looked_at(calibration, target):
        allowed_mm = target.zero_error_mm + target.scale_error_percent / 100 * at_mm
        left_mm = _left_mm(calibration, target, at_mm)
        if left_mm + u_mm > allowed_mm:
            found.append(
                f"at {at_mm:g} mm the distance is right within {left_mm + u_mm:.2f} mm (of these {u_mm:.2f} mm doubt, "
                f"95 %), the profile says {allowed_mm:.2f} mm (zero_error_mm, scale_error_percent): "
                f"{_REMEDY[target.kind]}"
            )
    return tuple(found)


def _looked_at(calibration: Calibration, target: TargetProfile) -> Iterator[tuple[float, float]]:
    """The ends of what was measured, with their uncertainty; and those of a stage's way, for what they cut off."""
    measured_mm = (calibration.shown_mm[0], calibration.shown_mm[-1])
    for shown_mm in measured_mm:
        yield shown_mm, calibration.u_mm(shown_mm)
    if target.kind is TargetKind.STAGE:
        for end_mm in {target.nearest_mm, target.farthest_mm}.difference(measured_mm):
            yield end_mm, 0.0


_TRUTH = "or let the profile say what is true"
_BY_HAND = f"set the scale right and calibrate again with more places, {_TRUTH}"
_REMEDY = {
    TargetKind.STAGE: f"correct the stage's own zero, take a better reference or more places, {_TRUTH}",
    TargetKind.MANUAL: _BY_HAND,
    TargetKind.SLOTS: _BY_HAND,
}


def _left_mm(calibration: Calibration, target: TargetProfile, shown_mm: float) -> float:
    if target.kind is not TargetKind.STAGE:
        return abs(calibration.line.at(shown_mm) - shown_mm)
    sent_mm = min(max(sent_for(calibration, shown_mm), target.nearest_mm), target.farthest_mm)
    return abs(calibration.line.at(sent_mm) - shown_mm)


def what_is_left(calibration: Calibration, target: TargetProfile) -> Calibrated:
    """What budgets have to count of zero and scale within a calibration, as two parts that know nothing of each other.

    The covariance of zero and scale is left out: it is negative, as all places lie on one side of the zero, so that
    this is on the safe side. So few places as there were are taken up by Student's factor (JCGM 100, G.3). Where nobody
    corrects, by hand, what zero and scale are off counts as limits that are not corrected (JCGM 100, 4.3.7).
    """
    line, degrees = calibration.line, calibration.line.degrees_of_freedom
    few = coverage_factor(COVERAGE, degrees) / coverage_factor(COVERAGE)
    corrected = target.kind is TargetKind.STAGE
    zero_mm, scale = (0.0, 0.0) if corrected else (calibration.zero_mm, calibration.scale - 1)
    zero_u_mm = hypot(few * line.u_intercept, calibration.reference_error_mm / sqrt(3), zero_mm / sqrt(3))
    scale_u_percent = 100 * hypot(few * line.u_slope, scale / sqrt(3))
    return Calibrated(zero_u_mm=round(zero_u_mm, 6), scale_u_percent=round(scale_u_percent, 8))


def sent_for(calibration: Calibration, true_mm: float) -> float:
    """Where a stage is to be sent so that the target stands at a true distance."""
    return (true_mm - calibration.zero_mm) / calibration.scale


def residual_plot(shown_mm: Sequence[float], residuals_mm: Sequence[float]) -> list[str]:
    """Measured less fitted, place by place, as lines of text: zero in the middle."""
    most_mm = max((abs(one) for one in residuals_mm), default=0.0) or 1.0
    half = _PLOT_WIDTH // 2
    lines = []
    for at_mm, residual_mm in zip(shown_mm, residuals_mm, strict=True):
        column = half + round(residual_mm / most_mm * half)
        marks = [" "] * _PLOT_WIDTH
        marks[half], marks[column] = "|", "*"
        lines.append(f"{at_mm:8.1f} mm  {''.join(marks)}  {residual_mm:+.3f} mm")
    left, right = f"{-most_mm:+.2f}", f"{most_mm:+.2f}"
    return [f"{'':12} {left}{'0':^{_PLOT_WIDTH - len(left) - len(right) + 2}}{right}", *lines]
