"""One set point as an axis: how far units switch beyond it, as the target's own scale sees it, and how they are judged.

Along it lie the density of the units and the chance of each verdict. What is wrong with the scale and with the
believed air is the same while a unit is taught and while it is checked, so that no check sees it: it moves the truth
instead.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Protocol

from rig.planning.case import case_of
from rig.risk.case import Case
from rig.risk.draw import spread_percent
from rig.risk.gauged import gauged_of
from rig.risk.looks import evenly, looks_of
from rig.statistics.edge_checks import Outcome
from rig.statistics.numeric import integral, normal_below
from sequences.words import SetPoint
from wiring.terms import Verification

Density = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Risks:
    """Shares of units: passed though outside tolerance, failed though inside, left undecided though inside."""

    escapes: float
    false_rejections: float
    doubts: float


class Judge(Protocol):
    """How a set point is judged: at single positions, or by a measured value."""

    @property
    def noise_mm(self) -> float:
        """Standard deviation of one look, or of one value."""

    @property
    def placement_mm(self) -> float:
        """Half-width of the error of placing the target."""

    @property
    def positions_mm(self) -> tuple[float, ...]:
        """Where a verdict turns into another."""

    def outcome(self, beyond_mm: float) -> Outcome:
        """How likely each verdict is for a unit that switches so far beyond its set point."""


@dataclass(frozen=True)
class Axis:
    """One set point.

    Attributes:
        spread_mm: standard deviation of what is seen of sound units.
        shifts_mm: how much further out than it is seen a unit may really be; each as likely as any other.

    """

    point: SetPoint
    point_mm: float
    tolerance_mm: float
    judged: Judge
    spread_mm: float
    shifts_mm: tuple[float, ...]

    def sound(self) -> Density:
        """How sound units lie along the axis: normally."""
        spread_mm = self.spread_mm
        return lambda mm: math.exp(-((mm / spread_mm) ** 2) / 2) / (spread_mm * math.sqrt(2 * math.pi))

    def evenly_off(self, low_mm: float, high_mm: float) -> Density:
        """How units lie along it that are off by anything between two distances, beside their spread."""

        def density(mm: float) -> float:
            inside = normal_below((mm - low_mm) / self.spread_mm) - normal_below(
                (mm - high_mm) / self.spread_mm
            )
            return inside / (high_mm - low_mm)

        return density

    def risks(self, density: Density) -> Risks:
        """The risks of units that lie along the axis like this."""
        outcome, outside = cache(self.judged.outcome), cache(self._outside)

        def share(of: Density) -> float:
            return integral(lambda mm: density(mm) * of(mm), self._bends())

        return Risks(
            escapes=share(lambda mm: outside(mm) * outcome(mm).good),
            false_rejections=share(lambda mm: (1 - outside(mm)) * outcome(mm).bad),
            doubts=share(lambda mm: (1 - outside(mm)) * outcome(mm).undecided),
        )

    def _outside(self, seen_mm: float) -> float:
        outside = sum(abs(seen_mm + shift) > self.tolerance_mm for shift in self.shifts_mm)
        return outside / len(self.shifts_mm)

    def _bends(self) -> list[float]:
        noise_mm, reach_mm = self.judged.noise_mm, self.judged.placement_mm
        turns = {
            0.0,
            *(sign * (self.tolerance_mm + shift) for shift in self.shifts_mm[::16] for sign in (-1, 1)),
        }
        for at_mm in self.judged.positions_mm:
            turns |= {at_mm + scale * (noise_mm + reach_mm) for scale in (-5, -2.5, -1, 0, 1, 2.5, 5)}
        last_mm = max(9 * self.spread_mm, max(turns))
        turns |= {sign * scale * self.spread_mm for scale in (1, 2, 4, 6) for sign in (-1, 1)}
        return sorted({-last_mm, last_mm, *(mm for mm in turns if abs(mm) < last_mm)})


def axes_of(case: Case) -> Iterator[Axis]:
    """One axis for each set point of a case."""
    planned = case_of(case.order, case.sensor_type, case.rig)
    zone = planned.zone(case.setting)
    for point, machine_mm in case.setting.set_points_mm.items():
        at_mm = machine_mm * zone.scale
        judged = (
            looks_of(case, point, at_mm)
            if case.plan.method is Verification.POSITIONS
            else gauged_of(case, point, at_mm, zone.tolerance)
        )
        own_mm = max(case.noise_mm(at_mm), spread_percent(case) / 100 * at_mm)
        spread_mm = math.hypot(own_mm, case.rig.target.placement_mm / math.sqrt(3))
        yield Axis(point, at_mm, zone.tolerance, judged, spread_mm, tuple(sorted(_shifts_mm(case, at_mm))))


def _shifts_mm(case: Case, at_mm: float) -> Iterator[float]:
    target, spread = case.rig.target, case.rates.spread
    for zero in evenly(target.zero_doubt_mm * spread.zero):
        for scale in evenly(target.scale_doubt_percent / 100 * spread.scale):
            for air in evenly(_air_share(case)):
                yield zero + (scale + air) * at_mm


def _air_share(case: Case) -> float:
    """Half-width of what the believed air may be wrong by, over the distance; none where no other air is meant."""
    if case.sound_m_s is None:
        return 0.0
    components = case_of(case.order, case.sensor_type, case.rig).conditions.components()
    standard = math.hypot(*(one.contribution for one in components))
    return standard * math.sqrt(3) * case.rates.spread.air
