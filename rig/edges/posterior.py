"""What the readings of an output say of one edge: where it lies, and how much it scatters.

An edge is approached from one side only. On the way the output switches once; where it does so scatters from one
approach to the next, and now and then a reading is false. All that is believed is a probability for each pair of
threshold and spread, on a mesh that is finest where the edge probably lies. The mesh is no memory: when it
changes, every probability is worked out anew from the readings themselves, so nothing is ever ruled out for good.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_CELLS = 144
_EVEN_SHARE = 0.25  # of the cells lie evenly over the whole interval, against a belief that was misled
_LEAST = 1e-300
_LARGEST_CELL = 0.04  # no cell may hold more of the belief, or the mesh is laid anew
_MOST_MESHES = 3
_EVEN = np.linspace(0.0, 1.0, _CELLS + 1)


@dataclass(frozen=True, slots=True)
class Spread:
    """One supposition about how an edge scatters.

    `sd_mm` is the standard deviation of the place at which the output switches, from approach to approach.
    `early_mm` is how far before the edge it does so at the median: a unit that looks several times before its
    output is read needs only one look that is wrong. `weight` is how likely this is before any reading.
    """

    sd_mm: float
    early_mm: float = 0.0
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.sd_mm < math.inf:
            raise ValueError(f"spread is {self.sd_mm:g} mm; allowed: more than 0, finite")
        if not 0 <= self.early_mm < math.inf:
            raise ValueError(f"the unit switches {self.early_mm:g} mm early; allowed: 0 or more, finite")
        if not 0 < self.weight < math.inf:
            raise ValueError(f"weight is {self.weight:g}; allowed: more than 0, finite")


@dataclass(frozen=True, slots=True)
class EdgeModel:
    """What is taken for true of an edge before its first reading.

    The edge lies anywhere from `low_mm` to `high_mm`, but for a chance of `outside_share` that it lies beyond, as
    much to either side. `rising` tells whether the output has switched at positions above the edge (the target
    moves away) or below it. A reading is false with a chance of `false_share`.
    """

    low_mm: float
    high_mm: float
    rising: bool
    spreads: tuple[Spread, ...]
    false_share: float = 0.02
    outside_share: float = 0.01

    def __post_init__(self) -> None:
        if not -math.inf < self.low_mm < self.high_mm < math.inf:
            raise ValueError(f"interval {self.low_mm:g} to {self.high_mm:g} mm; allowed: rising and finite")
        if not self.spreads:
            raise ValueError("no spread is supposed; allowed: one or more")
        if not 0 < self.false_share < 0.5:
            raise ValueError(f"false readings are {self.false_share:g}; allowed: between 0 and 0.5")
        if not 0 < self.outside_share < 1:
            raise ValueError(f"chance outside is {self.outside_share:g}; allowed: between 0 and 1")

    def switched_chance(self, position_mm: Floats, threshold_mm: Floats) -> Floats:
        """Chance that the output reads switched, for each position and threshold (broadcast) and, last, spread."""
        sign = 1.0 if self.rising else -1.0
        sd_mm = np.array([spread.sd_mm for spread in self.spreads])
        early_mm = np.array([spread.early_mm for spread in self.spreads])
        past_mm = sign * (position_mm - threshold_mm)[..., None] + early_mm
        past_mm /= sd_mm
        chances = _normal_below(past_mm)
        chances *= 1 - 2 * self.false_share
        chances += self.false_share
        return chances


@dataclass(frozen=True, slots=True)
class Reading:
    """The output at one position, reached from the side on which it has not switched yet."""

    position_mm: float
    switched: bool


@dataclass(frozen=True, slots=True)
class Estimate:
    """Where an edge lies: the shortest interval that holds it with the coverage asked for, by its middle."""

    position_mm: float
    half_width_mm: float
    coverage: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The belief after some readings; made by `start` and `after`, never changed.

    `mass` holds the probability of each cell of the mesh (first and last: below and above the interval) and each
    spread. Its sum is 1.
    """

    model: EdgeModel
    readings: tuple[Reading, ...]
    edges_mm: Floats
    mass: Floats = field(repr=False)

    def __post_init__(self) -> None:
        self.edges_mm.setflags(write=False)
        self.mass.setflags(write=False)

    @classmethod
    def start(cls, model: EdgeModel) -> Self:
        """The belief before any reading."""
        edges_mm = np.linspace(model.low_mm, model.high_mm, _CELLS + 1)
        return cls(model, (), edges_mm, _mass(model, (), edges_mm))

    def after(self, reading: Reading) -> Self:
        """The belief with one more reading."""
        readings = (*self.readings, reading)
        mass = self.mass * _likelihood(self.model, (reading,), _centres(self.edges_mm))[0]
        same = type(self)(self.model, readings, self.edges_mm, mass / mass.sum())
        return same._on_good_mesh()

    def under(self, model: EdgeModel, more: Iterable[Reading] = ()) -> Self:
        """What the same readings, and more, say under another model of the same interval."""
        readings = (*self.readings, *more)
        mass = _mass(model, readings, self.edges_mm)
        return type(self)(model, readings, self.edges_mm, mass)._on_good_mesh()

    @property
    def outside(self) -> tuple[float, float]:
        """Probability that the edge lies below the interval, and above it."""
        return float(self.mass[0].sum()), float(self.mass[-1].sum())

    def quantiles_mm(self, shares: Floats) -> Floats:
        """Thresholds below which the edge lies with these probabilities; endless outside the interval."""
        rises = self._cumulated()
        inner = np.interp(shares, rises, self.edges_mm)
        return np.where(shares < rises[0], -math.inf, np.where(shares > rises[-1], math.inf, inner))

    def estimate(self, coverage: float = 0.95) -> Estimate:
        """Return the shortest interval that holds the edge; endless if too much is believed outside."""
        low_mm, high_mm = self.quantiles_mm(_shares(coverage))
        widths_mm = np.full_like(low_mm, math.inf)
        np.subtract(high_mm, low_mm, out=widths_mm, where=np.isfinite(low_mm) & np.isfinite(high_mm))
        best = int(np.argmin(widths_mm))
        if not widths_mm[best] < math.inf:
            return Estimate((self.model.low_mm + self.model.high_mm) / 2, math.inf, coverage)
        return Estimate(float(low_mm[best] + high_mm[best]) / 2, float(widths_mm[best]) / 2, coverage)

    def spread(self) -> Spread:
        """The mean of the spreads, as probable as they are now."""
        weights = self.mass.sum(axis=0)
        sd_mm = float(weights @ np.array([spread.sd_mm for spread in self.model.spreads]))
        early_mm = float(weights @ np.array([spread.early_mm for spread in self.model.spreads]))
        return Spread(sd_mm, early_mm)

    def early_doubt_mm(self) -> float:
        """Standard uncertainty of how far before the edge the output switches."""
        weights = self.mass.sum(axis=0)
        early_mm = np.array([spread.early_mm for spread in self.model.spreads])
        return float(np.sqrt(weights @ (early_mm - weights @ early_mm) ** 2))

    def weighed_spreads(self) -> tuple[Spread, ...]:
        """The suppositions on the spread, as likely as the readings have made them: for the unit's next edge."""
        weights = np.maximum(self.mass.sum(axis=0), _LEAST)
        pairs = zip(self.model.spreads, weights.tolist(), strict=True)
        return tuple(replace(spread, weight=weight) for spread, weight in pairs)

    def gains_bit(self, positions_mm: Sequence[float] | Floats) -> Floats:
        """Information on the threshold, in bits, to be expected from a reading at each position.

        What a reading would tell of the spread alone does not count.
        """
        places_mm = np.asarray(positions_mm, dtype=np.float64)[:, None]
        chances = self.model.switched_chance(places_mm, _centres(self.edges_mm)[None, :])
        weights = self.mass.sum(axis=1)
        # The least number there is, so that a cell that nothing speaks for is not divided by nothing.
        given = np.einsum("pck,ck->pc", chances, self.mass) / np.maximum(weights, _LEAST)
        given = np.clip(given, self.model.false_share, 1 - self.model.false_share)
        gains: Floats = _entropy_bit(given @ weights) - _entropy_bit(given) @ weights
        return gains

    def against(self) -> int:
        """How many of the readings the likeliest threshold and spread can only take for false ones."""
        density = self.mass[1:-1] / np.diff(self.edges_mm)[:, None]
        cell, spread = np.unravel_index(np.argmax(density), density.shape)
        likeliest_mm = _centres(self.edges_mm)[cell + 1, None]
        chances = _likelihood(self.model, self.readings, likeliest_mm)[:, 0, spread]
        return int(np.count_nonzero(chances < 2 * self.model.false_share))

    def _cumulated(self) -> Floats:
        return np.cumsum(self.mass.sum(axis=1))[:-1]

    def _on_good_mesh(self) -> Self:
        belief = self
        for _ in range(_MOST_MESHES):
            if belief.mass[1:-1].sum(axis=1).max() <= _LARGEST_CELL:
                break
            belief = belief._on_better_mesh()
        return belief

    def _on_better_mesh(self) -> Self:
        rises = self._cumulated()
        believed = (rises - rises[0]) / max(rises[-1] - rises[0], _LEAST)
        even = (self.edges_mm - self.model.low_mm) / (self.model.high_mm - self.model.low_mm)
        both = _EVEN_SHARE * even + (1 - _EVEN_SHARE) * believed
        edges_mm = np.interp(_EVEN, both, self.edges_mm)
        return type(self)(self.model, self.readings, edges_mm, _mass(self.model, self.readings, edges_mm))


