"""`python -m tests.benchmarks.edge_search`: how many readings an edge takes, by every way of finding it."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean, median, quantiles

from rich.console import Console
from rich.table import Table

from rig.edges.looks import suppose_spreads
from rig.edges.posterior import EdgeModel, Posterior, Reading
from rig.edges.search import Pace, Rules, Stop, next_step
from tests.benchmarks.edges import (
    COVERAGE,
    FALSE_SHARE,
    HIGH_MM,
    LOW_MM,
    NOISE_MM,
    STEP_MM,
    WANTED_MM,
    Answer,
    SimulatedEdge,
    information_bound,
)
from tests.benchmarks.rivals import (
    adaptive_library,
    bisection,
    fixed_staircase,
    halving_staircase,
    staircase_by_probit,
)

# A stage at 1 m/s; each reading leaves the beam, comes back and waits for the unit.
PACE = Pace(speed_mm_s=1000.0, reading_s=1.0)
RULES = Rules(WANTED_MM, PACE, STEP_MM, COVERAGE)

Method = Callable[[SimulatedEdge], Answer]


def step_search(edge: SimulatedEdge) -> Answer:
    """The search of this project; each choice is timed together with taking in its reading, in processor time."""
    spreads = suppose_spreads(NOISE_MM, looks=1)
    belief = Posterior.start(EdgeModel(LOW_MM, HIGH_MM, False, spreads, FALSE_SHARE))
    here_mm = (LOW_MM + HIGH_MM) / 2
    choosing_s: list[float] = []
    while True:
        start_s = time.thread_time()
        step = next_step(belief, RULES, here_mm)
        if isinstance(step, Stop):
            estimate = step.estimate
            return Answer(
                estimate.position_mm, estimate.half_width_mm, len(belief.readings), tuple(choosing_s)
            )
        chosen_s = time.thread_time() - start_s
        here_mm = step.position_mm
        reading = Reading(here_mm, edge.approach(here_mm))
        start_s = time.thread_time()
        belief = belief.after(reading)
        choosing_s.append(chosen_s + time.thread_time() - start_s)


METHODS: dict[str, Method] = {
    "step search": step_search,
    "bisection, best of 3": lambda edge: bisection(edge, edge.approach, 3),
    "bisection, best of 5": lambda edge: bisection(edge, edge.approach, 5),
    "bisection, best of 5, from both sides": lambda edge: bisection(edge, edge.move, 5),
    "staircase, 1 mm steps": lambda edge: fixed_staircase(edge, 1.0),
    "staircase, 1 mm steps, by probit": lambda edge: staircase_by_probit(edge, 1.0),
    "staircase, 5 mm steps": lambda edge: fixed_staircase(edge, 5.0),
    "staircase, halving steps": halving_staircase,
    "adaptive library": adaptive_library,
}


@dataclass(frozen=True, slots=True)
class Row:
    """What a method came to over many edges."""

    name: str
    readings: float
    readings_95: float
    half_width_mm: float
    covered: float
    within_wanted: float
    largest_error_mm: float
    choosing_s: tuple[float, ...]


def compare(name: str, edges: int) -> Row:
    """Let one method find the edges numbered from 0."""
    pairs = [(edge, METHODS[name](edge)) for edge in map(SimulatedEdge, range(edges))]
    errors_mm = [abs(answer.position_mm - edge.threshold_mm) for edge, answer in pairs]
    answers = [answer for _, answer in pairs]
    readings = [answer.readings for answer in answers]
    return Row(
        name,
        fmean(readings),
        quantiles(readings, n=20)[-1],
        median(answer.half_width_mm for answer in answers),
        fmean(error <= answer.half_width_mm for error, answer in zip(errors_mm, answers, strict=True)),
        fmean(error <= WANTED_MM for error in errors_mm),
        max(errors_mm),
        tuple(seconds for answer in answers for seconds in answer.choosing_s),
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.edge_search", description=__doc__)
    parser.add_argument("--edges", type=int, default=1000, help="how many edges (default 1000)")
    parser.add_argument("--only", action="append", choices=METHODS, help="only this; may be given again")
    options = parser.parse_args(arguments)
    rows = []
    for name in options.only or METHODS:
        print(f"{name} ...", file=sys.stderr, flush=True)
        rows.append(compare(name, options.edges))
    _print(rows, options.edges)
    return 0


def _print(rows: Sequence[Row], edges: int) -> None:
    bound = information_bound()
    table = Table(
        "method",
        "readings",
        "of bound",
        "95 % need",
        "U stated",
        "U holds",
        f"within {WANTED_MM} mm",
        "worst",
    )
    for row in rows:
        table.add_row(
            row.name,
            f"{row.readings:.1f}",
            f"{row.readings / bound:.2f}",
            f"{row.readings_95:.0f}",
            f"{row.half_width_mm:.2f} mm",
            f"{row.covered:.1%}",
            f"{row.within_wanted:.1%}",
            f"{row.largest_error_mm:.2f} mm",
        )
    console = Console(width=120, highlight=False)
    console.print(
        f"{edges} edges between {LOW_MM:g} and {HIGH_MM:g} mm, noise {NOISE_MM[0]:g} to {NOISE_MM[1]:g} mm, "
        f"{FALSE_SHARE:.0%} false readings, wanted U = {WANTED_MM:g} mm; information bound {bound:.2f} readings"
    )
    console.print(table)
    for line in _choosing(rows):
        console.print(line)


def _choosing(rows: Sequence[Row]) -> Iterator[str]:
    for row in rows:
        if row.choosing_s:
            milliseconds = sorted(1000 * seconds for seconds in row.choosing_s)
            last = milliseconds[int(0.99 * len(milliseconds))]
            yield f"{row.name}: {fmean(milliseconds):.2f} ms a choice, 99 % under {last:.2f} ms of processor time"


if __name__ == "__main__":
    raise SystemExit(main())
