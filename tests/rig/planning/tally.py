"""Many closed loops, counted and held against what their plans say."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from rig.events import Verdict
from rig.sequencer.findings import Finding
from tests.rig.planning.closed_loop import Landed, Lived, Zone
from tests.rig.planning.trials import Trial

FAR_APART_K = 15.0
"""From here on a bench and a machine are visibly unlike: 2.5 % of a distance."""


@dataclass(frozen=True)
class Tally:
    """Orders that were lived through."""

    lived: Sequence[Lived]

    @property
    def coverage(self) -> float:
        """The share of cases for which the plans state their uncertainty."""
        return max(budget.coverage for one in self.lived for budget in one.trial.plan.grounds.budgets)

    @property
    def landed(self) -> list[Landed]:
        return [landed for one in self.lived for landed in one.landed]

    @property
    def plain(self) -> list[Landed]:
        """Set points of units that do not compensate."""
        return [one for one in self.landed if not one.trial.compensated]

    @property
    def compensating(self) -> list[Landed]:
        """Set points of the others."""
        return [one for one in self.landed if one.trial.compensated]

    @property
    def far_apart(self) -> list[Lived]:
        """Uncompensated units with set points whose machine is much warmer or colder than the bench."""
        return [
            one
            for one in self.lived
            if one.landed and not one.trial.compensated and abs(one.trial.kelvin) > FAR_APART_K
        ]

    @cached_property
    def stated_undecided(self) -> float:
        """Share of orders whose unit the plans expect to be left undecided."""
        risks = (sum(risk.undecided for risk in one.trial.plan.grounds.risks) for one in self.lived)
        return sum(risks) / len(self.lived)

    def __str__(self) -> str:
        """Shares of set points before and after the correction for the air, and what was judged."""
        lines = [
            f"{'':17}{'set points':>10}{'within drift and U':>24}{'within tolerance and U':>26}",
            f"{'':17}{'':10}" + f"{'uncorrected':>14}{'corrected':>11}" * 2,
            *(self._row(name) for name in sorted({one.trial.plan.sensor_type for one in self.landed})),
            f"{len(self.lived)} units, verdict on the bench: {counted(one.on_bench for one in self.lived)}",
            f"by checks placed for the machine's air: {counted(one.at_machine for one in self.lived)}",
            f"the same, uncorrected and over {FAR_APART_K:g} K apart: "
            f"{counted(one.uncorrected for one in self.far_apart)}",
            f"root mean square of error over standard uncertainty, uncompensated: {spread(self.plain):.2f}",
        ]
        return "\n".join(lines)

    def _row(self, name: str) -> str:
        points = [one for one in self.landed if one.trial.plan.sensor_type == name]
        row = f"{name:17}{len(points):10}"
        for within in (within_drift, within_tolerance):
            before = share(points, lambda one, within=within: within(one, one.uncorrected_mm))
            after = share(points, lambda one, within=within: within(one, one.middle_mm))
            # What compensates is taught where it shall switch: there is nothing to correct.
            row += f"{'-' if points[0].trial.compensated else f'{before:.1%}':>14}{after:>11.1%}"
        return row


def counted(findings: Iterator[Finding | None]) -> str:
    """How often each verdict was given; nothing where nothing could be proven."""
    verdicts = [None if one is None else one.verdict for one in findings]
    parts = [f"{verdicts.count(verdict)} {verdict}" for verdict in Verdict]
    return ", ".join([*parts, f"{verdicts.count(None)} not provable"])


def share(points: Sequence[Landed], holds: Callable[[Landed], bool]) -> float:
    return sum(map(holds, points)) / len(points)


def within_tolerance(one: Landed, at_mm: float) -> bool:
    """Whether a place lies within tolerance and uncertainty of the set point."""
    return abs(at_mm - one.grounds.machine_mm) <= one.grounds.tolerance_mm + one.grounds.guard_mm


def within_drift(one: Landed, at_mm: float, tolerance_mm: float = 0.0) -> bool:
    """Whether a place lies where the plan says that the air takes the set point, give or take its uncertainty."""
    slack_mm = one.grounds.guard_mm + tolerance_mm
    return one.grounds.drift_nearest_mm - slack_mm <= at_mm <= one.grounds.drift_farthest_mm + slack_mm


def spread(points: Sequence[Landed]) -> float:
    """Errors of set points in standard uncertainties: 1 where these are just right."""
    ratios = (2 * (one.middle_mm - one.grounds.machine_mm) / one.grounds.guard_mm for one in points)
    return math.sqrt(sum(ratio**2 for ratio in ratios) / len(points))


def broken_needs(trial: Trial, zone: Zone) -> Iterator[str]:
    """What a unit does at the machine that its order forbids."""
    need = trial.need
    if need.nearest_mm is not None and zone.near_mm > need.nearest_mm:
        yield f"{trial}: objects at {need.nearest_mm:g} mm are not seen, {zone}"
    if need.farthest_mm is not None and zone.far_mm < need.farthest_mm:
        yield f"{trial}: objects at {need.farthest_mm:g} mm are not seen, {zone}"
    if need.foreground_mm is not None and zone.near_release_mm < need.foreground_mm:
        yield f"{trial}: foreground at {need.foreground_mm:g} mm is reported, {zone}"
    if need.background_mm is not None and zone.far_release_mm > need.background_mm:
        yield f"{trial}: background at {need.background_mm:g} mm is reported, {zone}"
