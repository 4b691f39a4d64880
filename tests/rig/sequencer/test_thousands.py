"""Random units by the thousand: no bad one is called good, no sound one bad, and few sound ones are doubted.

What is bad is read from the physics: operate and release points in the present air, currents, output stage.
"""

from __future__ import annotations

import pytest

from rig.events import Verdict
from tests.rig.sequencer.lottery import Tally, draw_shift

UNITS_A_SHIFT = 10


def tally(first_seed: int, units: int) -> Tally:
    found = Tally()
    for seed in range(first_seed, first_seed + units // UNITS_A_SHIFT):
        found.drawn += draw_shift(seed, UNITS_A_SHIFT)
    return found


def check(found: Tally, *, doubted: float) -> None:
    print(found)
    assert [str(one) for one in found.drawn if one.bad_called_good] == []
    assert [str(one) for one in found.drawn if one.sound_called_bad] == []
    assert found.doubted_share < doubted
    # All this would be true as well of a bench that never says anything.
    assert found.condemned_share > 0.7


def test_a_hundred_and_fifty_random_units_are_judged_as_they_deserve() -> None:
    check(tally(0, 150), doubted=0.02)


@pytest.mark.slow
def test_two_thousand_random_units_are_judged_as_they_deserve(capsys: pytest.CaptureFixture[str]) -> None:
    found = tally(1000, 2000)
    with capsys.disabled():
        check(found, doubted=0.01)
    kinds = {str(fault.kind) for one in found.drawn for fault in one.faults}
    assert len(kinds) == 10
    assert {one.verdict for one in found.drawn} == set(Verdict)
