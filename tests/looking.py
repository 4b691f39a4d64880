"""How many examples a property is shown: few at every run, many when somebody searches."""

from __future__ import annotations

from hypothesis import settings

DAILY = 40
"""What a property is shown at every run that does not say otherwise."""


def examples(daily: int) -> int:
    """How many examples to show now, for a property that is shown `daily` of them at every run.

    With `--hypothesis-profile=search` (`tests/conftest.py`) as many times more as that profile shows of any other.
    """
    return max(1, round(daily * settings.default.max_examples / DAILY))
