"""A system with printing: an `lp` that enters every job in a file."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

_LP = """#!{python}
import json, pathlib, sys
pathlib.Path({log!r}).open("a").write(json.dumps([sys.argv[1:], len(sys.stdin.buffer.read())]) + "\\n")
if "-d" in sys.argv and "no-such" in sys.argv:
    sys.exit("lp: The printer or class does not exist.\\x1b[2J")
print("request id is desk-7 (1 file(s))")
"""


def with_printing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Put it on the path; returns the file in which its jobs are entered."""
    log = folder / "jobs"
    (folder / "bin").mkdir()
    lp = folder / "bin" / "lp"
    lp.write_text(_LP.format(python=sys.executable, log=str(log)))
    lp.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder / "bin"))
    return log
