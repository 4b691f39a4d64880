"""How often a unit looks before its output is read, and what that does to where it seems to switch.

A unit switches at the first look that says so and then holds, by its hysteresis. The more often it looks while the
target stands still, the further before the edge one unlucky look suffices. A reading taken after many looks
therefore speaks of the first of many, not of the middle of all; the edge itself is the middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import NormalDist, stdev

import numpy as np

from rig.edges.posterior import Spread

# Common practice, no source: a unit hears two echoes within the response time that its data sheet states.
_LOOKS_PER_RESPONSE = 2.0
# That may be wrong by a factor of two either way; the middle is twice as likely as each of the others.
_DOUBT = ((0.5, 0.25), (1.0, 0.5), (2.0, 0.25))
_NOISE_STEPS = 4
# Of the standard deviation of a few points: between these shares of it the true one lies.
_LEARNED = (0.5, 3.0)


def looks_in(exposure_s: float, response_s: float) -> float:
    """How often a unit looks at a target that stands still for a time, early enough for its output to show it.

    The longest response is the wait for the next look and, as long again, the way of the answer to the output.
    """
    return max(1.0, _LOOKS_PER_RESPONSE * exposure_s / response_s - 1)


def first_of(looks: float) -> tuple[float, float]:
    """How early the first of so many looks is, and how it scatters, both in standard deviations of one look.

    The median of the largest of so many normal values, and half of what its middle 68 % span.
    """
    low, middle, high = (_largest_quantile(NormalDist().cdf(z), looks) for z in (-1, 0, 1))
    return middle, (high - low) / 2


def _largest_quantile(share: float, looks: float) -> float:
    return NormalDist().inv_cdf(share ** (1 / looks))


def suppose_spreads(
    noise_mm: tuple[float, float], *, looks: float, placement_mm: float = 0.0
) -> tuple[Spread, ...]:
    """Suppositions on how the edge of a sound unit scatters, for the model of an edge.

    `noise_mm` is the least and the largest standard deviation of one look that is thought possible, any between
    as likely on a scale of ratios. `placement_mm` is the standard deviation of the target's place, which stays the
    same from look to look. A single look is known to be one; more are known to a factor of two.
    """
    counts = _DOUBT if looks > 1 else ((1.0, 1.0),)
    return tuple(
        _spread(float(sd_mm), max(1.0, looks * factor), placement_mm, weight)
        for factor, weight in counts
        for sd_mm in np.geomspace(*noise_mm, _NOISE_STEPS)
    )


def noise_seen(points_mm: Sequence[float], *, looks: float, least_mm: float) -> tuple[float, float]:
    """Least and largest noise of a unit that was seen to switch at these points, two or more, on equal approaches.

    `least_mm` is a standard deviation below which nothing can be told. Raises ValueError for fewer points.
    """
    _, scatter = first_of(looks)
    seen_mm = max(stdev(points_mm), least_mm) / scatter
    return _LEARNED[0] * seen_mm, _LEARNED[1] * seen_mm


def largest_step_mm(points_mm: Sequence[float]) -> float:
    """By how much a row of points, as they came, moved once and for all; 0 where no place parts them.

    Before and after, they have to lie closer to one another than the step is high.
    """
    steps_mm = [0.0]
    for index in range(1, len(points_mm)):
        before, after = points_mm[:index], points_mm[index:]
        height_mm = max(min(after) - max(before), min(before) - max(after))
        width_mm = max(max(before) - min(before), max(after) - min(after))
        if height_mm > width_mm:
            steps_mm.append(height_mm)
    return max(steps_mm)


def _spread(noise_mm: float, looks: float, placement_mm: float, weight: float) -> Spread:
    early, scatter = first_of(looks)
    return Spread(float(np.hypot(scatter * noise_mm, placement_mm)), early * noise_mm, weight)
