"""Other ways to find an edge: bisection, staircases, a general library for adaptive thresholds."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from statistics import fmean, stdev
from typing import Any

import numpy as np

from tests.benchmarks.edges import (
    COVERAGE,
    FALSE_SHARE,
    HIGH_MM,
    LOW_MM,
    NOISE_MM,
    WANTED_MM,
    Answer,
    SimulatedEdge,
)

_NORMAL_95 = 1.959964
_TURNS = 10
_RUN = 20


def bisection(edge: SimulatedEdge, read: Callable[[float], bool], votes: int) -> Answer:
    """Halve the interval by majority, ending each vote as soon as it is decided."""
    low_mm, high_mm = LOW_MM, HIGH_MM
    while high_mm - low_mm > 2 * WANTED_MM:
        middle_mm = (low_mm + high_mm) / 2
        if _majority(read, middle_mm, votes):
            low_mm = middle_mm
        else:
            high_mm = middle_mm
    return Answer((low_mm + high_mm) / 2, (high_mm - low_mm) / 2, edge.readings)


def _majority(read: Callable[[float], bool], position_mm: float, votes: int) -> bool:
    ayes = noes = 0
    while max(ayes, noes) <= votes // 2:
        if read(position_mm):
            ayes += 1
        else:
            noes += 1
    return ayes > noes


def fixed_staircase(edge: SimulatedEdge, step_mm: float) -> Answer:
    """An up-and-down run, evaluated as Dixon and Mood did."""
    levels, seen = _up_and_down(edge, step_mm)
    found = dixon_mood(levels, [not one for one in seen], step_mm)
    return Answer(found.mean, _NORMAL_95 * found.standard_deviation / math.sqrt(found.count), edge.readings)


def staircase_by_probit(edge: SimulatedEdge, step_mm: float) -> Answer:
    """The same run, evaluated by probit analysis where its outcomes overlap, else as before."""
    levels, seen = _up_and_down(edge, step_mm)
    responses = [not one for one in seen]
    lowest = min(level for level, response in zip(levels, responses, strict=True) if response)
    highest = max(level for level, response in zip(levels, responses, strict=True) if not response)
    if lowest >= highest:
        return Answer((lowest + highest) / 2, (lowest - highest + step_mm) / 2, edge.readings)
    found = probit(levels, [1.0] * len(levels), [float(response) for response in responses])
    return Answer(found.middle, _NORMAL_95 * found.middle_error, edge.readings)


def _up_and_down(edge: SimulatedEdge, step_mm: float) -> tuple[list[float], list[bool]]:
    """One step out after 'detected', one in after 'not', until it turns often; the readings from then.

    On its long way a false reading turns it too, so only readings among which it turns again and again count.
    """
    levels: list[float] = []
    seen: list[bool] = []
    position_mm = (LOW_MM + HIGH_MM) / 2
    while sum(a is not b for a, b in pairwise(seen[-_RUN:])) < _TURNS:
        levels.append(position_mm)
        seen.append(edge.approach(position_mm))
        position_mm += step_mm if seen[-1] else -step_mm
    return levels[-_RUN:], seen[-_RUN:]


@dataclass(frozen=True, slots=True)
class ProbitFit:
    """A normal threshold fitted to outcomes: the place where half respond, and its standard error."""

    intercept: float
    slope: float
    deviance: float
    middle_error: float

    @property
    def middle(self) -> float:
        """Where half respond."""
        return -self.intercept / self.slope


def probit(doses: Sequence[float], trials: Sequence[float], responses: Sequence[float]) -> ProbitFit:
    """Maximum likelihood by Fisher scoring (Finney, Probit Analysis); the error of the middle by its slope."""
    from scipy.special import xlogy
    from scipy.stats import norm

    dose, count, hits = (np.asarray(values, dtype=float) for values in (doses, trials, responses))
    centre = float(np.average(dose, weights=count))
    design = np.column_stack((np.ones_like(dose), dose - centre))
    weights, score = count, norm.ppf((hits + 0.5) / (count + 1))
    for _ in range(60):
        information = design.T @ (weights[:, None] * design)
        coefficients = np.linalg.solve(information, design.T @ (weights * score))
        fitted = np.clip(design @ coefficients, -7.0, 7.0)
        share, density = norm.cdf(fitted), norm.pdf(fitted)
        weights = count * density**2 / (share * (1 - share))
        score = fitted + (hits / count - share) / density
    misses = count - hits
    deviance = 2 * float(
        np.sum(xlogy(hits, hits / (count * share)) + xlogy(misses, misses / (count * (1 - share))))
    )
    covariance = np.linalg.inv(design.T @ (weights[:, None] * design))
    slope = float(coefficients[1])
    gradient = np.array([-1 / slope, float(coefficients[0]) / slope**2])
    error = math.sqrt(float(gradient @ covariance @ gradient))
    return ProbitFit(float(coefficients[0]) - slope * centre, slope, deviance, error)


def halving_staircase(edge: SimulatedEdge) -> Answer:
    """The same, with a step that is halved at each turn down to the wanted half-width; mean of the last turns."""
    step_mm, position_mm = (HIGH_MM - LOW_MM) / 4, (LOW_MM + HIGH_MM) / 2
    before: bool | None = None
    turns: list[float] = []
    while len(turns) < 6:
        seen = edge.approach(position_mm)
        if before is not None and seen is not before:
            if step_mm <= WANTED_MM:
                turns.append(position_mm)
            step_mm = max(step_mm / 2, WANTED_MM)
        before = seen
        position_mm += step_mm if seen else -step_mm
    half_width_mm = _NORMAL_95 * math.hypot(stdev(turns) / math.sqrt(len(turns)), WANTED_MM / math.sqrt(12))
    return Answer(fmean(turns), half_width_mm, edge.readings)


@dataclass(frozen=True, slots=True)
class UpAndDown:
    """Mean and standard deviation of a threshold from an up-and-down run; `count` of the rarer outcome."""

    mean: float
    standard_deviation: float
    count: int


def dixon_mood(levels: Sequence[float], responses: Sequence[bool], step: float) -> UpAndDown:
    """Dixon and Mood, J. Am. Stat. Assoc. 43 (1948) 109; for little scatter 0.53 steps, as ISO 12107."""
    rarer = sum(responses) <= len(responses) / 2
    chosen = [level for level, response in zip(levels, responses, strict=True) if response is rarer]
    lowest = min(chosen)
    ranks = [round((level - lowest) / step) for level in chosen]
    count, first, second = len(ranks), sum(ranks), sum(rank**2 for rank in ranks)
    mean = lowest + step * (first / count + (-0.5 if rarer else 0.5))
    ratio = (count * second - first**2) / count**2
    deviation = 1.62 * step * (ratio + 0.029) if ratio > 0.3 else 0.53 * step
    return UpAndDown(mean, deviation, count)


def adaptive_library(edge: SimulatedEdge) -> Answer:
    """questplus, used twice: over the whole interval on a coarse grid, then finely where the edge then seems.

    One fine grid over everything would hold a few million values and take a tenth of a second a choice.
    """
    low_mm, high_mm = LOW_MM, HIGH_MM
    for cell_mm, coverage, enough_mm in ((2.0, 0.99, 8.0), (0.1, COVERAGE, WANTED_MM)):
        centre_mm, half_width_mm = _library_run(
            edge, np.arange(low_mm, high_mm + cell_mm / 2, cell_mm), coverage, enough_mm
        )
        low_mm, high_mm = centre_mm - 10, centre_mm + 10
    return Answer(centre_mm, half_width_mm, edge.readings)


_MOST_READINGS = 80


def _library_run(edge: SimulatedEdge, grid_mm: Any, coverage: float, enough_mm: float) -> tuple[float, float]:
    origin_mm = float(grid_mm[0])
    search = _library(len(grid_mm), float(grid_mm[1] - grid_mm[0]))
    search.posterior = search.prior.copy()
    places = search.stim_domain["intensity"]
    for _ in range(_MOST_READINGS):
        share = search.posterior.sum(dim=("sd", "lower_asymptote", "lapse_rate")).to_numpy()
        centre_mm, half_width_mm = _shortest(places, share, coverage)
        if half_width_mm <= enough_mm:
            break
        stimulus = search.next_stim
        seen = edge.approach(origin_mm + stimulus["intensity"])
        search.update(stim=stimulus, outcome={"response": "no" if seen else "yes"})
    return origin_mm + centre_mm, half_width_mm


@cache
def _library(cells: int, cell_mm: float) -> Any:
    from questplus import QuestPlus

    places = np.round(np.arange(cells) * cell_mm, 6)
    return QuestPlus(
        stim_domain={"intensity": places},
        param_domain={
            "mean": places,
            "sd": np.geomspace(*NOISE_MM, 4),
            "lower_asymptote": np.array([FALSE_SHARE]),
            "lapse_rate": np.array([FALSE_SHARE]),
        },
        outcome_domain={"response": ["yes", "no"]},
        func="norm_cdf",
        stim_scale="linear",
    )


def _shortest(places: Any, share: Any, coverage: float) -> tuple[float, float]:
    """The shortest run of cells that holds the coverage: its middle and half its width."""
    rises = np.concatenate(([0.0], np.cumsum(share)))
    ends = np.searchsorted(rises, rises + coverage - 1e-12)
    lengths = np.where(ends < len(rises), ends - np.arange(len(rises)), len(rises))
    start = int(np.argmin(lengths))
    cell_mm = float(places[1] - places[0])
    low_mm = float(places[0]) + (start - 0.5) * cell_mm
    width_mm = min(int(lengths[start]), len(places)) * cell_mm
    return low_mm + width_mm / 2, width_mm / 2
