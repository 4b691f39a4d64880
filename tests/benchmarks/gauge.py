"""The gauge study studied: how often its intervals hold what was placed into the simulated rig.

    python -m tests.benchmarks.gauge --studies 500 --state gauge.study

Every study draws ten units, three people and every seating anew from known spreads, and goes through the real rig:
plan, order, edge search, record left away. Repeatability is what seating places in and what the search itself adds,
which is found once from studies without any seating. Runs on from its state file; a line a study.

With `--resampled` studies are drawn numbers, but for the errors of the search, which are taken from those studies
without seating: a thousand times as quick.
"""

from __future__ import annotations

import argparse
import json
import math
import random
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from rig.gauge.anova import analyse
from rig.gauge.components import Part, components_of, share_of_spread
from rig.gauge.course import Course
from rig.gauge.values import Values
from tests.rig.gauge.studied import Rig

UNIT_MM, PERSON_MM, SEATING_MM = 6.0, 1.2, 1.0
WANTED_MM = 1.5
"""As coarsely as saves half of the time; spreads are as much larger."""

SEARCH_STUDIES = 10
"""Studies without seating, from whose repeats the search's own scatter is taken: 60 degrees of freedom each."""

_PARTS = (Part.REPEATABILITY, Part.LEVEL, Part.REPRODUCIBILITY, Part.GAUGE, Part.UNIT)


def study(rig: Rig, seed: int, person_mm: float, seating_mm: float) -> dict[str, Any]:
    """One study of spreads that are placed in, and what came out."""
    draw = random.Random(f"gauge {seed}")
    offsets_mm = [draw.gauss(0.0, UNIT_MM) for _ in range(10)]
    hands_mm = [draw.gauss(0.0, person_mm) for _ in range(3)]
    course = Course(rig.design(seed=seed))
    rig.run(course, rig.bench(offsets_mm, hands_mm, seating_mm, 1000 * seed))
    if course.values is None:
        return {"seed": seed, "seated": seating_mm > 0, "left": len(course.left), "why": course.why}
    return {
        **judged(course.values),
        "seed": seed,
        "seated": seating_mm > 0,
        "left": 0,
        "errors": [] if seating_mm else list(errors_of(course.values)),
    }


def errors_of(values: Values) -> Iterator[float]:
    """How far each value lies off its unit's mean; as much larger as that mean goes along with it."""
    count = values.levels * values.repeats
    for unit, mean in zip(values.by, values.unit_means, strict=True):
        yield from ((value - mean) * math.sqrt(count / (count - 1)) for cell in unit for value in cell)


def judged(values: Values) -> dict[str, Any]:
    """What a study says of its values."""
    table = analyse(values)
    found = components_of(table)
    share = share_of_spread(table)
    intervals = {part: found[part].interval for part in _PARTS}
    return {
        "repeats": table.repeats.mean,
        "together_by_chance": table.interaction.chance,
        "pooled": table.pooled,
        "intervals": {str(part): [one.low, one.high] for part, one in intervals.items() if one is not None},
        "share": [share.low, share.high],
    }


def resampled(errors: list[float], seed: int) -> dict[str, Any]:
    """A study of drawn numbers and real errors of the search."""
    draw = random.Random(f"resampled {seed}")
    hands_mm = [draw.gauss(0.0, PERSON_MM) for _ in range(3)]
    units = []
    for _ in range(10):
        unit_mm = draw.gauss(0.0, UNIT_MM)
        cells = [[draw.gauss(unit_mm + hand_mm, SEATING_MM) for _ in range(3)] for hand_mm in hands_mm]
        units.append(tuple(tuple(one + draw.choice(errors) for one in cell) for cell in cells))
    return {**judged(Values(tuple(units))), "seed": seed, "seated": True, "left": 0}


def all_resampled(done: list[dict[str, Any]], studies: int) -> list[dict[str, Any]]:
    """The studies without seating, and so many by the errors of their search."""
    still = [one for one in done if not one["seated"]]
    errors = [error for one in still for error in one["errors"]]
    return [*still, *(resampled(errors, seed) for seed in range(studies))]


def through_the_rig(done: list[dict[str, Any]], studies: int) -> Iterator[dict[str, Any]]:
    """The studies that are left, through the whole rig."""
    rig = Rig(WANTED_MM)
    for seed, seated in missing(done, studies):
        yield study(rig, seed, *((PERSON_MM, SEATING_MM) if seated else (0.0, 0.0)))


def missing(done: list[dict[str, Any]], studies: int) -> Iterator[tuple[int, bool]]:
    """The studies that are left: those without seating first."""
    known = {(one["seed"], one["seated"]) for one in done}
    wanted = [(seed, False) for seed in range(SEARCH_STUDIES)] + [(seed, True) for seed in range(studies)]
    yield from (one for one in wanted if one not in known)


def summary(done: list[dict[str, Any]]) -> dict[str, Any]:
    """How often each interval holds the truth."""
    still = [one["repeats"] for one in done if not one["seated"] and not one["left"]]
    search = sum(still) / len(still)
    truth = {
        Part.REPEATABILITY: SEATING_MM**2 + search,
        Part.LEVEL: PERSON_MM**2,
        Part.REPRODUCIBILITY: PERSON_MM**2,
        Part.GAUGE: SEATING_MM**2 + search + PERSON_MM**2,
        Part.UNIT: UNIT_MM**2,
    }
    share = math.sqrt(truth[Part.GAUGE] / (truth[Part.GAUGE] + truth[Part.UNIT]))
    studies = [one for one in done if one["seated"] and not one["left"]]
    held: Counter[str] = Counter()
    for one in studies:
        for part, variance in truth.items():
            low, high = one["intervals"][str(part)]
            held[str(part)] += low <= variance <= high
        held["share of the spread"] += one["share"][0] <= share <= one["share"][1]
    return {
        "studies": len(studies),
        "not finished": sum(one["left"] > 0 for one in done),
        "search_mm": math.sqrt(search),
        "pooled": sum(one["pooled"] for one in studies) / max(1, len(studies)),
        "held": {part: count / len(studies) for part, count in held.items()},
    }


def main() -> None:
    """Do the studies that are left, and say how often the intervals hold."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else "")
    parser.add_argument("--studies", type=int, default=500)
    parser.add_argument("--state", type=Path, required=True)
    parser.add_argument("--resampled", action="store_true")
    options = parser.parse_args()
    done: list[dict[str, Any]] = []
    if options.state.is_file():
        done = [json.loads(line) for line in options.state.read_text().splitlines()]
    for one in through_the_rig(done, 0 if options.resampled else options.studies):
        done.append(one)
        with options.state.open("a") as file:
            file.write(json.dumps(one) + "\n")
    if options.resampled:
        done = all_resampled(done, options.studies)
    print(json.dumps(summary(done), indent=2))


if __name__ == "__main__":
    main()
