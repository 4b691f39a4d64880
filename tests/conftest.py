"""What all tests have alike: the same examples at every run, nobody's own record, a worker more than cores."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator

import pytest
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


@pytest.fixture(scope="session", autouse=True)
def own_record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A calibration of whoever runs the tests would change plans."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TEACHRIG_DATA", str(tmp_path_factory.mktemp("record")))
        yield


def pytest_collection_finish() -> None:
    """What was loaded for all the tests is no rubbish of any of them, and need not be looked through each time."""
    gc.collect()
    gc.freeze()


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: what waits in real time leaves its core to others."""
    return len(os.sched_getaffinity(0)) + 1
