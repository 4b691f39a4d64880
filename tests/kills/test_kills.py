"""The kill study at its full length (`pytest -m kills -s`), and a few kills with every run of the tests."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


def study(*words: str) -> str:
    """In a program of its own, since it forks."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.kills", *words],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    print(done.stdout)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_few_cuts_of_the_power() -> None:
    """Each is a kill, and loses what was not synchronised besides."""
    told = study("--kills", "4", "--seed", "3", "--power")
    assert "lost, doubled, falsely good, or not clean: 0" in told


@pytest.mark.kills
def test_a_thousand_kills() -> None:
    assert study("--kills", "1000").startswith("1000 kills")


@pytest.mark.kills
def test_a_thousand_cuts_of_the_power() -> None:
    assert study("--kills", "1000", "--power").startswith("1000 kills")


@pytest.mark.kills
def test_a_thousand_kills_with_the_network_of_the_shop_cut_and_mended() -> None:
    assert study("--kills", "1000", "--shop").startswith("1000 kills")
