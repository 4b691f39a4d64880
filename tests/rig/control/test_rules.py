"""Run rules against a second statement of each, made of letters and patterns instead of numbers and windows."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from itertools import pairwise

import pytest

from rig.control.rules import EIGHT_RULES, EXPLAINED, FOUR_RULES, rules_named, spoken
from wiring.check_unit import RunRule

# a b c d upwards from the centre: up to 1, 2, 3 standard deviations, beyond; capitals below; 0 on the line.
_ZONES = (1.0, 2.0, 3.0)


def zone(point: float) -> str:
    if point == 0:
        return "0"
    letter = "abcd"[sum(abs(point) > one for one in _ZONES)]
    return letter if point > 0 else letter.upper()


def trend(points: list[float]) -> str:
    return "".join("/" if b > a else "\\" if b < a else "-" for a, b in pairwise(points))


def speaks(rule: RunRule, points: list[float]) -> bool:
    """The same rule, as a pattern over the letters of all points, that has to match at the end."""
    said, steps = "".join(map(zone, points)), trend(points)
    if rule is RunRule.SIX_RISING:
        return re.search(r"(/{5}|\\{5})$", steps) is not None
    if rule is RunRule.FOURTEEN_ALTERNATING:
        return re.search(r"((/\\){6}/|(\\/){6}\\)$", steps) is not None
    pattern = {
        RunRule.BEYOND_LIMITS: "[dD]$",
        RunRule.TWO_OF_THREE: "([cd].?[cd]|[CD].?[CD])$",
        RunRule.FOUR_OF_FIVE: "({0}.{0}{{3}}|{0}{{2}}.{0}{{2}}|{0}{{3}}.{0}|{0}{{4}}|{1}.{1}{{3}}|{1}{{2}}.{1}{{2}}|"
        "{1}{{3}}.{1}|{1}{{4}})$".format("[bcd]", "[BCD]"),
        RunRule.EIGHT_ONE_SIDE: "([abcd]{8}|[ABCD]{8})$",
        RunRule.NINE_ONE_SIDE: "([abcd]{9}|[ABCD]{9})$",
        RunRule.FIFTEEN_INSIDE: "[aA0]{15}$",
        RunRule.EIGHT_OUTSIDE: "[bcdBCD]{8}$",
    }[rule]
    return re.search(pattern, said) is not None


# Close to both sides of the lines at 1, 2 and 3, so that both statements are asked where rules really speak.
NEAR_LINES = [-3.05, -2.95, -2.05, -1.05, -0.95, 0.0, 0.4, 0.5, 0.95, 1.05, 1.95, 2.05, 2.95, 3.05]


def rows_of_points() -> Iterator[list[float]]:
    """Rows of points of every kind that some rule looks for, and of none; the same ones each time."""
    draw = random.Random(8)
    for _ in range(1500):
        yield [draw.choice(NEAR_LINES) for _ in range(draw.randint(1, 8))]
        yield sorted(draw.uniform(-4, 4) for _ in range(draw.randint(1, 8)))
    for count in range(1, 21):
        yield [(-1) ** i * (1.2 + i / 50) for i in range(count)]
        yield [draw.choice([-0.9, -0.2, 0.0, 0.9]) for _ in range(count)]
        yield [draw.choice([0.3, 1.2, 2.2]) for _ in range(count)]
        yield [draw.choice([-1.3, 1.2, 2.2]) for _ in range(count)]


@pytest.mark.parametrize("rule", sorted(RunRule))
def test_every_rule_speaks_exactly_where_its_second_statement_does(rule: RunRule) -> None:
    spoke = 0
    for points in rows_of_points():
        assert any(spoken(points, (rule,))) is speaks(rule, points), points
        spoke += speaks(rule, points)
    assert spoke > 5


@pytest.mark.parametrize("rule", sorted(RunRule))
def test_a_rule_is_symmetrical_and_explained(rule: RunRule) -> None:
    made = {
        RunRule.BEYOND_LIMITS: [0.0, 3.1],
        RunRule.TWO_OF_THREE: [2.1, 0.0, 2.1],
        RunRule.FOUR_OF_FIVE: [1.1, 1.1, -1.0, 1.1, 1.1],
        RunRule.EIGHT_ONE_SIDE: [0.1] * 8,
        RunRule.NINE_ONE_SIDE: [0.1] * 9,
        RunRule.SIX_RISING: [-1.0, -0.5, 0.0, 0.1, 0.2, 0.3],
        RunRule.FOURTEEN_ALTERNATING: [0.1, -0.1] * 7,
        RunRule.FIFTEEN_INSIDE: [0.5, -0.9, 0.2] * 5,
        RunRule.EIGHT_OUTSIDE: [1.1, -1.1] * 4,
    }[rule]
    for points in (made, [-one for one in made]):
        ((found, length),) = spoken(points, (rule,))
        assert found is rule
        assert length == min(len(points), length) > 0
        assert not any(spoken(points[:-1], (rule,)))
    assert EXPLAINED[rule].looks_for
    assert EXPLAINED[rule].often


def test_rules_are_chosen_by_name_or_as_a_set() -> None:
    assert rules_named(["four"]) == FOUR_RULES
    assert rules_named(["eight", "two-of-three"]) == EIGHT_RULES
    with pytest.raises(
        ValueError, match=r"no run rule is named 'seven'; allowed: careful, four, eight, beyond-limits"
    ):
        rules_named(["seven"])
