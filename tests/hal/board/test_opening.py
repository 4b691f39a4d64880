"""Opening the board: what is found, what is refused, and that no output moves."""

from __future__ import annotations

import asyncio
import errno
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from gpiod import _ext
from hypothesis import given
from hypothesis import strategies as st

from hal.board import BoardMissing, LinesMissing, chips, kept, open_board_bench, opening
from hal.board.chips import Place, find_chips, find_places
from hal.board.claims import Claim, claim_outputs, release_all
from hal.board.kept import keeps_outputs
from hal.board.opening import safe_levels
from hal.errors import BenchInUse, InstrumentError, TripKind
from tests.hal.board.boards import NoWatcher, all_places, board, open_pins_on
from tests.hal.board.kernel import Chip, Kernel, Line, board_lines
from wiring.profile import RigProfile, find_profile, load_profile

BY_HAND = load_profile(find_profile("single-nest"))


def with_gpio(**gpio: Any) -> RigProfile:
    data = BY_HAND.model_dump(mode="json") | {"gpio": gpio}
    return RigProfile.model_validate_json(json.dumps(data))


def as_it_is() -> dict[str, int]:
    return {
        "direction": _ext.DIRECTION_AS_IS,
        "bias": _ext.BIAS_AS_IS,
        "edge_detection": _ext.EDGE_NONE,
        "output_value": 0,
    }


@pytest.fixture(autouse=True)
def no_driver_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr(kept, "SETTINGS", tmp_path)
    return tmp_path


# -- finding chips and lines --------------------------------------------------------------------------------------


def test_lines_are_found_by_name_on_whichever_chip_has_them() -> None:
    odd = Chip("expander", [Line(0, "LED"), Line(1, "")])
    with board(Kernel({"gpiochip0": odd, "gpiochip4": Chip("board-pins", board_lines())})):
        places = find_places(BY_HAND)
    assert {str(place.chip) for place in places.values()} == {"gpiochip4 [board-pins]"}
    assert all(line == f"GPIO{place.number}" for line, place in places.items())
    assert set(places) == {line.line for line in BY_HAND.lines()}


def test_lines_are_found_by_number_on_the_chip_of_that_label_wherever_it_moved() -> None:
    nameless = [Line(number, "") for number in range(40)]
    with board(
        Kernel({"gpiochip0": Chip("other", [Line(0, "")]), "gpiochip7": Chip("board-pins", nameless)})
    ):
        places = find_places(with_gpio(find="by-number", chip="board-pins"))
    assert {place.chip.name for place in places.values()} == {"gpiochip7"}
    assert all(line == f"GPIO{place.number}" for line, place in places.items())


def test_a_line_that_this_board_calls_otherwise_is_found_there() -> None:
    lines = [line for line in board_lines() if line.name not in ("GPIO17", "GPIO22")]
    lines = [Line(number, line.name) for number, line in enumerate(lines)]
    banks = {"gpiochip0": Chip("a", lines), "gpiochip1": Chip("b", [Line(0, ""), Line(1, "HEADER-11")])}
    told = with_gpio(
        elsewhere=[
            {"line": "GPIO17", "name": "HEADER-11"},
            {"line": "GPIO22", "number": 0, "chip": "b"},
        ]
    )
    with board(Kernel(banks)):
        places = find_places(told)
    assert [(places[line].chip.label, places[line].number) for line in ("GPIO17", "GPIO22")] == [
        ("b", 1),
        ("b", 0),
    ]
    assert places["GPIO4"].chip.label == "a"


def test_a_chip_that_has_two_names_is_one_chip() -> None:
    with board(Kernel()):
        (chips.DEVICES / "gpiochip4").symlink_to(chips.DEVICES / "gpiochip0")
        assert [chip.name for chip in find_chips()] == ["gpiochip0"]


