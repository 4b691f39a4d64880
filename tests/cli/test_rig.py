"""`teachrig rig` and `teachrig release`: the lines as they are, and off whatever their state."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from hal.board import off
from hal.board.opening import safe_levels
from rig.library import Section
from tests.cli.shop import Shop
from tests.hal.board.boards import board
from tests.hal.board.kernel import Chip, Kernel, Line, board_lines
from tests.hal.board.remote import ROOT, served
from tests.hal.board.test_opening import as_it_is
from wiring.profile import find_profile, load_profile

PROFILE = load_profile(find_profile("single-nest"))
SAFE = safe_levels(PROFILE)
RIG = ("--rig", "single-nest")


@pytest.fixture
def kernel() -> Iterator[Kernel]:
    """A board whose driver leaves outputs as they are."""
    with board(Kernel(keeps_outputs=True)) as kernel:
        yield kernel


def drive(kernel: Kernel, line: str, level: int) -> None:
    """Leave an output driven, as a killed program does."""
    found = kernel.line(line)
    found.is_output, found.driven = True, level


def hold(kernel: Kernel, line: str, name: str) -> None:
    kernel.request("gpiochip0", {kernel.line(line).number: as_it_is()}, name, 0, None)


def row(out: str, line: str) -> str:
    (found,) = (one for one in out.splitlines() if one.startswith(f"{line} "))
    return " ".join(found.split())


# -- rig ----------------------------------------------------------------------------------------------------------


def test_every_line_is_shown_as_it_is(shop: Shop, kernel: Kernel) -> None:
    kernel.drive("GPIO23", 1)
    hold(kernel, "GPIO19", "blinker")
    code, out, err = shop.run("rig", *RIG)
    assert (code, err) == (0, "")
    assert "chip gpiochip0 [board-pins], 28 lines" in out
    assert row(out, "GPIO23") == "GPIO23 nest A teach at plus in gpiochip0 23 high on nobody"
    assert row(out, "GPIO17") == "GPIO17 coil supply stop button in gpiochip0 17 low on nobody"
    assert row(out, "GPIO13") == "GPIO13 nest A teach contact out gpiochip0 13 low off nobody"
    assert row(out, "GPIO19") == "GPIO19 nest A load out gpiochip0 19 blinker"
    assert [one for one in out.splitlines() if one.startswith("GPIO")] == [
        one for line in PROFILE.lines() for one in out.splitlines() if one.startswith(f"{line.line} ")
    ]
    assert max(map(len, out.splitlines())) <= 80


def test_looking_changes_nothing(shop: Shop, kernel: Kernel) -> None:
    drive(kernel, "GPIO16", 1)
    kernel.drive("GPIO23", 1)
    before = {
        line.name: (line.is_output, line.level, line.holder) for line in kernel.chips["gpiochip0"].lines
    }
    shop.run("rig", *RIG)
    after = {line.name: (line.is_output, line.level, line.holder) for line in kernel.chips["gpiochip0"].lines}
    assert after == before
    assert kernel.history == []


def test_an_output_that_a_dead_program_left_on_is_told(shop: Shop, kernel: Kernel) -> None:
    drive(kernel, "GPIO16", 1)
    code, _, err = shop.run("rig", *RIG)
    assert code == 0
    assert "GPIO16 (nest A supply): driven on though no program holds it; `teachrig release`" in err


def test_a_program_reads_the_same(shop: Shop, kernel: Kernel) -> None:
    hold(kernel, "GPIO19", "blinker")
    code, told = shop.run_json("rig", *RIG)
    assert code == 0
    assert told["chips"] == [{"name": "gpiochip0", "label": "board-pins", "lines": 28}]
    by_line = {one["line"]: one for one in told["lines"]}
    assert by_line["GPIO19"]["held_by"] == "blinker"
    assert by_line["GPIO19"]["level"] is None
    assert by_line["GPIO17"] == {
        "line": "GPIO17",
        "job": "coil supply stop button",
        "meaning": "input that is on while the stop button is pressed",
        "output": False,
        "active": "low",
        "chip": "gpiochip0",
        "number": 17,
        "driven": False,
        "level": "low",
        "on": True,
        "held_by": None,
    }


def test_lines_that_are_missing_are_named_and_the_others_shown(shop: Shop) -> None:
    lines = [Line(number, line.name) for number, line in enumerate(board_lines()[:26])]
    with board(Kernel({"gpiochip0": Chip("board-pins", lines)})):
        code, out, err = shop.run("rig", *RIG)
    assert code == 3
    assert "nest#1.rail_selector.line = GPIO26: no such line on gpiochip0 [board-pins]" in err
    assert row(out, "GPIO16").endswith(" nobody")


def test_the_simulated_bench_has_lines_only_while_it_runs(shop: Shop) -> None:
    code, out, err = shop.run("rig")
    assert code == 0
    assert "SIMULATED BENCH" in err
    assert row(out, "GPIO16") == "GPIO16 nest A supply out high = on"


@pytest.mark.parametrize("command", ["rig", "release"])
def test_a_machine_without_gpio_says_so_and_ends_with_3(shop: Shop, command: str) -> None:
    with board(Kernel({})):
        code, out, err = shop.run(command, *RIG)
    assert (code, out) == (3, "")
    assert "no GPIO to drive" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("command", ["rig", "release"])
def test_without_the_bindings_it_says_what_to_install(
    shop: Shop, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "gpiod", None)
    code, _, err = shop.run(command, *RIG)
    assert code == 3
    assert "pip install 'teachrig[board]'" in err


# -- release ------------------------------------------------------------------------------------------------------


def test_every_output_that_was_left_on_is_off_afterwards_and_free(shop: Shop, kernel: Kernel) -> None:
    for line, level in SAFE.items():
        drive(kernel, line, 1 - level)
    code, out, err = shop.run("release", *RIG)
    assert (code, out) == (0, "")
    assert f"rig single-nest: {len(SAFE)} of {len(SAFE)} outputs off" in err
    assert {line: kernel.line(line).level for line in SAFE} == SAFE
    assert {kernel.line(line).holder for line in SAFE} == {None}
    assert kernel.history == list(SAFE.items())


def test_relays_that_work_with_a_low_level_are_off_with_a_high_one(shop: Shop, kernel: Kernel) -> None:
    text = find_profile("single-nest").read_text(encoding="utf-8").replace('"single-nest"', '"low"')
    text = text.replace('{ line = "GPIO16" }', '{ line = "GPIO16", active = "low" }')
    shop.keep(Section.RIGS, "low", text)
    code, _, _ = shop.run("release", "--rig", "low")
    assert code == 0
    assert kernel.line("GPIO16").level == 1


def test_a_line_of_another_program_is_left_and_told_and_the_others_go_off(shop: Shop, kernel: Kernel) -> None:
    for line in SAFE:
        drive(kernel, line, 1)
    hold(kernel, "GPIO16", "blinker")
    code, _, err = shop.run("release", *RIG)
    assert code == 3
    assert "GPIO16 (nest A supply) is NOT known to be off" in err
    assert "held by blinker" in err
    assert {line for line in SAFE if kernel.line(line).level} == {"GPIO16"}


def test_an_output_that_is_not_on_this_board_does_not_keep_the_others(shop: Shop) -> None:
    lines = [Line(number, line.name) for number, line in enumerate(board_lines()[:26])]
    with board(Kernel({"gpiochip0": Chip("board-pins", lines)}, keeps_outputs=True)) as kernel:
        drive(kernel, "GPIO16", 1)
        code, _, err = shop.run("release", *RIG)
        assert code == 3
        assert "GPIO26 (nest A rail selector) is NOT known to be off: not found on this board" in err
        assert kernel.line("GPIO16").level == 0


def test_a_simulated_rig_has_nothing_to_switch_off(shop: Shop) -> None:
    assert shop.run("release")[0] == 0


@pytest.mark.parametrize("profile", ["nowhere", "./nowhere.toml"])
def test_a_profile_that_cannot_be_read_is_no_reason_to_end_with_another_code(
    shop: Shop, profile: str
) -> None:
    code, _, err = shop.run("release", "--rig", profile)
    assert code == 3
    assert "nowhere" in err


@pytest.mark.parametrize("how", ["wait", "hang"])
def test_a_run_that_holds_the_outputs_is_ended(how: str, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(off, "_HOLDS_LINES", "socket:")  # what the lines of the stand-in look like
    kernel = Kernel(keeps_outputs=True)
    with served(kernel) as environment, board(kernel):
        program = [sys.executable, "-m", "tests.hal.board.held", how]
        run = subprocess.Popen(program, stdout=subprocess.PIPE, env=environment, cwd=ROOT)
        try:
            assert run.stdout is not None
            while run.stdout.readline() != b"ready\n":
                assert run.poll() is None
            code, _, err = shop.run("release", *RIG)
            assert run.wait(5) == -signal.SIGTERM
        finally:
            run.kill()
            run.communicate()
    assert code == 0
    assert f"teachrig {run.pid} holds the outputs: sent SIGTERM" in err
    assert {line: kernel.line(line).level for line in SAFE} == SAFE


def test_only_a_process_that_holds_lines_is_ever_ended(
    shop: Shop, kernel: Kernel, monkeypatch: pytest.MonkeyPatch
) -> None:
    for patience in ("_A_LOOK_S", "_PATIENCE_S", "_KILLED_S"):
        monkeypatch.setattr(off, patience, 0.02)
    bystander = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    try:
        hold(kernel, next(iter(SAFE)), f"teachrig {bystander.pid}")
        code, _, err = shop.run("release", *RIG)
        time.sleep(0.05)
        assert code == 3
        assert f"held by teachrig {bystander.pid}" in err
        assert bystander.poll() is None
    finally:
        bystander.kill()
        bystander.communicate()
