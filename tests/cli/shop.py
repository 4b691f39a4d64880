"""A shop's folder for the tests of commands, and what a command said in it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from rig.cli.main import main
from rig.library import HOME_VARIABLE, Section
from rig.session import JOURNAL_NAME


@dataclass
class Shop:
    """The user's folder and the captured output of commands."""

    home: Path
    captured: pytest.CaptureFixture[str]

    @property
    def journal(self) -> Path:
        """Its record, where it was opened by `opened_elsewhere`."""
        return self.home.parent / "data" / JOURNAL_NAME

    def keep(self, section: Section, name: str, text: str) -> Path:
        """Put a file into the folder."""
        path = self.home / section.folder / f"{name}.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def run(self, *words: str) -> tuple[int, str, str]:
        """Run a command; returns its exit code, standard output and standard error."""
        code = main(words)
        told = self.captured.readouterr()
        return code, told.out, told.err

    def run_json(self, *words: str) -> tuple[int, Any]:
        """Run a command with `--json`; returns its exit code and the data."""
        code, out, _ = self.run(*words, "--json")
        return code, json.loads(out)


def opened(home: Path, monkeypatch: pytest.MonkeyPatch, captured: pytest.CaptureFixture[str]) -> Shop:
    """Make the folder `home` the user's."""
    monkeypatch.setenv(HOME_VARIABLE, str(home))
    return Shop(home, captured)


def opened_elsewhere(
    folder: Path, monkeypatch: pytest.MonkeyPatch, captured: pytest.CaptureFixture[str]
) -> Shop:
    """The same in `folder`, with its records in `data` and the user standing in `here`."""
    (folder / "home").mkdir()
    (folder / "here").mkdir()
    monkeypatch.chdir(folder / "here")
    monkeypatch.setenv("TEACHRIG_DATA", str(folder / "data"))
    monkeypatch.delenv("TEACHRIG_SHOP_URL", raising=False)
    return opened(folder / "home", monkeypatch, captured)
