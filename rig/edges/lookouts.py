"""How early a unit switches that is passed slowly, because it looks many times and one look in favour suffices."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean, pstdev, stdev

import numpy as np

from rig.edges.posterior import Floats
from rig.statistics.numeric import normal_below

# A unit looks twice within its response time, give or take a factor of two (common practice, no source).
_LOOKS_PER_RESPONSE, _DOUBT = 2.0, (0.5, 1.0, 2.0)
_NOISE_STEPS = 4
# Of a standard deviation from a few passes: between these shares of it the true one lies.
_LEARNED = (0.5, 3.0)
_PHASES = 16
_FAR_SD = 6.0
# More looks to a standard deviation change nothing that matters here.
_FINEST_SD = 0.02


@dataclass(frozen=True, slots=True)
class Early:
    """How far before its edge a unit switches on the way, and the standard uncertainty of that."""

    middle_mm: float
    u_mm: float


def early_before(way_of_response_mm: float, noise_mm: tuple[float, float]) -> Early:
    """How early a unit switches whose target goes so far within its response time.

    `noise_mm` is the least and the largest standard deviation of one look, any between as likely on a scale of ratios.
    """
    apart_mm = way_of_response_mm / _LOOKS_PER_RESPONSE
    values_mm = [
        sd_mm * _early(apart_mm * factor / sd_mm)
        for factor in _DOUBT
        for sd_mm in np.geomspace(*noise_mm, _NOISE_STEPS).tolist()
    ]
    return Early(fmean(values_mm), pstdev(values_mm))


def noise_of_passes(
    places_mm: Sequence[float], way_of_response_mm: float, *, least_mm: float
) -> tuple[float, float]:
    """Least and largest noise of a look of a unit that was seen to switch at these places, two or more.

    `least_mm` is a standard deviation below which nothing can be told.
    """
    seen_mm = max(stdev(places_mm), least_mm)
    _, scatter_sd = first_look(way_of_response_mm / _LOOKS_PER_RESPONSE / seen_mm)
    return _LEARNED[0] * seen_mm / scatter_sd, _LEARNED[1] * seen_mm / scatter_sd


@lru_cache(maxsize=1024)
def first_look(apart_sd: float) -> tuple[float, float]:
    """Where the first look in favour comes, and how that scatters, for looks that are so far apart on the way.

    All in standard deviations of a look, from the edge on, positive beyond it.
    """
    apart_sd = max(apart_sd, _FINEST_SD)
    count = math.ceil(2 * _FAR_SD / apart_sd) + 1
    phases = (np.arange(_PHASES) + 0.5) / _PHASES
    places = -_FAR_SD + apart_sd * (np.arange(count)[None, :] + phases[:, None])
    chances = np.interp(places, *_normal_table())
    before = np.concatenate((np.ones((_PHASES, 1)), np.cumprod(1 - chances, axis=1)[:, :-1]), axis=1)
    first = chances * before
    first /= first.sum()
    mean = float((first * places).sum())
    return mean, math.sqrt(float((first * (places - mean) ** 2).sum()))


def _early(apart_sd: float) -> float:
    # Against a unit without noise, which has to wait for half the way between two looks: that is in its response time.
    return apart_sd / 2 - first_look(apart_sd)[0]


@lru_cache(maxsize=1)
def _normal_table() -> tuple[Floats, Floats]:
    deviations = np.linspace(-8.0, 8.0, 1601)
    return deviations, np.array([normal_below(float(one)) for one in deviations])
