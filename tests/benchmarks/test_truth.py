"""The truth study: its kept summary holds the goals, the study still runs, and a weak rule shows escapes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from hal.simulated.faults import BenchFaultKind, UnitFaultKind
from rig.risk.crew import shared_out
from rig.risk.rates import Rates
from rig.risk.study import CHUNK, Study
from rig.risk.tally import Tally
from rig.risk.trial import Result
from sequences.words import Rule
from tests.benchmarks.truth import SUMMARY, RandomOrders, main
from tests.rig.risk.left_out import OF_THE_SELF_CHECK

OF_HAND_BENCHES = {
    BenchFaultKind.GAUGE_SILENT,
    BenchFaultKind.GAUGE_STUCK,
    BenchFaultKind.SCALE_MISREAD,
}
STORED_NEAR_THE_LIMIT = Rates.model_validate(
    {
        "title": "every unit stores wrongly",
        "unit_fault": [{"kind": "stores-wrongly", "share": 1.0, "offset_tolerances": [-1.5, 1.5]}],
    }
)


def goals_of(summary: dict[str, Any]) -> dict[str, bool]:
    """Every goal and whether it is met; those of single faults by their names."""
    flat = {}
    for name, goal in summary["goals"].items():
        parts = {name: goal} if "met" in goal else {f"{name}: {fault}": part for fault, part in goal.items()}
        flat |= {key: part["met"] for key, part in parts.items()}
    return flat


@pytest.mark.skipif(
    not SUMMARY.exists(), reason=f"{SUMMARY.name} is not there: DEVELOPERS.md says how the study is run"
)
def test_the_kept_summary_is_of_a_hundred_thousand_units_and_meets_every_goal() -> None:
    kept = json.loads(SUMMARY.read_text(encoding="utf-8"))
    assert kept["units"] == 100_000
    assert kept["study"] == {"seed": 1, "rule": "guarded", "cores": kept["study"]["cores"]}
    assert goals_of(kept)
    assert [name for name, met in goals_of(kept).items() if not met] == []
    assert sum(table["units"] for table in kept["tables"].values()) == 100_000
    faults = {fault for fault, counted in kept["by_fault"].items() if counted["units"] > 30}
    assert faults >= {
        *map(str, UnitFaultKind),
        *(str(kind) for kind in set(BenchFaultKind) - OF_HAND_BENCHES - OF_THE_SELF_CHECK),
    }
    assert len(kept["escapes"]) == sum(
        counted["results"]["bad unit called good"] for counted in kept["by_fault"].values()
    )


def test_the_study_runs_and_goes_on_where_it_was(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    state, summary = tmp_path / "state", tmp_path / "summary.json"
    words = ["--cores", "1", "--state", str(state), "--summary", str(summary)]
    assert main(["--units", str(CHUNK), *words]) == 0
    assert main(["--units", str(2 * CHUNK), *words]) == 0
    assert "sound units called bad (realistic)" in capsys.readouterr().out
    found = json.loads(summary.read_text(encoding="utf-8"))
    assert found["units"] == 2 * CHUNK
    assert found["time"]["units_of_the_last_run"] == CHUNK
    assert found["time"]["processor_s_on_two_cores"] == pytest.approx(
        found["time"]["processor_s"] / 2, abs=0.1
    )
    assert [table["units"] for table in found["tables"].values()] == [CHUNK, CHUNK]


def test_every_chunk_is_another_order_and_the_same_again() -> None:
    orders = [RandomOrders(1).case_of(chunk).order for chunk in range(12)]
    assert len({order.number for order in orders}) == 12
    assert orders[7] == RandomOrders(1).case_of(7).order
    assert any(order.need is not None and order.need.air is not None for order in orders)


def escapes(rule: Rule, units: int) -> Tally:
    study = Study(RandomOrders(1, rule, STORED_NEAR_THE_LIMIT), 1, units)
    tally = Tally()
    for _, done in shared_out(study.do, study.chunks(), 2):
        tally.merge(Tally.from_dict(done.tally))
    return tally


@pytest.mark.slow
def test_a_rule_weakened_on_purpose_shows_escapes() -> None:
    weak, guarded = escapes(Rule.SIMPLE, 2000), escapes(Rule.GUARDED, 2000)
    assert weak.bad > 300
    assert weak.count(Result.ESCAPE) >= 8
    assert guarded.count(Result.ESCAPE) <= 2


@pytest.mark.slow
def test_three_thousand_units_of_random_orders_meet_the_goals(tmp_path: Path) -> None:
    summary = tmp_path / "summary.json"
    assert main(["--units", "3000", "--seed", "2", "--cores", "2", "--summary", str(summary)]) == 0
    assert [name for name, met in goals_of(json.loads(summary.read_text())).items() if not met] == []
