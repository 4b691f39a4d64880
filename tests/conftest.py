"""What all tests have alike: the same examples at every run, nobody's own record, a worker more than cores."""

from __future__ import annotations

import gc
import os
import sys
import threading
from collections.abc import Iterator
from typing import Any

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

SELDOM = (50_000, 20, 20)  # what tests make is nearly all gone without being looked for
LONGEST_FAREWELL_S = 10.0  # what is at an end on a busy machine may still have to be told so


@pytest.fixture(scope="session", autouse=True)
def own_record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A calibration of whoever runs the tests would change plans."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TEACHRIG_DATA", str(tmp_path_factory.mktemp("record")))
        yield


@pytest.fixture(autouse=True)
def no_thread_left_behind() -> Iterator[None]:
    """What a test leaves at work disturbs whichever test comes after it, so it is told here and not there."""
    before = set(threading.enumerate())
    yield
    after = [one for one in threading.enumerate() if one not in before]
    for one in after:
        one.join(LONGEST_FAREWELL_S)
    assert [one.name for one in after if one.is_alive()] == []


def pytest_configure(config: pytest.Config) -> None:
    """Where nothing compiled is to be left about, the programs that tests start would compile all of it each time."""
    if sys.dont_write_bytecode and config.cache is not None:
        sys.dont_write_bytecode = False
        sys.pycache_prefix = str(config.cache.mkdir("compiled"))
        os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix
        del os.environ["PYTHONDONTWRITEBYTECODE"]


def pytest_collection_finish() -> None:
    """What was loaded for all the tests is no rubbish of any of them, and need not be looked through each time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SELDOM)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: what waits in real time leaves its core to others."""
    return len(os.sched_getaffinity(0)) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Whoever has nothing left takes over from another: what is long may come last."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getoption("dist") == "load" else None
