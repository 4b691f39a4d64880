"""A study is laid out so that every unit is measured by each as often, in an order that its seed tells again."""

from __future__ import annotations

import json
from collections import Counter
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from rig.gauge.design import Design, Factor, drawn_trials, objections

UNITS = st.lists(st.integers(1, 99), min_size=2, max_size=12, unique=True).map(
    lambda numbers: tuple(f"QOC-{one:03}" for one in numbers)
)
LEVELS = st.sampled_from(
    [("Maren", "Tobias"), ("Maren", "Tobias", "Ilse"), ("plate A", "plate B", "plate C", "bare")]
)


@given(UNITS, LEVELS, st.integers(2, 4), st.integers(0, 2**32 - 1))
def test_each_unit_by_each_once_a_round(
    units: tuple[str, ...], levels: tuple[str, ...], repeats: int, seed: int
) -> None:
    trials = drawn_trials(units, levels, repeats, seed)
    assert [trial.number for trial in trials] == list(range(1, len(trials) + 1))
    count = Counter((trial.unit, trial.level, trial.repeat) for trial in trials)
    assert set(count.values()) == {1}
    assert len(count) == len(units) * len(levels) * repeats
    assert [trial.repeat for trial in trials] == sorted(trial.repeat for trial in trials)
    changes = sum(one.level != other.level for one, other in pairwise(trials))
    assert changes <= len(levels) * repeats - 1
    assert drawn_trials(units, levels, repeats, seed) == trials


def test_another_seed_is_another_order() -> None:
    units, levels = tuple(f"Q-{one}" for one in range(10)), ("Maren", "Tobias", "Ilse")
    orders = {drawn_trials(units, levels, 3, seed) for seed in range(20)}
    assert len(orders) == 20
    firsts = {trials[0].level for trials in orders}
    assert firsts == set(levels)


def test_a_design_comes_back_from_the_record() -> None:
    trials = drawn_trials(("Q-1", "Q-2"), ("Maren", "Tobias"), 2, 3)
    design = Design(
        "GAUGE-1", "QOC-1", "barrel", "simulated", "A", "outer", 390.0, 410.0, Factor.PERSON,
        ("Q-1", "Q-2"), ("Maren", "Tobias"), 2, 3, trials, {"day": "2026-01-05"},
    )  # fmt: skip
    assert Design.from_content(json.loads(json.dumps(design.content()))) == design


def test_what_cannot_be_studied_is_named() -> None:
    told = "\n".join(objections(("Q-1", "q-1"), ("Maren",), 1))
    assert "unit q-1 is named twice" in told
    assert "1 names (person or setting); allowed: 2 to 10" in told
    assert "each unit 1 times; allowed: 2 to 10 times" in told
    assert not list(objections(("Q-1", "Q-2"), ("Maren", "Tobias"), 2))
    (named,) = objections(("Q-1", "Q-2"), ("plate A", "plate \x1b[2J"), 2)
    assert "\x1b" not in named
    assert "can be printed" in named
