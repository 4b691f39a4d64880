"""Small numerical tools for planning: a root between two bounds and an integral over panels."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise

_NODES = 32


def root_between(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function changes sign between two bounds, to the last bit, by halving.

    Raises ValueError if it has one sign at both bounds.
    """
    rising = function(high) > 0
    if rising == (function(low) > 0):
        raise ValueError(f"no change of sign between {low:g} and {high:g}")
    while low < (middle := (low + high) / 2) < high:
        if (function(middle) > 0) == rising:
            high = middle
        else:
            low = middle
    return middle


def integral(function: Callable[[float], float], points: Sequence[float]) -> float:
    """Integral from the first to the last of rising points, one Gauss-Legendre panel between neighbours.

    Put a point wherever the function bends fast; a panel is exact for polynomials up to degree 63.
    """
    return math.fsum(_panel(function, low, high) for low, high in pairwise(points))


def weighted_points(points: Sequence[float]) -> tuple[tuple[float, float], ...]:
    """Where `integral` looks, and with which weight: for many functions over the same panels."""
    return tuple(
        (low + (1 + node) * (high - low) / 2, weight * (high - low) / 2)
        for low, high in pairwise(points)
        for node, weight in _gauss_legendre()
    )


def _panel(function: Callable[[float], float], low: float, high: float) -> float:
    centre, half = (low + high) / 2, (high - low) / 2
    return half * math.fsum(weight * function(centre + half * node) for node, weight in _gauss_legendre())


@lru_cache(maxsize=1)
def _gauss_legendre() -> tuple[tuple[float, float], ...]:
    return tuple(_node_and_weight(index) for index in range(_NODES))


def _node_and_weight(index: int) -> tuple[float, float]:
    node = math.cos(math.pi * (index + 0.75) / (_NODES + 0.5))
    for _ in range(8):
        value, slope = _legendre(node)
        node -= value / slope
    _, slope = _legendre(node)
    return node, 2 / ((1 - node * node) * slope * slope)


def _legendre(x: float) -> tuple[float, float]:
    before, value = 1.0, x
    for degree in range(2, _NODES + 1):
        before, value = value, ((2 * degree - 1) * x * value - (degree - 1) * before) / degree
    return value, _NODES * (x * value - before) / (x * x - 1)


def normal_below(deviations: float) -> float:
    """Probability that a normal value lies below so many standard deviations from its mean, exact in the tail."""
    return math.erfc(-deviations / math.sqrt(2)) / 2
