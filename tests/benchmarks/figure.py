"""What a benchmark finds: a figure, and what it was measured against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from math import ceil
from typing import Any


@dataclass(frozen=True, slots=True)
class Reference:
    """Something that anybody can measure, taken in the same run; in the unit of the figure beside it."""

    name: str
    value: float


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure; less is better.

    Attributes:
        goal: the most that `value` may be; None for a figure that is only told.
        goal_ratio: the most that `ratio` may be, likewise.
        note: the same in other words, or how it was measured.

    """

    name: str
    value: float
    unit: str
    reference: Reference
    goal: float | None = None
    goal_ratio: float | None = None
    note: str = ""

    @property
    def ratio(self) -> float:
        """The figure in terms of its reference."""
        return self.value / self.reference.value

    @property
    def met(self) -> bool | None:
        """Whether the goal was met; None without one."""
        if self.goal is None and self.goal_ratio is None:
            return None
        return not (
            (self.goal is not None and self.value > self.goal)
            or (self.goal_ratio is not None and self.ratio > self.goal_ratio)
        )

    @property
    def goal_words(self) -> str:
        """The goal as it stands in the table."""
        if self.goal is not None:
            return f"{self.goal:g} {self.unit}:"
        return "" if self.goal_ratio is None else f"ratio {self.goal_ratio:g}:"

    def as_dict(self) -> dict[str, Any]:
        """The figure for JSON."""
        return {**asdict(self), "ratio": self.ratio, "met": self.met}


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest of `values` that `share` of them do not exceed."""
    return sorted(values)[max(0, ceil(share * len(values)) - 1)]


def number(value: float) -> str:
    """A number to three figures, as a person writes it."""
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"
