"""A computer that comes to suffer while it works: told when it begins, once, and as what it is."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig import strain
from rig.cli.progress import Watch
from rig.events import ComputerStrained, Stamped, Strain
from rig.screen.view.told import strained as on_screen
from rig.screen.view.wording import Words
from rig.selfcheck.session import SelfCheckSession
from rig.strain import Look, Strains, watched_computer
from rig.summary import Summary
from tests.hal.rigs import SELECTOR


def told(looks: Sequence[Look]) -> list[ComputerStrained]:
    strains = Strains()
    return [one for look in looks for one in strains.found(look)]


def look(
    hottest_c: float | None = 45.0, free_mb: int | None = 600, at_s: float = 0.0, set_by_s: float = 0.0
) -> Look:
    return Look(hottest_c, free_mb, 1000.0 + at_s + set_by_s, 10.0 + at_s)


def test_a_sound_computer_is_not_spoken_of() -> None:
    assert told([look(at_s=5.0 * n) for n in range(20)]) == []
    assert told([look(None, None)]) == []


def test_heat_is_told_once_until_it_has_clearly_ended() -> None:
    courses = told([look(c) for c in (79.9, 80.0, 85.0, 79.0, 81.0, 69.9, 84.0)])
    assert courses == [ComputerStrained(Strain.HOT, 80.0), ComputerStrained(Strain.HOT, 84.0)]


def test_little_memory_is_told_once_until_there_is_plenty_again() -> None:
    courses = told([look(free_mb=mb) for mb in (100, 99, 50, 150, 80, 200, 60)])
    assert courses == [ComputerStrained(Strain.MEMORY, 99), ComputerStrained(Strain.MEMORY, 60)]


@given(st.floats(-1e6, 1e6), st.floats(0.1, 1e5))
def test_a_clock_that_is_set_is_told_by_how_much_and_one_that_runs_is_not(
    by_s: float, later_s: float
) -> None:
    found = told(
        [
            look(),
            look(at_s=later_s),
            look(at_s=2 * later_s, set_by_s=by_s),
            look(at_s=3 * later_s, set_by_s=by_s),
        ]
    )
    if abs(by_s) > 1.01:
        (one,) = found
        assert (one.strain, one.value) == (Strain.CLOCK, pytest.approx(by_s, abs=0.051))
    elif abs(by_s) < 0.99:
        assert found == []


def test_it_is_looked_at_beside_the_work_and_no_more_after_it(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[ComputerStrained] = []
    came = threading.Event()
    monkeypatch.setattr(strain, "look_now", lambda: look(90.0))

    def tell(one: ComputerStrained) -> None:
        found.append(one)
        came.set()

    with watched_computer(tell, every_s=0.001):
        assert came.wait(60)
    assert "computer" not in {thread.name for thread in threading.enumerate()}
    assert found == [ComputerStrained(Strain.HOT, 90.0)]


def test_this_computer_can_be_looked_at() -> None:
    now = strain.look_now()
    assert now.free_mb is None or now.free_mb > 0
    assert now.wall_s > 0


@pytest.mark.parametrize("strained", Strain)
def test_each_is_told_at_the_terminal_and_on_the_screen_with_its_figure(
    strained: Strain, capsys: pytest.CaptureFixture[str]
) -> None:
    event = ComputerStrained(strained, -87.0 if strained is Strain.CLOCK else 87.0)
    watch = Watch(SelfCheckSession(SELECTOR, None, False, None, {}), Summary(), live=False)
    watch._take(Stamped(1, 0, "2026-01-05T07:00:00.000Z", "", "", event))
    assert "note: " in (said := capsys.readouterr().err)
    assert "87 " in said
    for language in ("en", "de"):
        words = on_screen(event, Words(language, "."))
        assert "87 " in words
