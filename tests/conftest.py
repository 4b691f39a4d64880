"""How hypothesis looks for counterexamples: the same ones at every run, unless it is told to search."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

from tests.looking import DAILY

# A change is held to the same examples as the one before it, so that a red run is that change's doing, and no run is
# red by the clock of a busy machine.
settings.register_profile("same", derandomize=True, deadline=None, max_examples=DAILY)
# For finding new counterexamples: other ones each time, and twenty times as many.
settings.register_profile(
    "search", deadline=None, max_examples=20 * DAILY, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("same")
