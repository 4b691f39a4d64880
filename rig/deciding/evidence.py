"""From what was read of a unit to a value with its budget, for the figures that are not found by searching."""

from __future__ import annotations

from collections.abc import Sequence

from rig.edges.edge import COVERAGE, Measured, RepeatAccuracy
from rig.statistics.uncertainty import Budget, Component, combine

# A bench supply measures current to half a percent of the reading and a milliampere (common practice, no source).
_CURRENT_SHARE, _CURRENT_A = 0.005, 0.001
# Two places of the target go into one difference.
_TWICE = 2**0.5


def in_the_air(measured: Measured, air: Sequence[Component]) -> Measured:
    """A position on the bench as it speaks for the machine: with what the air adds to its uncertainty.

    `air` are the components of one millimetre of distance.
    """
    own = measured.budget
    rows = [
        Component(
            one.name, one.standard_uncertainty, one.sensitivity * measured.value, one.degrees_of_freedom
        )
        for one in air
    ]
    return Measured(measured.value, combine((*own.components, *rows), coverage=own.coverage))


def repeat_budget(placement_mm: float, step_mm: float) -> Budget:
    """What the bench adds to the distance between the nearest and the farthest of some approaches."""
    rows = (
        Component.from_half_width("placement of the target, twice", placement_mm, sensitivity=_TWICE),
        Component.from_resolution("step of the target, twice", step_mm, sensitivity=_TWICE),
    )
    return combine(rows, coverage=COVERAGE)


def repeat_measured(repeat: RepeatAccuracy, placement_mm: float, step_mm: float) -> Measured:
    """Repeat accuracy with what the bench may have added to it."""
    return Measured(repeat.range_mm, repeat_budget(placement_mm, step_mm))


def current_measured(current_a: float) -> Measured:
    """A current as the bench supply measures it."""
    rows = (Component.from_half_width("bench supply", _CURRENT_SHARE * abs(current_a) + _CURRENT_A),)
    return Measured(current_a, combine(rows, coverage=COVERAGE))


def availability_budget(doubt_s: float) -> Budget:
    """What a time from power-up is worth if the moment of the supply is known to `doubt_s` either way."""
    return combine([Component.from_half_width("moment of the supply", doubt_s)], coverage=COVERAGE)


def availability_measured(on_after_s: float, doubt_s: float) -> Measured:
    """Time delay before availability: from the supply until the output is right."""
    return Measured(on_after_s, availability_budget(doubt_s))
