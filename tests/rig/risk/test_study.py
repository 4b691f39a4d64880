"""A study: the same whatever the number of cores, and after every way of breaking it off."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rig.risk.case import Case
from rig.risk.crew import WorkerLost, shared_out
from rig.risk.draw import unit_seed
from rig.risk.state import StateFile
from rig.risk.study import OneCase, Study, run_study
from rig.risk.tally import Tally, tally_of
from rig.risk.trial import Result, try_unit
from tests.rig.risk.cases import case, rates
from wiring.tomlfile import DataFileError

ROOT = Path(__file__).parents[3]
STORED = {"kind": "stores-wrongly", "share": 0.5, "offset_tolerances": (-2.0, 2.0)}
CHUNK = 10
UNITS = 2 * CHUNK + 5


@pytest.fixture(scope="module")
def mixed() -> Case:
    bench = ({"kind": "teach-contact-dead", "share": 0.1},)
    return case("hopper-window-no", rates(STORED, {"kind": "wrong-kind", "share": 0.2}, bench=bench))


@pytest.fixture(scope="module")
def whole(mixed: Case) -> dict[str, object]:
    """What the study comes to, done in one go, by hand."""
    return tally_of(try_unit(mixed, unit_seed(4, number)) for number in range(UNITS)).as_dict()


def done(made: Case, *, cores: int = 1, state: Path | None = None, units: int = UNITS) -> Tally:
    *_, last = run_study(Study(OneCase(made), 4, units, CHUNK), cores=cores, state=state)
    return last.tally


def as_sets(tally: Tally | dict[str, object]) -> dict[str, object]:
    """A tally as JSON has it, with what is listed in the order of seeds."""
    data = json.loads(json.dumps(tally if isinstance(tally, dict) else tally.as_dict()))
    data["listed"] = sorted(data["listed"], key=lambda one: one["seed"])
    return data


@pytest.mark.parametrize("cores", [1, 3])
def test_any_number_of_cores_comes_to_the_same(cores: int, mixed: Case, whole: dict[str, object]) -> None:
    found = done(mixed, cores=cores)
    assert as_sets(found) == as_sets(whole)
    assert found.units == UNITS
    assert len({result for _, result in found.results}) >= 3


def test_what_was_broken_off_goes_on_where_it_was(
    mixed: Case, whole: dict[str, object], tmp_path: Path
) -> None:
    state = tmp_path / "state"
    study = run_study(Study(OneCase(mixed), 4, UNITS, CHUNK), cores=2, state=state)
    next(study)
    next(study)
    study.close()
    kept = state.read_bytes()
    assert kept.count(b"\n") == 2
    # Killed in the middle of a line.
    state.write_bytes(kept + b'{"chunk": 2, "units": 10, "tal')
    assert as_sets(done(mixed, state=state)) == as_sets(whole)
    lines = [json.loads(line) for line in state.read_text().splitlines()]
    assert sorted(line["chunk"] for line in lines[1:]) == [0, 1, 2]


def test_a_finished_study_is_read_and_a_longer_one_goes_on(
    mixed: Case, whole: dict[str, object], tmp_path: Path
) -> None:
    state = tmp_path / "state"
    done(mixed, state=state, units=CHUNK + 5)
    assert as_sets(done(mixed, state=state)) == as_sets(whole)
    before = state.read_bytes()
    assert as_sets(done(mixed, state=state)) == as_sets(whole)
    assert state.read_bytes() == before


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda _: "", None),
        (lambda text: text.replace('"seed": 4', '"seed": 5', 1), "another seed"),
        (lambda text: text.replace('"files": "', '"files": "0', 1), "another files"),
        (lambda _: "[order]\n", "is no line of a study"),
        (lambda _: '{"some": "json"}\n', "is no state file of a study"),
        (lambda text: text + "{}\n", "is no line of a study"),
    ],
)
def test_a_file_of_something_else_is_refused_and_left_alone(
    spoil: object, said: str | None, mixed: Case, tmp_path: Path
) -> None:
    state = tmp_path / "state"
    done(mixed, state=state, units=CHUNK)
    spoilt = spoil(state.read_text())  # type: ignore[operator]
    state.write_text(spoilt)
    if said is None:
        assert done(mixed, state=state, units=CHUNK).units == CHUNK
        return
    with pytest.raises(DataFileError, match=said):
        done(mixed, state=state, units=CHUNK)
    assert state.read_text() == spoilt


def test_another_version_of_a_file_is_another_study(mixed: Case, tmp_path: Path) -> None:
    state = tmp_path / "state"
    done(mixed, state=state, units=CHUNK)
    other = case("hopper-window-no", mixed.rates, tolerance_mm=7.0)
    with pytest.raises(DataFileError, match="another files"):
        done(other, state=state, units=CHUNK)


def test_a_case_survives_the_way_to_another_process(mixed: Case) -> None:
    import pickle

    again = pickle.loads(pickle.dumps(mixed))
    assert (again.order, again.rig, again.rates) == (mixed.order, mixed.rig, mixed.rates)
    assert again.plan == mixed.plan


def test_a_tally_survives_the_file(mixed: Case) -> None:
    tally = tally_of(try_unit(mixed, unit_seed(4, number)) for number in range(20))
    again = Tally.from_dict(json.loads(json.dumps(tally.as_dict())))
    assert again == tally
    assert tally.count(*Result) == 20


KILLED = """
import sys
from pathlib import Path
from rig.risk.study import OneCase, Study, run_study
from tests.rig.risk.test_study import CHUNK, mixed, STORED
from tests.rig.risk.cases import case, rates

