"""What README, guides and the page for contributors show and promise is what is there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
COMMANDS = ROOT / "rig" / "cli" / "GUIDE.md"
PAGES = sorted(path.relative_to(ROOT) for path in (*ROOT.glob("*.md"), *ROOT.glob("[hrt]*/**/*.md")))


def block(name: str) -> str:
    found = re.search(
        rf"<!-- {re.escape(name)} -->\n```\w*\n(.*?)```\n<!-- end -->", README.read_text("utf-8"), re.S
    )
    assert found, f"README has no block {name}"
    return found[1]


def said_by(*command: str, data: Path) -> str:
    environment = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "TEACHRIG_DATA": str(data)}
    ran = subprocess.run(
        [sys.executable, "-c", "import sys; from rig.cli.main import main; sys.exit(main())", *command],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    return "\n".join(line.rstrip() for line in ran.stdout.splitlines()) + "\n"


def named_in(page: Path) -> set[str]:
    """The commands that have a row in a page's tables."""
    return set(re.findall(r"^\|.*?`teachrig ([a-z]+)", page.read_text("utf-8"), re.M))


def test_the_picture_is_what_the_demo_prints(tmp_path):
    assert said_by("demo", data=tmp_path) == block("picture: teachrig demo")


def test_the_guide_has_every_command_and_no_other(tmp_path):
    commands = set(re.findall(r"^    ([a-z]+) ", said_by("--help", data=tmp_path), re.M))
    assert len(commands) > 30
    assert named_in(COMMANDS) == commands
    assert named_in(README) <= commands


@pytest.mark.parametrize("page", PAGES, ids=str)
def test_every_link_leads_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", (ROOT / page).read_text("utf-8"))
    assert [link for link in links if not (ROOT / page.parent / link).exists()] == []


def test_the_map_of_the_house_has_every_room() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {
        path.parent.relative_to(ROOT) for top in ("hal", "rig") for path in (ROOT / top).glob("*/__init__.py")
    }
    assert len(rooms) > 25
    assert [room for room in sorted(rooms) if f"`{room}/" not in page] == []


def test_files_that_the_map_names_are_there() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    names = re.findall(r"`([\w./-]+\.(?:py|toml|sql|json|md))`", page)
    assert len(names) > 150
    gone = [name for name in names if not any(ROOT.glob(name)) and not any(_below_rooms(name))]
    assert gone == []


def _below_rooms(name: str) -> list[Path]:
    return [
        path for top in ("hal", "rig", "sequences", "wiring", "tests") for path in (ROOT / top).rglob(name)
    ]
