"""The truth study: random orders, the whole list of faults, and what each verdict was worth.

    python -m tests.benchmarks.truth --units 100000 --state truth.study --summary tests/benchmarks/truth-100000.json

Every chunk of 50 units is one order: every fourth a shipped one, the others drawn at random, a third of them for other
air than that of the bench. Chunks take turns between the two shipped tables of rates, realistic and harsh. What a unit
really is is read from the simulated unit itself (rig/risk/truth.py).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from rig.library import Library, Section
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from rig.risk.case import Case
from rig.risk.crew import shared_out
from rig.risk.draw import NO_FAULT
from rig.risk.rates import Rates
from rig.risk.state import Done, StateFile
from rig.risk.study import Study
from rig.risk.tally import Seen, Tally
from rig.risk.trial import Result
from rig.statistics.binomial import lower_bound
from sequences.need import AirNeed, Need
from sequences.order import Order
from sequences.sensor_type import SensorType
from sequences.words import Rule
from tests.rig.planned import STAGE, TYPES, guard_at_mm, job
from wiring.terms import DetectionMode

TABLES = ("realistic", "harsh")
SUMMARY = Path(__file__).with_name("truth-100000.json")

LARGEST_FALSE_REJECTION = 0.005
LARGEST_DOUBT = 0.01
LONGEST_S = 600.0
LARGEST_STATED_DOUBT = 0.001
"""Orders are drawn as a planner accepts them: their plans state that hardly any unit will be left undecided."""


@dataclass(frozen=True)
class RandomOrders:
    """Another order for every chunk; `only` takes one table of rates instead of both by turns."""

    seed: int
    rule: Rule = Rule.GUARDED
    only: Rates | None = None

    @cached_property
    def library(self) -> Library:
        return Library(None)

    def case_of(self, chunk: int) -> Case:
        """The case of a chunk."""
        draw = random.Random(f"truth/{self.seed}/{chunk}")
        rates = self.only or self.library.read_rates(TABLES[chunk % len(TABLES)])
        while True:
            try:
                order, sensor_type = self._order(draw, chunk)
                case = Case(self._by_rule(order), sensor_type, STAGE, rates)
                if stated_doubt(case.plan) < LARGEST_STATED_DOUBT:
                    return case
            except (PlanRefused, ValueError):
                continue

    def subject(self) -> dict[str, Any]:
        """Which study of random orders it is."""
        return {"orders": "random", "rule": str(self.rule), "only": self.only.title if self.only else ""}

    def _order(self, draw: random.Random, chunk: int) -> tuple[Order, SensorType]:
        if chunk // len(TABLES) % 4 == 0:
            order, sensor_type = self.library.read_order(draw.choice(list(Section.ORDERS.shipped())))
            return order.model_copy(update={"number": f"{order.number}-{chunk}"}), sensor_type
        return draw_order(draw, f"TRUTH-{chunk}")

    def _by_rule(self, order: Order) -> Order:
        return order.model_copy(update={"checks": order.checks.model_copy(update={"rule": self.rule})})


def stated_doubt(plan: Plan) -> float:
    """Share of units that a plan expects to be left undecided."""
    return sum(risk.undecided for risk in plan.grounds.risks)


def draw_order(draw: random.Random, number: str) -> tuple[Order, SensorType]:
    """Any setting that a type offers, with a tolerance that is neither tight nor generous."""
    sensor_type = draw.choice(list(TYPES.values()))
    mode, function = draw.choice(sensor_type.offered)
    output_type = draw.choice(sensor_type.output.types)
    points = _points(draw, sensor_type, mode)
    made = job(sensor_type.name, mode, function, output_type=output_type, **points)
    need = Need(air=_air(draw)) if draw.random() < 1 / 3 else None
    return made.order.model_copy(update={"number": number, "need": need}), sensor_type


def _points(draw: random.Random, sensor_type: SensorType, mode: DetectionMode) -> dict[str, float]:
    if mode is DetectionMode.FULL_RANGE:
        return {}
    sensing = sensor_type.sensing
    near_mm, far_mm = sorted(
        round(draw.uniform(sensing.blind_zone_mm, sensing.range_mm), 1) for _ in range(2)
    )
    tolerance_mm = round(guard_at_mm(sensor_type, STAGE, far_mm) * draw.uniform(3.0, 10.0), 1)
    if mode is DetectionMode.SINGLE_POINT:
        return {"at_mm": far_mm, "tolerance_mm": tolerance_mm}
    return {"near_mm": near_mm, "far_mm": far_mm, "tolerance_mm": tolerance_mm}


def _air(draw: random.Random) -> AirNeed:
    middle_c, half_k = draw.uniform(0, 40), draw.uniform(0, 4)
    driest = draw.uniform(10, 80)
    return AirNeed(
        coldest_c=round(middle_c - half_k, 1),
        warmest_c=round(middle_c + half_k, 1),
        driest_percent=round(driest),
        dampest_percent=round(min(100.0, driest + 15)),
        altitude_m=draw.choice((0.0, 900.0)),
    )


# -- doing it ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Labelled:
    """The work on a chunk; what is listed of it says of which chunk it is, to be played again."""

    study: Study

    def do(self, chunk: int) -> Done:
        """Try the units of one chunk."""
        done = self.study.do(chunk)
        tally = Tally.from_dict(done.tally)
        case = self.study.source.case_of(chunk)
        words = f"chunk {chunk}, {case.sensor_type.name} {case.plan.mode} {case.plan.output_function}"
        for listed in (tally.listed, tally.unsafe):
            listed[:] = [replace(one, details=f"{words}: {one.details or one.fault}") for one in listed]
        return replace(done, tally=tally.as_dict())


def tallies(study: Study, *, cores: int, state: Path | None) -> Iterator[tuple[dict[str, Tally], float]]:
    """What is known after every chunk, table by table, and the processor time."""
    found, cpu_s = {name: Tally() for name in TABLES}, 0.0
    kept = None if state is None else StateFile(state, {"seed": study.seed, **study.source.subject()})
    known = {} if kept is None else kept.done

    def take(done: Done) -> None:
        nonlocal cpu_s
        found[TABLES[done.chunk % len(TABLES)]].merge(Tally.from_dict(done.tally))
        cpu_s += done.cpu_s

    for chunk in study.chunks():
        if chunk in known:
            take(known[chunk])
    yield found, cpu_s
    left = [chunk for chunk in study.chunks() if chunk not in known]
    for _, done in shared_out(Labelled(study).do, left, cores):
        if kept is not None:
            kept.add(done)
        take(done)
        yield found, cpu_s


# -- what it says --------------------------------------------------------------------------------------------------


def summary_of(found: dict[str, Tally], *, stated_risk: float) -> dict[str, Any]:
    """Everything that the goals are about, and every escape."""
    together = Tally()
    for tally in found.values():
        together.merge(tally)
    return {
        "units": together.units,
        "bad_units": together.bad,
        "stated_risk": stated_risk,
        "goals": goals(found, together, stated_risk),
        "tables": {name: _counts(tally) for name, tally in found.items()},
        "by_fault": {fault: _of_fault(together, fault) for fault in together.faults},
        "escapes": [_told(one) for one in together.with_result(Result.ESCAPE)],
        "unseen": len(list(together.with_result(Result.UNSEEN))),
        "unseen_because": _unseen(together),
        "false_rejections": [_told(one) for one in together.with_result(Result.FALSE_REJECTION)],
        "unsafe": [_told(one) for one in together.unsafe],
    }


def goals(found: dict[str, Tally], together: Tally, stated_risk: float) -> dict[str, Any]:
    """Each goal: what was asked, what was found, whether it is met."""
    escapes = Seen(together.count(Result.ESCAPE), together.bad)
    realistic = found[TABLES[0]]
    sound = realistic.units - realistic.bad
    rejected = Seen(realistic.count(Result.FALSE_REJECTION), sound)
    doubted = Seen(realistic.count(Result.DOUBT), sound)
    worst = {
        fault: Seen(together.count(Result.ESCAPE, fault=fault), together.defective[fault])
        for fault in together.faults
        if together.defective[fault]
    }
    return {
        "escapes among bad units, at most as stated": _goal(
            escapes, stated_risk, lower_bound(*_pair(escapes))
        ),
        "the same of every fault": {
            fault: _goal(seen, stated_risk, lower_bound(*_pair(seen)))
            for fault, seen in worst.items()
            if seen.count
        },
        "sound units called bad (realistic)": _goal(rejected, LARGEST_FALSE_REJECTION, rejected.share),
        "sound units undecided (realistic)": _goal(doubted, LARGEST_DOUBT, doubted.share),
        "nothing unsafe": {"count": len(together.unsafe), "met": not together.unsafe},
    }


def _pair(seen: Seen) -> tuple[int, int]:
    return seen.count, seen.trials


def _goal(seen: Seen, limit: float, held: float) -> dict[str, Any]:
    bounds = seen.bounds
    return {
        "count": seen.count,
        "of": seen.trials,
        "share": seen.share,
        "bounds": [bounds.lower, bounds.upper],
        "limit": limit,
        "met": held <= limit,
    }


def _counts(tally: Tally) -> dict[str, Any]:
    return {
        "units": tally.units,
        "bad_units": tally.bad,
        "without_fault": tally.units_with(NO_FAULT),
        "results": {str(result): tally.count(result) for result in Result},
        "without_fault_results": {str(result): tally.count(result, fault=NO_FAULT) for result in Result},
    }


def _of_fault(tally: Tally, fault: str) -> dict[str, Any]:
    results = {str(result): tally.count(result, fault=fault) for result in Result}
    return {"units": tally.units_with(fault), "bad": tally.defective[fault], "results": results}


def _unseen(tally: Tally) -> dict[str, int]:
    reasons = [str(beyond) for one in tally.with_result(Result.UNSEEN) for beyond in one.beyond]
    return {reason: reasons.count(reason) for reason in sorted(set(reasons))}


def _told(outcome: Any) -> dict[str, Any]:
    told = asdict(outcome)
    return {
        key: told[key]
        for key in ("seed", "details", "defects", "before", "beyond_mm", "verdict", "words", "unsafe")
    }


def main(arguments: list[str] | None = None) -> int:
    """Do the study, or the rest of it, and write its summary."""
    options = _options(arguments)
    study = Study(RandomOrders(options.seed, Rule(options.rule)), options.seed, options.units)
    start_s, found, cpu_s = time.monotonic(), {name: Tally() for name in TABLES}, 0.0
    known: int | None = None
    for found, cpu_s in tallies(study, cores=options.cores, state=options.state):
        units = sum(tally.units for tally in found.values())
        known = units if known is None else known
        print(f"\r{units} of {options.units} units, {cpu_s:.0f} s of processor time", end="", file=sys.stderr)
    wall_s = time.monotonic() - start_s
    summary = {
        "study": {"seed": options.seed, "rule": options.rule, "cores": options.cores},
        "machine": {"python": platform.python_version(), "cores": os.cpu_count(), "load": os.getloadavg()[0]},
        "time": {
            "wall_s_of_the_last_run": round(wall_s, 1),
            "units_of_the_last_run": options.units - (known or 0),
            "processor_s": round(cpu_s, 1),
            "processor_s_on_two_cores": round(cpu_s / 2, 1),
            "goal_s_on_two_cores": LONGEST_S,
        },
        **summary_of(found, stated_risk=STATED_RISK),
    }
    if options.summary:
        options.summary.write_text(json.dumps(summary, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    print("\n" + json.dumps({"goals": summary["goals"], "time": summary["time"]}, indent=2))
    return 0


STATED_RISK = 0.02275
"""What every plan by guarded acceptance states of a unit that is bad by a hair: Phi(-2) (JCGM 106, specific risk)."""


def _options(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.truth",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--units", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cores", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--rule", choices=("guarded", "simple"), default="guarded")
    parser.add_argument("--state", type=Path, metavar="FILE", help="keep what is done, and go on from there")
    parser.add_argument("--summary", type=Path, metavar="FILE", help="write the summary as JSON")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    raise SystemExit(main())
