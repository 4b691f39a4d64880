"""Counting units: yields, reasons ranked, time per unit. Pure: rows in, figures out."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from statistics import median
from typing import Any, NamedTuple

from rig.events import Verdict


class Tried(NamedTuple):
    """One attempt at a unit; attempts at the same `unit` come in the order in which they were made.

    Attributes:
        unit: what tells units of an order and purpose apart.
        verdict: of the bench; empty without one.
        by_hand: what was decided by hand; empty if nothing was.
        seconds: from the nest to the verdict; None without one.

    """

    group: str
    unit: tuple[str, ...]
    verdict: str
    by_hand: str
    reason: str
    seconds: float | None


@dataclass(slots=True)
class Tally:
    """What became of some units."""

    seconds: list[float] = field(default_factory=list)
    _last: dict[tuple[str, ...], Tried] = field(default_factory=dict)
    _good_at_first: set[tuple[str, ...]] = field(default_factory=set)

    def add(self, tried: Tried) -> None:
        """Take one attempt in; one without a verdict says nothing yet."""
        if not tried.verdict:
            return
        if tried.unit not in self._last and tried.verdict == Verdict.GOOD:
            self._good_at_first.add(tried.unit)
        self._last[tried.unit] = tried
        if tried.seconds is not None:
            self.seconds.append(tried.seconds)

    @property
    def units(self) -> int:
        """How many units there are."""
        return len(self._last)

    def count(self, verdict: Verdict) -> int:
        """How many units this is the last word on."""
        return sum((one.by_hand or one.verdict) == verdict for one in self._last.values())

    def as_row(self) -> dict[str, Any]:
        """The figures, keyed as the columns `TALLY` and `ORDERS`."""
        good = self.count(Verdict.GOOD)
        return {
            "units": self.units,
            "good": good,
            "bad": self.count(Verdict.BAD),
            "undecided": self.count(Verdict.UNDECIDED),
            "yield_percent": _percent(good, self.units),
            "first_pass_percent": _percent(len(self._good_at_first), self.units),
            "by_hand": sum(bool(one.by_hand) for one in self._last.values()),
            "median_s": median(self.seconds) if self.seconds else None,
            "slow_s": _kept_by(0.9, self.seconds),
            "attempts": len(self.seconds),
        }

    def reasons(self) -> Iterator[dict[str, Any]]:
        """Why units were not good, keyed as the columns `REASONS`, the most frequent first."""
        counted = Counter(
            (one.reason, one.verdict) for one in self._last.values() if one.verdict != Verdict.GOOD
        )
        total, above = sum(counted.values()), 0
        for (reason, verdict), units in sorted(counted.items(), key=lambda one: (-one[1], one[0])):
            above += units
            yield {
                "reason": reason,
                "verdict": verdict,
                "units": units,
                "share_percent": _percent(units, total),
                "running_percent": _percent(above, total),
            }


def tallies(attempts: Iterable[Tried]) -> tuple[Tally, Mapping[str, Tally]]:
    """All attempts together, and those of each group."""
    whole, groups = Tally(), defaultdict[str, Tally](Tally)
    for one in attempts:
        whole.add(one)
        groups[one.group].add(one)
    return whole, {name: tally for name, tally in groups.items() if tally.units}


def _percent(part: int, whole: int) -> float | None:
    return 100 * part / whole if whole else None


def _kept_by(share: float, values: list[float]) -> float | None:
    """The least value that this share of them does not exceed."""
    return sorted(values)[math.ceil(share * len(values)) - 1] if values else None
