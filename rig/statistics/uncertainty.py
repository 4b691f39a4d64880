"""Uncertainty budgets after JCGM 100 (the GUM): components in, expanded uncertainty out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from statistics import NormalDist, stdev
from typing import Self

from rig.statistics.numeric import integral, root_between


class Distribution(StrEnum):
    """How a value that is only known to lie within limits is taken to spread between them (JCGM 100, 4.3)."""

    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"


_DIVISOR_SQUARED = {Distribution.RECTANGULAR: 3, Distribution.TRIANGULAR: 6, Distribution.ARCSINE: 2}


@dataclass(frozen=True, slots=True)
class Component:
    """One independent source of uncertainty.

    `standard_uncertainty` in the unit of the input, `sensitivity` in result units per input unit. Raises
    ValueError for a negative or endless uncertainty, an endless sensitivity, or degrees of freedom not above 0.
    """

    name: str
    standard_uncertainty: float
    sensitivity: float = 1.0
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        if not 0 <= self.standard_uncertainty < math.inf:
            raise ValueError(
                f"{self.name}: standard uncertainty is {self.standard_uncertainty:g}; allowed: 0 or more, finite"
            )
        if not math.isfinite(self.sensitivity):
            raise ValueError(f"{self.name}: sensitivity is {self.sensitivity:g}; allowed: a finite number")
        if not self.degrees_of_freedom > 0:
            raise ValueError(
                f"{self.name}: degrees of freedom are {self.degrees_of_freedom:g}; allowed: more than 0"
            )

    @classmethod
    def from_half_width(
        cls,
        name: str,
        half_width: float,
        distribution: Distribution = Distribution.RECTANGULAR,
        *,
        sensitivity: float = 1.0,
        degrees_of_freedom: float = math.inf,
    ) -> Self:
        """A value known to lie within plus or minus `half_width`."""
        return cls(
            name, half_width / math.sqrt(_DIVISOR_SQUARED[distribution]), sensitivity, degrees_of_freedom
        )

    @classmethod
    def from_resolution(cls, name: str, step: float, *, sensitivity: float = 1.0) -> Self:
        """A reading rounded to a step: a rectangle half a step to either side."""
        return cls.from_half_width(name, step / 2, sensitivity=sensitivity)

    @classmethod
    def from_readings(cls, name: str, readings: Sequence[float], *, sensitivity: float = 1.0) -> Self:
        """The mean of repeated readings (type A): two at least."""
        if len(readings) < 2:
            raise ValueError(f"{name}: {len(readings)} reading(s); allowed: two or more")
        return cls(name, stdev(readings) / math.sqrt(len(readings)), sensitivity, len(readings) - 1)

    @property
    def contribution(self) -> float:
        """What this source adds to the result, in the unit of the result; never negative."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class Budget:
    """The sources of a result's uncertainty and what they come to."""

    components: tuple[Component, ...]
    combined: float
    effective_dof: float
    coverage: float
    coverage_factor: float
    expanded: float

    def share(self, component: Component) -> float:
        """Fraction of the combined variance that one component makes up; 0 when there is none at all."""
        return (component.contribution / self.combined) ** 2 if self.combined else 0.0


def combine(components: Iterable[Component], *, coverage: float = 0.9545) -> Budget:
    """Combine independent components (JCGM 100, 5.1.2, annex G.4).

    Degrees of freedom by Welch-Satterthwaite, truncated down to a whole number for the coverage factor.
    The default coverage gives k = 2 for endless degrees of freedom. Raises ValueError without any component.
    """
    rows = tuple(components)
    if not rows:
        raise ValueError("a budget needs at least one component")
    combined = math.hypot(*(row.contribution for row in rows))
    effective = _welch_satterthwaite(rows, combined)
    factor = coverage_factor(coverage, max(1, math.floor(effective)) if effective < math.inf else math.inf)
    return Budget(rows, combined, effective, coverage, factor, factor * combined)


def _welch_satterthwaite(rows: Sequence[Component], combined: float) -> float:
    if combined == 0:
        return math.inf
    doubt = math.fsum((row.contribution / combined) ** 4 / row.degrees_of_freedom for row in rows)
    return 1 / doubt if doubt else math.inf


def coverage_factor(coverage: float, degrees_of_freedom: float = math.inf) -> float:
    """Half-width, in standard uncertainties, of the interval that holds a fraction `coverage` (Student's t).

    Good to nine digits for whole degrees of freedom, the only ones that a budget asks for. Raises ValueError
    for a coverage outside 0 to 1 or fewer than one degree of freedom.
    """
    if not 0 < coverage < 1:
        raise ValueError(f"coverage is {coverage:g}; allowed: between 0 and 1")
    if not degrees_of_freedom >= 1:
        raise ValueError(f"degrees of freedom are {degrees_of_freedom:g}; allowed: 1 or more")
    if degrees_of_freedom == math.inf:
        return NormalDist().inv_cdf((1 + coverage) / 2)
    return _student_factor(coverage, degrees_of_freedom)


def student_t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Quantile of Student's t distribution."""
    if not 0 < probability < 1:
        raise ValueError(f"probability is {probability:g}; allowed: between 0 and 1")
    if probability == 0.5:
        return 0.0
    return math.copysign(coverage_factor(abs(2 * probability - 1), degrees_of_freedom), probability - 0.5)


@lru_cache  # thousands of looks at an integral, and budgets ask for few whole degrees of freedom again and again
def _student_factor(coverage: float, dof: float) -> float:
    # With t = sqrt(dof) tan(angle) the density becomes cos(angle)^(dof-1): smooth, on a finite span, and its own
    # integral normalises it, so that no gamma function loses digits at large dof.
    total = _student_area(math.pi / 2, dof)
    angle = root_between(lambda angle: _student_area(angle, dof) - coverage * total, 0.0, math.pi / 2)
    return math.sqrt(dof) * math.tan(angle)


def _student_area(angle: float, dof: float) -> float:
    inner = sorted(point for point in _bends(dof) if point < angle)
    return integral(lambda x: math.exp((dof - 1) / 2 * math.log1p(-(math.sin(x) ** 2))), [0.0, *inner, angle])


def _bends(dof: float) -> list[float]:
    peak = [scale / math.sqrt(dof) for scale in (1, 2, 4, 8, 16)]
    return peak + [math.pi / 2 - distance for distance in (0.3, 0.03, 0.003, 3e-4, 3e-5)]
