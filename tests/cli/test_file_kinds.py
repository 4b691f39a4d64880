"""`validate` takes every file for what it is, even half written, and says so in English."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from rig.cli.main import main
from rig.library import Section
from wiring.shipped import shipped_files

FILES = [
    *(
        (path, f"{'an' if section is Section.ORDERS else 'a'} {section.what}")
        for section in Section
        for path in section.shipped().values()
    ),
    *((path, "a kind of simulated unit") for path in shipped_files("hal.simulated", "kinds").values()),
]
NAMES = [f"{path.parent.name}-{path.stem}" for path, _ in FILES]


@pytest.mark.parametrize(("path", "words"), FILES, ids=NAMES)
def test_every_shipped_file_is_right(path: Path, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["validate", str(path)]) == 0
    assert capsys.readouterr().out == f"{path}: right, {words}\n"


@pytest.mark.parametrize(("path", "words"), FILES, ids=NAMES)
def test_a_file_that_lacks_a_key_is_still_taken_for_what_it_is(
    path: Path, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    cut = tmp_path / "cut.toml"
    top = next((number for number, line in enumerate(lines) if line.startswith("[")), len(lines))
    for number, line in enumerate(lines[:top]):
        if re.match(r'\w+ = (?!""")', line):
            cut.write_text("\n".join(lines[:number] + lines[number + 1 :]), encoding="utf-8")
            main(["validate", "--json", str(cut)])
            [report] = json.loads(capsys.readouterr().out)
            assert report["kind"] == words.partition(" ")[2]