def main():
    made = case("tipper-point-no", rates(STORED))
    for progress in run_study(Study(OneCase(made), 4, 100_000, CHUNK), cores=2, state=Path(sys.argv[1])):
        print(progress.tally.units, flush=True)

if __name__ == "__main__":
    main()
"""


@pytest.fixture
def under_way(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """A long study in a process of its own, with the first chunk done."""
    program = tmp_path / "study.py"
    program.write_text(KILLED)
    process = subprocess.Popen(
        [sys.executable, str(program), str(tmp_path / "state")],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline().strip() == "0"
    assert int(process.stdout.readline()) >= CHUNK
    yield process
    process.kill()
    process.communicate()


def test_workers_of_a_killed_study_end_by_themselves(
    under_way: subprocess.Popen[str], tmp_path: Path
) -> None:
    workers = children_of(under_way.pid)
    assert len(workers) >= 2
    under_way.send_signal(signal.SIGKILL)
    under_way.wait()
    deadline_s = time.monotonic() + 30.0
    while any(Path(f"/proc/{pid}").exists() for pid in workers):
        assert time.monotonic() < deadline_s, "a worker outlived its study"
        time.sleep(0.1)
    subject = OneCase(case("tipper-point-no", rates(STORED))).subject()
    kept = StateFile(tmp_path / "state", {"seed": 4, **subject})
    assert len(kept.done) >= 1


def children_of(pid: int) -> list[int]:
    task = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(child) for child in task.read_text().split()]


def fails(chunk: int) -> int:
    if chunk == 3:
        raise ValueError("chunk 3 is no good")
    return chunk * chunk


def dies(chunk: int) -> int:
    if chunk == 3:
        os._exit(9)
    return chunk


@pytest.mark.parametrize("cores", [1, 2])
def test_what_fails_in_a_worker_is_told(cores: int) -> None:
    with pytest.raises(ValueError, match="chunk 3 is no good"):
        dict(shared_out(fails, range(9), cores))


def test_every_chunk_comes_back_once() -> None:
    assert dict(shared_out(fails, [0, 1, 2, 4, 5], 3)) == {0: 0, 1: 1, 2: 4, 4: 16, 5: 25}


def test_a_worker_that_dies_is_told() -> None:
    with pytest.raises(WorkerLost, match="chunk 3"):
        dict(shared_out(dies, range(9), 2))
