"""Run rules: what makes a row of points unlikely for a process that nothing has disturbed; each by its name.

Points are given as deviations from the centre line in standard deviations. A point on the centre line belongs to
neither side. Sources, from memory: the four rules of the Statistical Quality Control Handbook (1956) are the first
three and `eight-one-side`; L. S. Nelson, "The Shewhart control chart - tests for special causes", Journal of Quality
Technology 16 (1984) 237-239, has all eight, with nine points on one side instead of eight.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from wiring.check_unit import RunRule


@dataclass(frozen=True, slots=True)
class Explained:
    """What a rule looks for, and what usually is behind it (common practice, no source)."""

    looks_for: str
    often: str


EXPLAINED: Mapping[RunRule, Explained] = {
    RunRule.BEYOND_LIMITS: Explained(
        "one point beyond a control limit", "something happened here: a slip, a knock, a wrong part"
    ),
    RunRule.TWO_OF_THREE: Explained(
        "two of three points in a row beyond two standard deviations on one side",
        "a shift of about two standard deviations, or its beginning",
    ),
    RunRule.FOUR_OF_FIVE: Explained(
        "four of five points in a row beyond one standard deviation on one side",
        "a small shift that stays",
    ),
    RunRule.EIGHT_ONE_SIDE: Explained(
        "eight points in a row on one side of the centre line", "a lasting shift"
    ),
    RunRule.NINE_ONE_SIDE: Explained(
        "nine points in a row on one side of the centre line", "a lasting shift"
    ),
    RunRule.SIX_RISING: Explained(
        "six points in a row, each above the one before, or each below it",
        "drift: wear, a scale that creeps, the room warming up",
    ),
    RunRule.FOURTEEN_ALTERNATING: Explained(
        "fourteen points in a row, up and down by turns",
        "two sources taking turns: two nests, two people, two lots",
    ),
    RunRule.FIFTEEN_INSIDE: Explained(
        "fifteen points in a row within one standard deviation of the centre line",
        "limits that are too wide for what is charted, or readings that are not read",
    ),
    RunRule.EIGHT_OUTSIDE: Explained(
        "eight points in a row, on whichever side, none within one standard deviation of the centre line",
        "a mixture of two sources that lie apart",
    ),
}

CAREFUL: tuple[RunRule, ...] = (RunRule.BEYOND_LIMITS, RunRule.NINE_ONE_SIDE)
"""Few false alarms, for what stops work; an EWMA beside it sees small drift sooner than more rules would."""
FOUR_RULES: tuple[RunRule, ...] = (
    RunRule.BEYOND_LIMITS,
    RunRule.TWO_OF_THREE,
    RunRule.FOUR_OF_FIVE,
    RunRule.EIGHT_ONE_SIDE,
)
EIGHT_RULES: tuple[RunRule, ...] = (
    RunRule.BEYOND_LIMITS,
    RunRule.NINE_ONE_SIDE,
    RunRule.SIX_RISING,
    RunRule.FOURTEEN_ALTERNATING,
    RunRule.TWO_OF_THREE,
    RunRule.FOUR_OF_FIVE,
    RunRule.FIFTEEN_INSIDE,
    RunRule.EIGHT_OUTSIDE,
)
RULE_SETS: Mapping[str, tuple[RunRule, ...]] = {
    "careful": CAREFUL,
    "four": FOUR_RULES,
    "eight": EIGHT_RULES,
}
"""Sets of rules that go by one name."""

LONGEST = 15
"""No rule looks further back than at so many points."""
LIMIT = 3.0
"""Control limits lie so many standard deviations from the centre line."""

Points = Sequence[float]
Test = Callable[[Points], int]
"""Of points up to now: how many of the last ones make the rule speak; 0 if it keeps silent."""


def rules_named(names: Collection[str]) -> tuple[RunRule, ...]:
    """Rules by their own names or those of sets, each once.

    Raises:
        ValueError: for a name that is none, with those that are.

    """
    rules: dict[RunRule, None] = {}
    for name in names:
        if name in RULE_SETS:
            rules.update(dict.fromkeys(RULE_SETS[name]))
        elif name in set(RunRule):
            rules[RunRule(name)] = None
        else:
            allowed = ", ".join((*RULE_SETS, *RunRule))
            raise ValueError(f"no run rule is named {name!r}; allowed: {allowed}")
    return tuple(rules)


def spoken(points: Points, rules: Collection[RunRule]) -> Iterator[tuple[RunRule, int]]:
    """Each rule that speaks at the last of some points, and how many of the last ones make it speak."""
    for rule in rules:
        if length := _TESTS[rule](points[-LONGEST:]):
            yield rule, length


def _of_last(count: int, window: int, beyond: float) -> Test:
    """The last point beyond a line, and so many of the last few beyond it on the same side."""

    def test(points: Points) -> int:
        last = points[-window:]
        side = 1 if points[-1] > 0 else -1
        if len(last) < count or points[-1] * side <= beyond:
            return 0
        return min(window, len(last)) if sum(one * side > beyond for one in last) >= count else 0

    return test


def _all_of_last(length: int, holds: Callable[[Points], bool]) -> Test:
    def test(points: Points) -> int:
        last = points[-length:]
        return length if len(last) == length and holds(last) else 0

    return test


def _one_side(points: Points) -> bool:
    return min(points) > 0 or max(points) < 0


def _rising(points: Points) -> bool:
    steps = [after - before for before, after in pairwise(points)]
    return min(steps) > 0 or max(steps) < 0


def _alternating(points: Points) -> bool:
    steps = [after - before for before, after in pairwise(points)]
    return all(before * after < 0 for before, after in pairwise(steps))


_TESTS: Mapping[RunRule, Test] = {
    RunRule.BEYOND_LIMITS: _of_last(1, 1, LIMIT),
    RunRule.TWO_OF_THREE: _of_last(2, 3, 2.0),
    RunRule.FOUR_OF_FIVE: _of_last(4, 5, 1.0),
    RunRule.EIGHT_ONE_SIDE: _all_of_last(8, _one_side),
    RunRule.NINE_ONE_SIDE: _all_of_last(9, _one_side),
    RunRule.SIX_RISING: _all_of_last(6, _rising),
    RunRule.FOURTEEN_ALTERNATING: _all_of_last(14, _alternating),
    RunRule.FIFTEEN_INSIDE: _all_of_last(15, lambda points: all(abs(one) < 1.0 for one in points)),
    RunRule.EIGHT_OUTSIDE: _all_of_last(8, lambda points: all(abs(one) > 1.0 for one in points)),
}
