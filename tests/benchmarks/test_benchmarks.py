"""The benchmarks run, and say what they measured; what they find is nobody's test."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.benchmarks.__main__ import BENCHMARKS, main
from tests.benchmarks.figure import Figure, Reference, number, quantile

# These run in real time: on a computer that is held up for long the bench trips, as it should.
_IN_REAL_TIME = ("contacts", "trips", "screen")


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=pytest.mark.benchmark if name in _IN_REAL_TIME else ()) for name in BENCHMARKS],
)
def test_every_figure_stands_beside_its_reference(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "figures.json"
    assert main(["--quick", "--only", name, "--json", str(file)]) == 0
    found = json.loads(file.read_text(encoding="utf-8"))
    figures = found["figures"][name]
    names = [figure["name"] for figure in figures]
    assert found["quick"] is True
    assert list(found["figures"]) == [name]
    assert len(set(names)) == len(names) > 0
    for figure in figures:
        assert figure["reference"]["name"]
        assert figure["ratio"] == pytest.approx(figure["value"] / figure["reference"]["value"])
    assert "QUICK" in capsys.readouterr().out


def test_a_goal_is_met_up_to_its_limit() -> None:
    beside = Reference("a second", 2.0)
    assert Figure("as good as asked", 3.0, "s", beside, goal_ratio=1.5).met is True
    assert Figure("worse than asked", 3.1, "s", beside, goal_ratio=1.5).met is False
    assert Figure("within", 3.0, "s", beside, goal=3.0).met is True
    assert Figure("beyond", 3.0, "s", beside, goal=2.9).met is False
    assert Figure("told only", 3.0, "s", beside).met is None


def test_quantiles_are_values_that_were_seen() -> None:
    seen = [float(value) for value in range(1000, 0, -1)]
    assert quantile(seen, 0.5) == 500.0
    assert quantile(seen, 0.999) == 999.0
    assert quantile(seen, 1.0) == 1000.0
    assert quantile([7.0], 0.0) == 7.0


def test_numbers_have_three_figures() -> None:
    assert [number(value) for value in (12345.6, 99.94, 0.0051234)] == ["12,346", "99.9", "0.00512"]