def test_every_line_that_is_missing_is_told_with_its_key() -> None:
    lines = [line for line in board_lines() if line.name not in ("GPIO16", "GPIO17")]
    lines = [Line(number, line.name) for number, line in enumerate(lines)]
    with board(Kernel({"gpiochip0": Chip("board-pins", lines)})), pytest.raises(LinesMissing) as told:
        find_places(BY_HAND)
    assert "coil_supply.stop_button.line = GPIO17: no such line on gpiochip0 [board-pins]" in str(told.value)
    assert "nest#1.supply.line = GPIO16" in str(told.value)
    assert "[gpio]" in told.value.check


def test_a_name_that_two_chips_have_is_not_guessed() -> None:
    two = {f"gpiochip{number}": Chip(f"bank{number}", board_lines()) for number in range(2)}
    with board(Kernel(two)):
        with pytest.raises(LinesMissing, match=r"there are several, .*bank0.* and .*bank1.*gpio\.chip"):
            find_places(BY_HAND)
        assert find_places(with_gpio(chip="bank1"))["GPIO4"].chip.name == "gpiochip1"


def test_a_label_that_is_not_here_is_told_with_those_that_are() -> None:
    with (
        board(Kernel()),
        pytest.raises(LinesMissing, match=r"'other' is not here; this board has gpiochip0 \[board"),
    ):
        find_places(with_gpio(chip="other"))


def test_two_lines_may_not_be_one() -> None:
    told = with_gpio(elsewhere=[{"line": "GPIO22", "name": "GPIO17"}])
    with (
        board(Kernel()),
        pytest.raises(LinesMissing, match=r"foot_switch\.line = GPIO22 is line 17 of .*, as is GPIO17"),
    ):
        find_places(told)


def test_a_machine_without_gpio_says_so() -> None:
    with board(Kernel({})), pytest.raises(BoardMissing, match="no GPIO to drive") as told:
        find_chips()
    assert "--rig simulated" in told.value.check


def test_no_permission_names_the_group_and_never_root(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: str) -> None:
        raise PermissionError(13, "Permission denied", path)

    monkeypatch.setattr(chips, "_read_chip", refused)
    with board(Kernel()), pytest.raises(BoardMissing) as told:
        find_chips()
    assert "no permission to open" in str(told.value)
    assert "root is never needed" in told.value.check
    assert "usermod -aG root USER" in told.value.check  # the test's own device files belong to root


def test_the_bindings_are_loaded_only_where_a_board_is_opened() -> None:
    code = "import sys, rig.session, hal.board, rig.cli.run; print('gpiod' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


# -- claiming -----------------------------------------------------------------------------------------------------


def test_outputs_are_claimed_together_at_their_safe_levels_without_a_pulse() -> None:
    async def main() -> None:
        with board(Kernel()) as kernel:
            safe = safe_levels(BY_HAND)
            kernel.keeps_outputs = True
            pins = await open_pins_on(BY_HAND)
            tried, *claimed = kernel.history
            assert claimed == list(safe.items())
            assert tried == claimed[0]
            assert {kernel.line(name).holder for name in safe} != {None}
            assert len({kernel.line(name).request for name in safe}) == 1
            pins.close()
            assert [kernel.line(name).holder for name in safe] == [None] * len(safe)

    asyncio.run(main())


@given(st.dictionaries(st.integers(2, 27), st.integers(0, 1), min_size=1))
def test_whatever_the_levels_a_group_never_passes_through_another(levels: dict[int, int]) -> None:
    with board(Kernel()) as kernel:
        places = all_places()
        claims = claim_outputs({places[f"GPIO{number}"]: level for number, level in levels.items()})
        assert sorted(kernel.history) == sorted((f"GPIO{number}", level) for number, level in levels.items())
        release_all(claims)


@pytest.mark.parametrize("keeps", [True, False])
def test_what_was_found_is_told_and_warned_of(keeps: bool) -> None:
    async def main() -> None:
        told: list[str] = []
        with board(Kernel(keeps_outputs=keeps)):
            (await open_pins_on(BY_HAND, told.append)).close()
        found, *warned = told
        assert found == "GPIO: 14 lines on gpiochip0 [board-pins]"
        assert [("keeps outputs driven" in words, "watcher" in words) for words in warned] == [
            (True, True)
        ] * keeps

    asyncio.run(main())


