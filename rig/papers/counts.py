"""What is counted over the units of an order: deviations, readings, faults and times."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import mean, median, stdev

from rig.events import Verdict
from rig.papers.chart import round_step
from rig.papers.tries import Read, Try

_MOST_BINS = 16
# How many tolerances to either side are drawn; what lies farther out is counted at the end, or nothing could be seen.
_LEAST_DRAWN, _MOST_DRAWN = 1.2, 2.0


@dataclass(frozen=True, slots=True)
class Bin:
    """Units of each verdict whose deviation lies from `low_mm` up to `high_mm`."""

    low_mm: float
    high_mm: float
    good: int = 0
    undecided: int = 0
    bad: int = 0


@dataclass(frozen=True, slots=True)
class Histogram:
    """The deviations of one edge; what lies farther out than its first and last bin is counted in these.

    `beyond` is how many those are. `good`, `mean_mm` and `spread_mm` are number, mean and standard deviation of the
    good units alone; None where there are too few.
    """

    edge: str
    tolerance_mm: float
    bins: tuple[Bin, ...]
    count: int
    beyond: int
    good: int
    mean_mm: float | None
    spread_mm: float | None


@dataclass(frozen=True, slots=True)
class Sides:
    """What was read of all units at one check position; `position_mm` None: a clear beam."""

    requirement: str
    position_mm: float | None
    right: int
    wrong: int
    unsteady: int
    not_read: int


@dataclass(frozen=True, slots=True)
class Fault:
    """Units with one reason and one verdict that is not good; `share` is their share of all that are not good."""

    reason: str
    verdict: Verdict
    share: float
    serials: tuple[str, ...]

    @property
    def count(self) -> int:
        """How many units."""
        return len(self.serials)


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds on the bench of every attempt that came to a verdict."""

    count: int
    shortest_s: float
    median_s: float
    longest_s: float
    total_s: float


def histograms(lasts: Sequence[Try], tolerance_mm: float) -> Iterator[Histogram]:
    """The deviations of every edge that has a set point; none where units were not measured."""
    by_edge: dict[str, list[tuple[float, Verdict | None]]] = {}
    for one in lasts:
        for deviation in one.deviations:
            by_edge.setdefault(deviation.edge, []).append((deviation.value_mm, one.verdict))
    for edge, found in sorted(by_edge.items()):
        yield _histogram(edge, found, tolerance_mm)


def _histogram(edge: str, found: Sequence[tuple[float, Verdict | None]], tolerance_mm: float) -> Histogram:
    values = [value_mm for value_mm, _ in found]
    good = [value_mm for value_mm, verdict in found if verdict is Verdict.GOOD]
    reach_mm = min(max(_LEAST_DRAWN * tolerance_mm, *map(abs, values)), _MOST_DRAWN * tolerance_mm)
    step_mm = round_step(2 * reach_mm / _MOST_BINS)
    half = max(1, math.ceil(reach_mm / step_mm - 1e-9))
    counts: dict[int, Counter[Verdict | None]] = {index: Counter() for index in range(-half, half)}
    for value_mm, verdict in found:
        index = math.floor(value_mm / step_mm)
        counts[min(max(index, -half), half - 1)][verdict] += 1
    return Histogram(
        edge=edge,
        tolerance_mm=tolerance_mm,
        bins=tuple(
            Bin(
                round(index * step_mm, 9),
                round((index + 1) * step_mm, 9),
                count[Verdict.GOOD],
                count[Verdict.UNDECIDED] + count[None],
                count[Verdict.BAD],
            )
            for index, count in counts.items()
        ),
        count=len(values),
        beyond=sum(abs(value_mm) > half * step_mm for value_mm in values),
        good=len(good),
        mean_mm=mean(good) if good else None,
        spread_mm=stdev(good) if len(good) > 1 else None,
    )


def sides(lasts: Sequence[Try]) -> Iterator[Sides]:
    """Every check position in the order in which it comes, with what was read there of all units."""
    found: dict[str, list[Read]] = {}
    for one in lasts:
        for read in one.read:
            found.setdefault(read.requirement, []).append(read)
    for requirement, own in found.items():
        answers = Counter(read.right for read in own)
        places = Counter(read.position_mm for read in own)
        yield Sides(
            requirement=requirement,
            position_mm=places.most_common(1)[0][0],
            right=answers[True],
            wrong=answers[False],
            unsteady=answers[None],
            not_read=len(lasts) - len(own),
        )


def faults(lasts: Sequence[Try]) -> Iterator[Fault]:
    """Why units are not good, what most units have first."""
    found: dict[tuple[str, Verdict], list[str]] = {}
    for one in lasts:
        if one.verdict in (Verdict.BAD, Verdict.UNDECIDED):
            found.setdefault((one.reason, one.verdict), []).append(one.serial)
    whole = sum(map(len, found.values()))
    for (reason, verdict), serials in sorted(found.items(), key=lambda known: (-len(known[1]), known[0])):
        yield Fault(reason, verdict, len(serials) / whole, tuple(serials))


def times(tries: Sequence[Try]) -> Times | None:
    """How long the attempts took; None if none came to a verdict."""
    seconds = [one.seconds for one in tries if one.seconds is not None]
    if not seconds:
        return None
    return Times(len(seconds), min(seconds), median(seconds), max(seconds), round(sum(seconds), 3))
