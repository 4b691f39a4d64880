"""What a position of the target is worth: an uncertainty budget after JCGM 100, for any distance.

Every source is either the same everywhere (zero, placement) or grows in proportion to the distance (scale, air, the
unit's own spread), so one pair of figures gives the guard of any position at once; the rows are there to be shown.
Limits from data sheets and calibration are taken as known, with endless degrees of freedom (JCGM 100, G.4.3).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rig.edges.edge import COVERAGE as EDGE_COVERAGE
from rig.edges.edge import FINDING
from rig.edges.task import FINEST_BENCH_SHARE
from rig.planning.conditions import Conditions
from rig.planning.grounds import BudgetRow, PositionBudget
from rig.statistics.uncertainty import Component, combine, coverage_factor
from sequences.datasheet import Sensing
from wiring.profile import TargetProfile

COVERAGE = 0.9545
"""Coverage of every guard: two standard uncertainties, so that one side of it is wrong in 2.3 % at most."""

_FACTOR = coverage_factor(COVERAGE)
_FINEST_GRAIN_MM = 0.1
# Far below the grain, far above what rounding does to a float.
_HAIR_MM = 1e-7
CALIBRATED = ", calibrated"
"""How the sources of doubt end that rest on the readings of a calibration, not on a profile's limits."""

_PLACEMENT = "placement of the target"
_AIR_UNITS = {"temperature": "K", "humidity": "%", "pressure": "kPa", "law": "m/s"}


@dataclass(frozen=True, slots=True)
class Source:
    """One source of doubt; where it `grows`, the component is that of one millimetre of distance."""

    component: Component
    unit: str
    grows: bool

    def at(self, position_mm: float) -> Component:
        """The component at a position."""
        one = self.component
        if not self.grows:
            return one
        return Component(one.name, one.standard_uncertainty, one.sensitivity * position_mm)


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far the target may stand from where it should, as the unit sees it. Distances on the bench.

    Attributes:
        fixed_mm: standard uncertainty of what is the same everywhere.
        share: standard uncertainty of what grows, over the distance.
        grain_mm: positions are whole multiples of this: what can be set, and what a record shows in full.

    """

    sources: tuple[Source, ...]
    fixed_mm: float
    share: float
    grain_mm: float

    def down(self, position_mm: float) -> float:
        """The position that can be set nearest below."""
        return self._whole(math.floor((position_mm + _HAIR_MM) / self.grain_mm))

    def up(self, position_mm: float) -> float:
        """The position that can be set nearest above."""
        return self._whole(math.ceil((position_mm - _HAIR_MM) / self.grain_mm))

    def nearest(self, position_mm: float) -> float:
        """The position that can be set nearest."""
        return self._whole(math.floor(position_mm / self.grain_mm + 0.5))

    def standard_mm(self, position_mm: float) -> float:
        """Standard uncertainty at a position."""
        return math.hypot(self.fixed_mm, self.share * position_mm)

    def expanded_mm(self, position_mm: float) -> float:
        """Expanded uncertainty at a position: its guard."""
        return _FACTOR * self.standard_mm(position_mm)

    def beyond(self, limit_mm: float, guards: float = 1.0) -> float:
        """The position that lies beyond a limit by so many of its own guards."""
        fixed, share = guards * _FACTOR * self.fixed_mm, guards * _FACTOR * self.share
        rest = 1 - share**2
        root = math.sqrt(max(0.0, limit_mm**2 - rest * (limit_mm**2 - fixed**2)))
        return (limit_mm + root) / rest

    def _whole(self, grains: int) -> float:
        return round(grains * self.grain_mm, 1)

    def budget(self, position_mm: float) -> PositionBudget:
        """The whole budget of a position, row by row."""
        parts = [(source, source.at(position_mm)) for source in self.sources]
        total = combine((component for _, component in parts), coverage=COVERAGE)
        return PositionBudget(
            position_mm=position_mm,
            rows=tuple(_row(source, component, total.share(component)) for source, component in parts),
            combined_mm=total.combined,
            degrees_of_freedom=_endless_is_none(total.effective_dof),
            coverage=total.coverage,
            coverage_factor=total.coverage_factor,
            expanded_mm=total.expanded,
        )


def doubt_of(sensing: Sensing, target: TargetProfile, conditions: Conditions) -> Doubt:
    """The doubt of every position of a rig's target, for units of a type under the conditions of an order."""
    return _doubt((*_target(target), *_air(conditions), *_unit(sensing)), target)


