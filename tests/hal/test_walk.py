import pytest

from hal.interlock import rules
from hal.interlock.rules import Command, Condition, Job
from tests.hal.walk import Fault, walk
from wiring.nest import Topology

BROKEN = [fault for fault in Fault if fault is not Fault.NONE]


@pytest.mark.parametrize("broken", ["first", "second"])
@pytest.mark.parametrize("fault", BROKEN)
def test_no_reachable_state_is_dangerous_with_a_selector(fault: Fault, broken: str) -> None:
    result = walk(Topology.SELECTOR, fault, broken)
    assert result.violation == ""
    # A walk that went nowhere proves nothing.
    assert result.states > 20_000
    assert result.refusals > 50_000
    assert result.trips > 5_000


@pytest.mark.parametrize("fault", BROKEN)
def test_no_reachable_state_is_dangerous_with_two_relays(fault: Fault) -> None:
    result = walk(Topology.TWO_RELAY, fault)
    assert result.violation == ""
    assert result.states > 10_000
    assert result.refusals > 30_000
    assert result.trips > 3_000


@pytest.mark.parametrize("condition", [Condition.RESTING, Condition.TRIPPED])
@pytest.mark.parametrize("job", [Job.SUPPLY, Job.LOAD, Job.SWING])
def test_outputs_outside_the_teach_path_are_energised_only_when_armed(condition: Condition, job: Job) -> None:
    assert rules.free_refusal(condition, Command(job, on=True)) is not None
    assert rules.free_refusal(condition, Command(job, on=False)) is None
    assert rules.free_refusal(Condition.ARMED, Command(job, on=True)) is None
