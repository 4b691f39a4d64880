"""The intervals of the gauge study hold what was placed into the simulated rig."""

from __future__ import annotations

import pytest

from tests.benchmarks.gauge import all_resampled, summary, through_the_rig


@pytest.mark.slow
def test_intervals_hold_what_was_placed_in_in_90_to_97_of_100_studies() -> None:
    # The search's errors come through the whole rig. All 500 studies through it: python -m tests.benchmarks.gauge.
    still = list(through_the_rig([], 0))
    told = summary(all_resampled(still, 500))
    assert told["studies"] == 500
    assert told["not finished"] == 0
    for part, share in told["held"].items():
        assert 0.90 <= share <= 0.97, (part, share)