@lru_cache
def _shares(coverage: float) -> Floats:
    """Where an interval that holds `coverage` may begin, and where each then ends."""
    starts = np.linspace(0.0, 1.0 - coverage, 41)
    return np.stack((starts, starts + coverage))


def _centres(edges_mm: Floats) -> Floats:
    return np.concatenate(([-np.inf], (edges_mm[:-1] + edges_mm[1:]) / 2, [np.inf]))


def _mass(model: EdgeModel, readings: Sequence[Reading], edges_mm: Floats) -> Floats:
    widths_mm = np.diff(edges_mm)
    inside = (1 - model.outside_share) * widths_mm / widths_mm.sum()
    beyond = model.outside_share / 2
    cells = np.concatenate(([beyond], inside, [beyond]))
    weights = np.array([spread.weight for spread in model.spreads])
    mass: Floats = cells[:, None] * (weights / weights.sum())
    for likelihood in _likelihood(model, readings, _centres(edges_mm)):
        mass = mass * likelihood
        mass /= mass.sum()
    return mass


def _likelihood(model: EdgeModel, readings: Sequence[Reading], thresholds_mm: Floats) -> Floats:
    places_mm = np.array([reading.position_mm for reading in readings])[:, None]
    switched = np.array([reading.switched for reading in readings], dtype=bool)[:, None, None]
    chances = model.switched_chance(places_mm, thresholds_mm[None, :])
    return np.where(switched, chances, 1 - chances)


def _normal_below(deviations: Floats) -> Floats:
    # numpy has no normal integral. Page (Appl. Statist. 26 (1977) 75, from memory): within 0.0002, far less than
    # the chance of a false reading.
    # Worked out in place: these are the largest tables of a search, and new memory for each step costs as much.
    bend = 0.044715 * deviations
    bend *= deviations
    bend += 1
    below = math.sqrt(2 / math.pi) * deviations
    below *= bend
    np.tanh(below, out=below)
    below *= 0.5
    below += 0.5
    return below


def _entropy_bit(chance: Floats) -> Floats:
    bits: Floats = -(chance * np.log2(chance) + (1 - chance) * np.log2(1 - chance))
    return bits