def _doubt(all_sources: tuple[Source, ...], target: TargetProfile) -> Doubt:
    sources = tuple(source for source in all_sources if source.component.contribution > 0)
    fixed, growing = (
        [source.component.contribution for source in sources if source.grows is grows]
        for grows in (False, True)
    )
    return Doubt(sources, math.hypot(*fixed), math.hypot(*growing), _grain_mm(target.resolution_mm))


def doubt_of_edge(target: TargetProfile, conditions: Conditions) -> Doubt:
    """The doubt of a measured edge, wherever it is, as finely as a rig's target can measure it.

    Placing again and the unit's own scatter show in the readings, and so are part of finding the edge; that is
    taken as far as the bench itself allows.
    """
    bench = tuple(source for source in _target(target) if source.component.name != _PLACEMENT)
    # What finding may add to the variance of the bench.
    found = 1 / FINEST_BENCH_SHARE**2 - 1
    fixed, growing = (
        math.hypot(*(source.component.contribution for source in bench if source.grows is grows))
        for grows in (False, True)
    )
    finding = (
        Source(Component(FINDING, math.sqrt(found) * fixed), "mm", grows=False),
        Source(Component(f"{FINDING}, by distance", math.sqrt(found) * growing), "mm/mm", grows=True),
    )
    return _doubt((*bench, *finding, *_air(conditions)), target)


def doubt_of_edge_by_hand(finest_mm: float, target: TargetProfile, conditions: Conditions) -> Doubt:
    """The doubt of an edge that a person helps to find, from the finest expanded uncertainty (95 %) of that."""
    found = Component("edge found by hand", finest_mm / coverage_factor(EDGE_COVERAGE))
    return _doubt((Source(found, "mm", grows=False), *_air(conditions)), target)


def _grain_mm(resolution_mm: float) -> float:
    return max(_FINEST_GRAIN_MM, math.ceil(round(resolution_mm / _FINEST_GRAIN_MM, 6)) * _FINEST_GRAIN_MM)


def _target(target: TargetProfile) -> Iterator[Source]:
    rectangle = Component.from_half_width
    made = "" if target.calibrated is None else CALIBRATED
    yield Source(rectangle(f"zero of the nest{made}", target.zero_doubt_mm), "mm", grows=False)
    yield Source(Component.from_resolution("step of the target", target.resolution_mm), "mm", grows=False)
    yield Source(rectangle(_PLACEMENT, target.placement_mm), "mm", grows=False)
    yield Source(
        rectangle(f"scale of the target{made}", target.scale_doubt_percent, sensitivity=0.01),
        "%",
        grows=True,
    )
    # A tilted way is always too short, never too long: the whole of it is taken as a half-width, to be safe.
    cosine = 1 - math.cos(math.radians(target.tilt_deg))
    yield Source(rectangle("tilt of the target's way (cosine error)", cosine), "mm/mm", grows=True)


def _air(conditions: Conditions) -> Iterator[Source]:
    for component in conditions.components():
        unit = _AIR_UNITS.get(component.name.split(" ")[0].rstrip(","), "mm/mm")
        yield Source(component, unit, grows=True)


def _unit(sensing: Sensing) -> Iterator[Source]:
    if sensing.resolution_mm is not None:
        yield Source(Component.from_resolution("step of the unit", sensing.resolution_mm), "mm", grows=False)
    # Repeat accuracy is the width of the whole spread, so half of it lies to either side.
    half_percent = sensing.repeat_accuracy_percent / 2
    yield Source(
        Component.from_half_width("repeat accuracy of the unit", half_percent, sensitivity=0.01),
        "%",
        grows=True,
    )


def _row(source: Source, component: Component, share: float) -> BudgetRow:
    return BudgetRow(
        source=component.name,
        standard_uncertainty=component.standard_uncertainty,
        unit=source.unit,
        sensitivity=component.sensitivity,
        contribution_mm=component.contribution,
        degrees_of_freedom=_endless_is_none(component.degrees_of_freedom),
        share=share,
    )


def _endless_is_none(degrees_of_freedom: float) -> float | None:
    return None if math.isinf(degrees_of_freedom) else degrees_of_freedom
