"""Whatever has become of a data file, every command that reads it says so in one message and ends with 2."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from rig.library import Section
from sequences.library import shipped_orders
from tests.badfiles import BREAKAGES, Breakage
from tests.cli.shop import Shop

ORDER = "tipper-point-no"
Words = Callable[[Path], list[str]]


def _order_of_this_type(path: Path) -> list[str]:
    text = shipped_orders()[ORDER].read_text(encoding="utf-8")
    order = path.with_name("order.toml")
    order.write_text(text.replace('"barrel-18-rail"', f'"{path.name}"'), encoding="utf-8")
    return ["plan", str(order)]


COMMANDS: dict[str, tuple[Section, Words]] = {
    "validate an order": (Section.ORDERS, lambda path: ["validate", str(path)]),
    "validate a type": (Section.TYPES, lambda path: ["validate", str(path)]),
    "validate a rig": (Section.RIGS, lambda path: ["validate", str(path)]),
    "validate a bench": (Section.BENCHES, lambda path: ["validate", str(path)]),
    "validate a label": (Section.LABELS, lambda path: ["validate", str(path)]),
    "plan an order": (Section.ORDERS, lambda path: ["plan", str(path)]),
    "plan an order of a type": (Section.TYPES, _order_of_this_type),
    "plan on a rig": (Section.RIGS, lambda path: ["plan", ORDER, "--rig", str(path)]),
    "run an order": (Section.ORDERS, lambda path: ["run", str(path)]),
    "run on a rig": (Section.RIGS, lambda path: ["run", ORDER, "--rig", str(path)]),
    "run on a bench": (Section.BENCHES, lambda path: ["run", ORDER, "--bench", str(path)]),
    "print a label": (Section.LABELS, lambda path: ["label", "QOC18-0042", "--template", str(path)]),
}


@pytest.mark.parametrize("breakage", BREAKAGES, ids=lambda breakage: breakage.name)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_broken_file_is_bad_input(command: str, breakage: Breakage, shop: Shop, tmp_path: Path) -> None:
    section, words = COMMANDS[command]
    path = tmp_path / "broken.toml"
    breakage.make(path, next(iter(section.shipped().values())).read_text(encoding="utf-8"))
    code, out, err = shop.run(*words(path))
    assert (code, out) == (2, "")
    message = err.removesuffix("\n")
    assert message.isprintable(), "one line, and nothing that a terminal would obey"
    assert "broken.toml" in message
    assert len(message) < 700
    for pattern in breakage.says:
        assert re.search(pattern, message), f"{pattern!r} is not in {message!r}"
    assert not (tmp_path / "data").exists()


WRONG_EDITS = {
    Section.ORDERS: ('output_type = "PNP"', 'output_type = "PMP"', "setting.output_type"),
    Section.TYPES: ("blind_zone_mm = ", "blind_zone_mm = -", "sensing.blind_zone_mm"),
    Section.RIGS: ("beat_s = 0.06", "beat_s = 0.6", "coil_supply.beat_s"),
    Section.BENCHES: ("seed = ", "sed = ", "sed"),
    Section.LABELS: ('too_long = "smaller"', 'too_long = "cut"', "field#2.too_long"),
}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_wrong_key_is_told_with_its_line_and_what_is_allowed(
    command: str, shop: Shop, tmp_path: Path
) -> None:
    section, words = COMMANDS[command]
    old, new, key = WRONG_EDITS[section]
    text = next(
        text for file in section.shipped().values() if old in (text := file.read_text(encoding="utf-8"))
    )
    path = tmp_path / "wrong.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    code, out, err = shop.run(*words(path))
    line = text[: text.index(old)].count("\n") + 1
    assert (code, out) == (2, "")
    assert f"wrong.toml:{line}: {key}: " in err
    assert "allowed: " in err or "did you mean" in err


def test_all_problems_of_all_files_are_told_at_once(shop: Shop, tmp_path: Path) -> None:
    files = []
    for number, (section, (old, new, _)) in enumerate(WRONG_EDITS.items()):
        text = next(
            text for file in section.shipped().values() if old in (text := file.read_text(encoding="utf-8"))
        )
        files.append(tmp_path / f"{number}.toml")
        files[-1].write_text("unheard_of = 1\n" + text.replace(old, new, 1), encoding="utf-8")
    code, out, err = shop.run("validate", *map(str, files))
    assert (code, out) == (2, "")
    for path, (_, _, key) in zip(files, WRONG_EDITS.values(), strict=True):
        lines = [line for line in err.splitlines() if line.startswith(f"{path}:")]
        assert len(lines) >= 2
        assert any(f": {key}: " in line for line in lines)
        assert any(": unheard_of: " in line for line in lines)


def test_validate_tells_a_program_the_same(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    old, new, key = WRONG_EDITS[Section.RIGS]
    path.write_text(Section.RIGS.shipped()["simulated"].read_text(encoding="utf-8").replace(old, new, 1))
    code, reports = shop.run_json("validate", str(path))
    assert code == 2
    (problem,) = reports[0]["problems"]
    assert reports[0]["kind"] == "rig profile"
    assert (problem["key"], problem["given"]) == (key, "0.6")
    assert problem["line"] > 1
    assert problem["allowed"]
