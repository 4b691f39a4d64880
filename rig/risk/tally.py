"""Outcomes counted: per fault and verdict, with whatever escaped or was wrongly rejected in full."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from rig.events import Verdict
from rig.risk.beyond import Beyond
from rig.risk.trial import Outcome, Result
from rig.risk.truth import Defect
from rig.statistics.binomial import Bounds, clopper_pearson

_LISTED = (Result.ESCAPE, Result.UNSEEN, Result.FALSE_REJECTION)


@dataclass(frozen=True, slots=True)
class Seen:
    """So many of so many units."""

    count: int
    trials: int

    @property
    def share(self) -> float:
        """The share; 0 of none."""
        return self.count / self.trials if self.trials else 0.0

    @property
    def bounds(self) -> Bounds:
        """Clopper-Pearson bounds for 95 % coverage."""
        return clopper_pearson(self.count, self.trials)


@dataclass
class Tally:
    """Many outcomes, counted; the order in which they are added does not matter.

    Attributes:
        results: how often each result came, by fault.
        defective: how many units were bad as they left the bench, by fault.
        doubts: why sound units were left undecided, by reason, on a bench with a fault and on one without.
        listed: outcomes to look into, in the order of their seeds.

    """

    results: Counter[tuple[str, Result]] = field(default_factory=Counter)
    defective: Counter[str] = field(default_factory=Counter)
    doubts: Counter[tuple[str, str]] = field(default_factory=Counter)
    listed: list[Outcome] = field(default_factory=list)
    unsafe: list[Outcome] = field(default_factory=list)

    def add(self, outcome: Outcome) -> None:
        """Count one outcome."""
        result = outcome.result
        self.results[outcome.fault, result] += 1
        self.defective[outcome.fault] += bool(outcome.defects)
        if result is Result.DOUBT:
            self.doubts[outcome.fault, outcome.reason] += 1
        if result in _LISTED:
            self.listed.append(outcome)
        if outcome.unsafe:
            self.unsafe.append(outcome)

    def merge(self, other: Tally) -> None:
        """Take in what was counted elsewhere."""
        self.results += other.results
        self.defective += other.defective
        self.doubts += other.doubts
        self.listed = sorted([*self.listed, *other.listed], key=lambda one: one.seed)
        self.unsafe = sorted([*self.unsafe, *other.unsafe], key=lambda one: one.seed)

    @property
    def units(self) -> int:
        """How many units were tried."""
        return self.results.total()

    @property
    def faults(self) -> list[str]:
        """The faults that came up."""
        return sorted({fault for fault, _ in self.results})

    def count(self, *results: Result, fault: str | None = None) -> int:
        """How often some results came, over all faults or with one."""
        return sum(
            count
            for (of_fault, result), count in self.results.items()
            if result in results and fault in (None, of_fault)
        )

    def units_with(self, fault: str) -> int:
        """How many units were tried with a fault."""
        return self.count(*Result, fault=fault)

    def of_all(self, *results: Result) -> Seen:
        """Some results, of all units."""
        return Seen(self.count(*results), self.units)

    @property
    def bad(self) -> int:
        """Units that were bad as they left the bench."""
        return self.defective.total()

    def with_result(self, result: Result) -> Iterator[Outcome]:
        """The listed outcomes with one result."""
        return (one for one in self.listed if one.result is result)

    def as_dict(self) -> dict[str, Any]:
        """Everything, for JSON."""
        return {
            "results": [
                [fault, str(result), count] for (fault, result), count in sorted(self.results.items())
            ],
            "defective": [[fault, count] for fault, count in sorted(self.defective.items()) if count],
            "doubts": [[*key, count] for key, count in sorted(self.doubts.items())],
            "listed": [asdict(one) for one in self.listed],
            "unsafe": [asdict(one) for one in self.unsafe],
        }

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> Self:
        """The tally that `as_dict` wrote."""
        return cls(
            Counter({(fault, Result(result)): count for fault, result, count in data["results"]}),
            Counter(dict(data["defective"])),
            Counter({(fault, reason): count for fault, reason, count in data["doubts"]}),
            [_outcome(one) for one in data["listed"]],
            [_outcome(one) for one in data["unsafe"]],
        )


def tally_of(outcomes: Iterable[Outcome]) -> Tally:
    """Count outcomes."""
    tally = Tally()
    for outcome in outcomes:
        tally.add(outcome)
    return tally


def _outcome(data: dict[str, Any]) -> Outcome:
    named: dict[str, Any] = {
        "defects": tuple(map(Defect, data["defects"])),
        "before": tuple(map(Defect, data["before"])),
        "beyond": tuple(map(Beyond, data["beyond"])),
        "verdict": None if data["verdict"] is None else Verdict(data["verdict"]),
        "unsafe": tuple(data["unsafe"]),
    }
    return Outcome(**{**data, **named})