@pytest.mark.parametrize("line", ["GPIO16", "GPIO4"])
def test_a_busy_output_is_refused_by_name_and_nothing_is_kept(line: str) -> None:
    async def main() -> None:
        with board(Kernel()) as kernel:
            kernel.request("gpiochip0", {kernel.line(line).number: as_it_is()}, "blinker", 0, None)
            with pytest.raises(BenchInUse, match=rf"{line} \(line .*\) is held by blinker"):
                await open_pins_on(BY_HAND)
            assert [one.name for one in kernel.chips["gpiochip0"].lines if one.holder] == [line]
            assert not [level for _, level in kernel.history if level]

    asyncio.run(main())


def test_the_safe_levels_are_written_before_the_lines_are_let_go_of() -> None:
    async def main() -> None:
        with board(Kernel()) as kernel:
            pins = await open_pins_on(BY_HAND)
            safe = safe_levels(BY_HAND)
            for name in safe:
                pins.pin(name).state = 1 - safe[name]
            kernel.history.clear()
            pins.close()
            written, let_go = kernel.history[: len(safe)], kernel.history[len(safe) :]
            assert written == list(safe.items())
            assert dict(let_go) == dict.fromkeys(safe)

    asyncio.run(main())


# -- whether the kernel keeps outputs driven ----------------------------------------------------------------------


@pytest.mark.parametrize("keeps", [True, False])
def test_a_kernel_that_keeps_outputs_is_found_out_at_the_safe_level(keeps: bool) -> None:
    with board(Kernel(keeps_outputs=keeps)) as kernel:
        assert keeps_outputs(all_places()["GPIO13"], 1) is keeps
        assert {level for _, level in kernel.history} <= {1, None}
        assert kernel.line("GPIO13").holder is None


@pytest.mark.parametrize(("word", "keeps"), [("Y\n", True), ("N\n", False)])
def test_a_driver_that_says_so_is_believed(word: str, keeps: bool, no_driver_settings: Path) -> None:
    setting = no_driver_settings / "some_pinctrl" / "parameters" / "persist_gpio_outputs"
    setting.parent.mkdir(parents=True)
    setting.write_text(word)
    with board(Kernel(keeps_outputs=not keeps)) as kernel:
        assert keeps_outputs(all_places()["GPIO13"], 0) is keeps
        assert kernel.history == []


def test_places_read_as_a_person_would_say_them() -> None:
    with board(Kernel()):
        assert str(Place(find_chips()[0], 17)) == "line 17 of gpiochip0 [board-pins]"


# -- losing the board ---------------------------------------------------------------------------------------------


def test_a_lost_line_trips_the_bench_and_switches_its_supply_off(monkeypatch: pytest.MonkeyPatch) -> None:
    bare = RigProfile.model_validate_json(
        json.dumps(BY_HAND.model_dump(mode="json") | {"supply": {"kind": "fixed"}})
    )

    def unplugged(_: Claim) -> None:
        raise OSError(errno.ENODEV, "No such device")

    async def main() -> None:
        with board(Kernel()) as kernel, patch.object(opening, "Watcher", NoWatcher):
            kernel.drive("GPIO17", 1)  # the stop button is not pressed
            async with await open_board_bench(bare, lambda _: None) as bench:
                monkeypatch.setattr(Claim, "edges", unplugged)
                kernel.drive("GPIO25", 1)
                await asyncio.sleep(0.05)
                (cause,) = bench.interlock.causes
                assert cause.kind is TripKind.OUTPUT_FAILED
                assert "GPIO25 is lost: No such device" in cause.words
                assert "by hand" in cause.check
            assert {kernel.line(name).holder for name in safe_levels(bare)} == {None}

    asyncio.run(main())


def test_a_port_that_cannot_be_opened_gives_the_lines_back() -> None:
    async def main() -> None:
        with board(Kernel()) as kernel, patch.object(opening, "Watcher", NoWatcher):
            with pytest.raises(InstrumentError, match="there is no port /dev/serial/by-id/bench-supply"):
                await open_board_bench(BY_HAND, lambda _: None)
            assert {line.holder for line in kernel.chips["gpiochip0"].lines} == {None}

    asyncio.run(main())
