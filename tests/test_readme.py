"""What the README shows and promises is what the program does."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

README = Path(__file__).parents[1] / "README.md"


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


def test_the_picture_is_what_the_demo_prints(tmp_path):
    assert said_by("demo", data=tmp_path) == block("picture: teachrig demo")


def test_every_command_of_the_table_is_one(tmp_path):
    for line in re.findall(r"^\| `teachrig ([a-z]+)", README.read_text("utf-8"), re.M):
        assert "usage: teachrig" in said_by(line, "--help", data=tmp_path)
