"""The numerical tools against closed forms."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.statistics.numeric import integral, normal_below, root_between


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=60), st.floats(-1, 1), st.floats(0.1, 1))
def test_one_panel_integrates_polynomials_exactly(powers: list[float], low: float, width: float) -> None:
    high = low + width
    exact = sum(c * (high ** (n + 1) - low ** (n + 1)) / (n + 1) for n, c in enumerate(powers))
    size = sum(abs(c) * max(abs(low), abs(high)) ** n * width for n, c in enumerate(powers))
    assert integral(lambda x: sum(c * x**n for n, c in enumerate(powers)), [low, high]) == pytest.approx(
        exact, abs=1e-13 * size + 1e-300
    )


def test_panels_add_up() -> None:
    assert integral(math.sin, [0, 1, 2, math.pi]) == pytest.approx(2, abs=1e-14)
    assert integral(abs, [-1, 0, 2]) == pytest.approx(2.5, abs=1e-14)
    assert integral(math.exp, [3]) == 0


@given(st.floats(-50, 50), st.booleans())
def test_root_to_the_last_bit(root: float, rising: bool) -> None:
    sign = 1 if rising else -1
    assert root_between(lambda x: sign * (x - root), -60, 70) == pytest.approx(root, rel=1e-15, abs=1e-300)


def test_no_change_of_sign_is_refused() -> None:
    with pytest.raises(ValueError, match="no change of sign between 1 and 2"):
        root_between(lambda x: x, 1, 2)


@pytest.mark.parametrize(
    ("deviations", "probability"),
    # scipy.stats.norm.cdf; JCGM 106 prints the first as 0.91924.
    [(1.4, 0.9192433407662289), (-2, 0.02275013194817921), (-10, 7.61985302416052e-24), (0, 0.5)],
)
def test_normal_below(deviations: float, probability: float) -> None:
    assert normal_below(deviations) == pytest.approx(probability, rel=1e-12, abs=0)
