"""How early a unit switches that is passed slowly, because it looks many times and one look in favour suffices."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean
from typing import Self

from rig.statistics.numeric import normal_below

# A unit looks twice within its response time (common practice, no source). The data sheet states the longest one: a
# unit has half of it, give or take a factor of two; the middle is twice as likely as each of the others.
_LOOKS_PER_RESPONSE = 2.0
_DOUBT = ((0.25, 0.25), (0.5, 0.5), (1.0, 0.25))
_NOISE_STEPS = 6
_ROUNDS = 5
# Of a handful of passes the standard deviation comes out too small by this factor at most (95 %, chi-squared).
_SURELY = 1.7
_PHASES, _GRAIN_SD = 6, 0.25
_FAR_SD = 5.0
_NEGLIGIBLE = 1e-9
# More looks to a standard deviation change nothing that matters here.
_FINEST_SD = 0.03


@dataclass(frozen=True, slots=True)
class Early:
    """How far before its edge a unit switches on the way, and the standard uncertainty of that."""

    middle_mm: float
    u_mm: float

    @classmethod
    def _of(cls, values_mm: Sequence[float], weights: Sequence[float], own_doubt: float = 0.0) -> Self:
        middle_mm = fmean(values_mm, weights)
        spread_mm = math.sqrt(fmean([(value - middle_mm) ** 2 for value in values_mm], weights))
        return cls(middle_mm, math.hypot(spread_mm, own_doubt * middle_mm))

    @classmethod
    def supposed(cls, way_of_response_mm: float, noise_mm: tuple[float, float]) -> Self:
        """Of a unit whose target goes so far within its response time.

        `noise_mm` is the least and the largest standard deviation of one look, any between as likely on a scale of
        ratios.
        """
        apart_mm = way_of_response_mm / _LOOKS_PER_RESPONSE
        shares = ((step + 0.5) / _NOISE_STEPS for step in range(_NOISE_STEPS))
        spreads_mm = [noise_mm[0] * (noise_mm[1] / noise_mm[0]) ** share for share in shares]
        pairs = [(sd_mm, *one) for one in _DOUBT for sd_mm in spreads_mm]
        values_mm = [sd_mm * _early_sd(apart_mm * factor / sd_mm) for sd_mm, factor, _ in pairs]
        return cls._of(values_mm, [weight for *_, weight in pairs])

    @classmethod
    def seen(cls, way_of_response_mm: float, scatter_mm: float, degrees_of_freedom: int) -> Self:
        """The same of a unit that was seen to switch with such a standard deviation from pass to pass.

        What it scatters by and what it is early by grow together with its noise: one tells of the other.
        """
        apart_mm = way_of_response_mm / _LOOKS_PER_RESPONSE
        values_mm = []
        for factor, _ in _DOUBT:
            sd_mm = _noise_behind(scatter_mm, apart_mm * factor)
            values_mm.append(sd_mm * _early_sd(apart_mm * factor / sd_mm))
        # The relative uncertainty of a standard deviation (JCGM 100, E.4.3).
        return cls._of(values_mm, [weight for _, weight in _DOUBT], 1 / math.sqrt(2 * degrees_of_freedom))


def largest_noise_mm(way_of_response_mm: float, scatter_mm: float) -> float:
    """More noise than that a unit surely does not have whose target was seen to scatter so, for whatever reasons."""
    most_looks = min(factor for factor, _ in _DOUBT)
    return _SURELY * _noise_behind(scatter_mm, way_of_response_mm / _LOOKS_PER_RESPONSE * most_looks)


def _noise_behind(scatter_mm: float, apart_mm: float) -> float:
    """The noise of one look of a unit whose looks are so far apart on the way, and whose first one scatters so."""
    sd_mm = scatter_mm
    for _ in range(_ROUNDS):
        sd_mm = scatter_mm / first_look(apart_mm / sd_mm)[1]
    return sd_mm


@lru_cache(maxsize=1024)
def first_look(apart_sd: float) -> tuple[float, float]:
    """Where the first look in favour comes, and how that scatters, for looks that are so far apart on the way.

    All in standard deviations of a look, from the edge on, positive beyond it.
    """
    apart_sd = max(apart_sd, _FINEST_SD)
    chances: list[float] = []
    places: list[float] = []
    phases = max(_PHASES, math.ceil(apart_sd / _GRAIN_SD))
    for phase in range(phases):
        place_sd, none_yet = -_FAR_SD + apart_sd * (phase + 0.5) / phases, 1.0
        while none_yet > _NEGLIGIBLE:
            favour = normal_below(place_sd)
            chances.append(none_yet * favour)
            places.append(place_sd)
            none_yet *= 1 - favour
            place_sd += apart_sd
    mean = fmean(places, chances)
    return mean, math.sqrt(fmean([(place - mean) ** 2 for place in places], chances))


def _early_sd(apart_sd: float) -> float:
    # Against a unit without noise, which has to wait for half the way between two looks: that is in its response time.
    return apart_sd / 2 - first_look(apart_sd)[0]
