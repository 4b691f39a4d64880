"""A whole order in real time through the board's own GPIO code and real serial ports; only the copper is simulated."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest

import hal.board
from hal.bench import Bench
from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile
from hal.simulated.instruments import make_instruments
from rig import strain
from rig.events import (
    AirMeasured,
    ComputerStrained,
    ContactEnded,
    Event,
    Stamped,
    Strain,
    UnitJudged,
    Verdict,
)
from rig.journal import read_journal
from rig.planning.plan import MakeContact
from sequences.checks import CheckPlan
from tests.hal.board.copper import board_pins
from tests.hal.ptyport import PtyPort
from tests.patient import patient
from tests.rig.planned import STAGE, job
from tests.rig.test_session import QUICK, run, session_of
from wiring.profile import CodeReaderProfile, ProbeProfile, RigProfile

BENCH = BenchFile.model_validate({"title": "test", **QUICK})


@pytest.fixture
def ports() -> Iterator[list[PtyPort]]:
    """Four serial ports of this machine: pseudo-terminals."""
    with ExitStack() as stack:
        yield [stack.enter_context(PtyPort()) for _ in range(4)]


def with_ports(rig: RigProfile, ports: list[PtyPort]) -> RigProfile:
    """The rig as a board has it."""
    supply, stage, probe, reader = (port.name for port in ports)
    return with_instruments(rig, supply, stage, probe, reader).model_copy(update={"back_end": "gpio"})


def with_instruments(rig: RigProfile, supply: str, stage: str, probe: str, reader: str) -> RigProfile:
    """The rig with every instrument that a stage leaves room for."""
    return rig.model_copy(
        update={
            "supply": rig.supply.model_copy(update={"port": supply}),
            "target": rig.target.model_copy(update={"port": stage}),
            "air": rig.air.model_copy(update={"probe": ProbeProfile(port=probe)}),
            "code_reader": CodeReaderProfile(port=reader),
        }
    )


def solder(monkeypatch: pytest.MonkeyPatch, ports: list[PtyPort], stack: ExitStack, bench: BenchFile) -> None:
    """Let a board profile open a board whose lines and ports end in simulated relays and instruments."""
    really_opened = hal.board.open_board_bench

    async def open_board_bench(
        profile: RigProfile, tell: Callable[[str], object], *, wake_early_s: float = 0.0
    ) -> Bench:
        simulated = simulate(profile, bench, asyncio.get_running_loop())
        instruments = make_instruments(simulated.world, profile)
        for port in ports:
            port.serve(instruments[port.name])
        asyncio.get_running_loop().call_later(1.0, simulated.world.code_reader.scan, "QOC-2")
        pins = stack.enter_context(board_pins(simulated, profile, tell=tell))
        monkeypatch.setattr(hal.board, "_pins", lambda *_: pins)
        opened = await really_opened(profile, tell, wake_early_s=wake_early_s)
        simulated.person.attach(opened.operator)
        return opened

    monkeypatch.setattr(hal.board, "open_board_bench", open_board_bench)


def test_an_order_on_a_board_ends_as_on_the_simulated_bench(
    tmp_path: Path, ports: list[PtyPort], monkeypatch: pytest.MonkeyPatch
) -> None:
    target = STAGE.target.model_copy(update={"speed_mm_s": 2000.0, "farthest_mm": 800.0, "swing_s": 0.1})
    rig = patient(STAGE.model_copy(update={"target": target}))
    rig = with_instruments(rig, "sim:supply", "sim:stage", "sim:probe", "sim:reader")
    quick_checks = CheckPlan(readings=1, settle_factor=1.5, scan_readings=0)
    made = job("barrel-18-rail", "full-range", rig=rig, checks=quick_checks)
    _, seen_quickly = run(session_of(BENCH, None, units=2, job=made))

    monkeypatch.setattr(strain, "look_now", lambda: strain.Look(91.0, 600, 0.0, 0.0))
    notices: list[str] = []
    codes: list[str] = []
    path = tmp_path / "journal.sqlite3"
    with ExitStack() as stack:
        solder(monkeypatch, ports, stack, BENCH.as_ordered("barrel-18-rail", made.order.setting.output_type))
        one = session_of(None, path, units=2, job=made, rig=with_ports(rig, ports))
        real, seen = run(replace(one, notice=notices.append, on_code=codes.append))

    def verdicts(events: list[Stamped]) -> list[Event]:
        return [one.event for one in events if isinstance(one.event, UnitJudged)]

    assert real.trip is None
    assert verdicts(seen) == verdicts(seen_quickly)
    assert [*real.verdicts.values()] == [Verdict.BAD, Verdict.GOOD]
    assert notices == ["GPIO: 15 lines on gpiochip0 [board-pins]"]
    assert codes == ["QOC-2"]
    events = [stamped.event for stamped in read_journal(path)]
    assert [one for one in events if isinstance(one, ComputerStrained)] == [
        ComputerStrained(Strain.HOT, 91.0)
    ]
    # Before each unit, and before the verdict on each; at 23 °C as in the bench file.
    air = [event for event in events if isinstance(event, AirMeasured)]
    assert [(one.temperature_c, one.humidity_percent) for one in air] == 4 * [(23.0, 50.0)]
    planned = [step for step in made.plan.steps if isinstance(step, MakeContact)]
    ended = [event for event in events if isinstance(event, ContactEnded)]
    for step, contact in zip(planned, ended, strict=True):
        assert step.shortest_s <= contact.length_s <= step.longest_s
