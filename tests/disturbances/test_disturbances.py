"""The disturbance study at its full length (`pytest -m disturbances -s`), and a few with every run of the tests."""

from __future__ import annotations

import pytest

from tests.disturbances.study import study


def test_a_few_disturbances() -> None:
    tally = study(12, first_seed=10_000)
    assert tally.broken == []


@pytest.mark.disturbances
def test_five_hundred_disturbances() -> None:
    tally = study(500)
    print("\n".join(tally.lines()))
    assert tally.broken == []
    # All this would be true as well of cables that nobody touched.
    assert tally.ended["bench tripped or would not open"] > 150
