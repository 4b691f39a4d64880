"""The flash of a verdict can harm nobody: WCAG 2.1, success criterion 2.3.1, three flashes or below threshold."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import example, given
from hypothesis import strategies as st

from rig.screen.flash import Flash

LATE_S = st.lists(st.floats(0.01, 1.5), min_size=1, max_size=40)


@given(LATE_S)
@example([0.58, 0.04, 0.28])
def test_it_flashes_at_most_three_times_and_never_faster_than_three_a_second(steps_s: list[float]) -> None:
    """However unsteadily it is painted."""
    flash, now_s, began_s = Flash(), 100.0, []
    flash.begin(now_s)
    for step_s in (*steps_s, 10.0):
        now_s += step_s
        if flash.follow(now_s, wished=True) and flash.blank:
            began_s.append(now_s)
    assert len(began_s) <= 3
    assert all(after - before > 1 / 3 for before, after in pairwise(began_s))
    assert not flash.blank


@given(LATE_S)
def test_without_the_wish_nothing_flashes(steps_s: list[float]) -> None:
    flash, now_s = Flash(), 100.0
    flash.begin(now_s)
    for step_s in steps_s:
        now_s += step_s
        assert not flash.follow(now_s, wished=False)
        assert not flash.blank
