"""The stage is where it was told to be, or the move fails."""

from __future__ import annotations

import asyncio
import math
import time

import pytest

from hal.errors import InstrumentError
from hal.instruments.stage import StageDrive
from hal.instruments.wire import open_port
from hal.simulated.clock import run
from hal.simulated.instruments import SimulatedWire
from hal.simulated.stage import SimulatedStage
from hal.simulated.timeline import Timeline
from tests.hal.ptyport import on_pty
from wiring.instruments import StageDialect


class RecordedStage(SimulatedStage):
    """Keeps what it is told; answers by `instead` where that has the line, None being silence."""

    def __init__(self, physics) -> None:
        super().__init__(physics, travel_mm=2000.0, speed_mm_s=1000.0)
        self.heard: list[str] = []
        self.instead: dict[str, str | None] = {}

    def obey(self, line: str) -> None:
        self.heard.append(line)
        if line not in self.instead:
            super().obey(line)
        elif (answer := self.instead[line]) is not None:
            self.answer(answer)


class Setup:
    def __init__(self, rail) -> None:
        self.rail = rail
        self.stage = RecordedStage(rail)
        self.wire = SimulatedWire(Timeline(asyncio.get_running_loop()), "stage", self.stage, baud=115200)
        self.drive = StageDrive(self.wire, speed_mm_s=1000.0, farthest_mm=2000.0)

    async def moved_once(self) -> Setup:
        await self.drive.move_to(100.0)
        self.stage.heard.clear()
        return self


def test_the_first_move_tells_the_modes_and_homes(make_rail):
    async def main():
        it = Setup(make_rail())
        assert not it.drive.homed
        assert await it.drive.move_to(120.5) == 120.5
        assert it.drive.homed
        assert it.rail.moves == [0.0, 120.5]
        told = [line for line in it.stage.heard if line != "M114"]
        assert told == ["G21", "G90", "G94", "G28 X0", "G0 X120.500"]

    run(main())


def test_a_move_takes_its_time_and_is_asked_for_once(make_rail):
    async def main():
        loop = asyncio.get_running_loop()
        it = await Setup(make_rail()).moved_once()
        started = loop.time()
        await it.drive.move_to(1100.0)
        assert 1.0 <= loop.time() - started < 1.02
        assert it.stage.heard == ["G0 X1100.000", "M114"]

    run(main())


def test_a_slower_stage_than_stated_is_waited_for(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.rail.slowness = 1.7
        assert await it.drive.move_to(1100.0) == 1100.0

    run(main())


def test_lost_steps_are_an_error_and_the_next_move_homes_again(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.rail.stuck_at_mm = 130.0
        started = asyncio.get_running_loop().time()
        with pytest.raises(InstrumentError, match=r"stands at 130\.000 mm where 140\.000 mm was commanded"):
            await it.drive.move_to(140.0)
        assert asyncio.get_running_loop().time() - started < 0.3
        assert not it.drive.homed
        it.rail.stuck_at_mm = math.inf
        it.stage.heard.clear()
        assert await it.drive.move_to(140.0) == 140.0
        assert "G28 X0" in it.stage.heard

    run(main())


def test_a_stage_that_crawls_for_ever_is_given_up(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.rail.slowness = 1000.0
        with pytest.raises(InstrumentError, match=r"where 1100\.000 mm was commanded"):
            await it.drive.move_to(1100.0)
        await asyncio.sleep(0.01)
        assert math.isnan(it.rail.moves[-1]), "a move that failed was not stopped"

    run(main())


def test_stop_stops_at_once_and_ends_the_move(make_rail):
    async def main():
        loop = asyncio.get_running_loop()
        it = await Setup(make_rail()).moved_once()
        loop.call_later(0.5, it.drive.stop)
        with pytest.raises(InstrumentError, match="was stopped during a move"):
            await it.drive.move_to(1100.0)
        await asyncio.sleep(0.1)
        assert it.rail.position_mm() == pytest.approx(600.0, abs=5.0)
        assert not it.drive.homed

    run(main())


@pytest.mark.parametrize("at_us", range(0, 3000, 50))
def test_after_a_stop_no_command_to_move_goes_out(make_rail, at_us):
    """The stop may fall before, between or after the exchanges of a move."""

    async def main():
        loop = asyncio.get_running_loop()
        it = await Setup(make_rail()).moved_once()
        it.stage.instead["G0 X1100.000"] = None  # would be sent again
        loop.call_later(at_us * 1e-6, it.drive.stop)
        with pytest.raises(InstrumentError, match="stopped"):
            await it.drive.move_to(1100.0)
        await asyncio.sleep(10.0)
        assert it.stage.heard.count("G0 X1100.000") <= 1
        it.stage.instead.clear()
        assert await it.drive.move_to(200.0) == 200.0

    run(main())


def test_a_stop_while_standing_needs_no_homing(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.drive.stop()
        assert it.drive.homed

    run(main())


def test_cancelling_a_move_stops_the_stage(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        move = asyncio.create_task(it.drive.move_to(1100.0))
        await asyncio.sleep(0.3)
        move.cancel()
        with pytest.raises(asyncio.CancelledError):
            await move
        await asyncio.sleep(0.1)
        assert it.rail.position_mm() < 500.0

    run(main())


def test_a_refusal_is_told_in_the_words_of_the_controller(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        with pytest.raises(InstrumentError, match=r"refused 'G0 X3000\.000': 'error: beyond travel'"):
            await it.drive.move_to(3000.0)

    run(main())


def test_an_alarm_during_a_move_ends_it_at_once(make_rail):
    async def main():
        loop = asyncio.get_running_loop()
        it = await Setup(make_rail()).moved_once()
        loop.call_later(0.2, it.stage.answer, "ALARM: limit switch")
        with pytest.raises(InstrumentError, match="said 'ALARM: limit switch' unasked"):
            await it.drive.move_to(1100.0)
        assert loop.time() < 2.0

    run(main())


def test_a_controller_that_starts_anew_is_homed_before_the_next_move(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.stage.answer("Stage controller ready")
        await asyncio.sleep(0.1)
        await it.drive.move_to(200.0)
        assert "G28 X0" in it.stage.heard

    run(main())


def test_a_controller_that_boots_slowly_after_opening_is_waited_for(make_rail):
    async def main():
        it = Setup(make_rail())
        receive = it.stage.receive
        it.stage.receive = lambda _: None  # type: ignore[method-assign]
        asyncio.get_running_loop().call_later(4.0, lambda: setattr(it.stage, "receive", receive))
        assert await it.drive.move_to(50.0) == 50.0

    run(main())


def test_a_homing_that_says_ok_before_it_begins_is_waited_for(make_rail):
    async def main():
        it = Setup(make_rail())
        home = it.stage._home

        def home_later() -> None:
            it.stage.answer("ok")
            asyncio.get_running_loop().call_later(3.0, home)

        it.stage._home = home_later  # type: ignore[method-assign]
        assert await it.drive.move_to(50.0) == 50.0

    run(main())


def test_a_late_ok_is_not_taken_for_the_next_one(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        answer = it.stage.answer

        def answer_late_once(text: str, busy_s: float = 0.0) -> None:
            it.stage.answer = answer  # type: ignore[method-assign]
            answer(text, busy_s + 1.2)

        it.stage.answer = answer_late_once  # type: ignore[method-assign]
        assert await it.drive.move_to(1500.0) == 1500.0
        assert await it.drive.position_mm() == 1500.0

    run(main())


def test_a_silent_stage_ends_in_an_error(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.stage.instead = {"G0 X200.000": None, "M114": None}
        with pytest.raises(InstrumentError, match="stage at stage: no answer"):
            await it.drive.move_to(200.0)

    run(main())


def test_a_controller_in_alarm_reports_no_position(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.stage.instead["M114"] = "ALARM: locked"
        with pytest.raises(InstrumentError, match="refused to report its position: 'ALARM: locked'"):
            await it.drive.position_mm()

    run(main())


def test_two_moves_at_once_are_a_fault_of_the_program(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        first = asyncio.create_task(it.drive.move_to(200.0))
        await asyncio.sleep(0.01)
        with pytest.raises(RuntimeError, match="moving already"):
            await it.drive.move_to(300.0)
        assert await first == 200.0

    run(main())


@pytest.mark.parametrize(
    ("line", "position_mm"),
    [("X:120.000", 120.0), ("X: -0.05 Y:1.00", -0.05), ("ok X:7", 7.0), ("ok", None), ("error 7", None)],
)
def test_report_forms(line, position_mm):
    assert StageDialect().position_mm(line) == position_mm


def test_a_report_in_the_ok_line_is_a_whole_report(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        it.stage.instead["M114"] = "ok X:100.000 Y:0.000"
        assert await it.drive.position_mm() == 100.0

    run(main())


def test_a_controller_with_words_of_its_own_is_described_in_the_profile(make_rail):
    """Its words are made up; the forms are those of RS-274."""
    dialect = StageDialect(
        set_up=("G21 G90 G94",),
        home="G28.2 X0",
        move="G1 X{mm} F60000",
        report="POS?",
        stop="%",
        ok="DONE",
        refusals=("Fault",),
        chatter=("[", "DONE"),
        position="<Pos,{mm},",
        home_mm=5.0,
    )
    replies = {
        "G21 G90 G94": "done",
        "G28.2 X0": "done",
        "G1 X120.500 F60000": "done",
        "POS?": "<Pos,5.000,0>\r\n[note]\r\ndone",
    }

    async def main():
        it = Setup(make_rail())
        it.drive = StageDrive(it.wire, speed_mm_s=1000.0, farthest_mm=2000.0, dialect=dialect)
        it.stage.instead.update(replies)
        asyncio.get_running_loop().call_later(
            0.15, lambda: it.stage.instead.update({"POS?": "<Pos,120.500,0>\r\ndone"})
        )
        await it.drive.start()
        assert await it.drive.move_to(120.5) == 120.5
        it.stage.instead["G1 X7.000 F60000"] = "FAULT 3"
        with pytest.raises(InstrumentError, match=r"refused 'G1 X7\.000 F60000': 'FAULT 3'"):
            await it.drive.move_to(7.0)

    run(main())


def test_the_simulated_stage_is_as_strict_as_a_real_one(make_rail):
    """RS-274 (second-hand): units, distance mode and feed form are modal, and nobody may rely on the rest."""

    async def main():
        said: list[str] = []
        stage = SimulatedStage(make_rail(), travel_mm=2000.0, speed_mm_s=1000.0)
        stage.transmit = lambda data, _: said.append(data.decode().strip())
        for line in (
            "G0 X1",
            "G21 G90",
            "G0 X1",
            "G94",
            "G0 X1",
            "G28 X0",
            "g0 x1",
            "G0 X2001",
            "G0X",
            "!G0 X1",
        ):
            stage.receive(f"{line}\n".encode())
        return said

    assert run(main()) == [
        "error: G21 G90 G94 not told",
        "ok",
        "error: G94 not told",
        "ok",
        "error: not homed",
        "ok",
        "ok",
        "error: beyond travel",
        "error: not understood",
        "error: not homed",
    ]


def test_a_move_costs_little(make_rail):
    async def main():
        it = await Setup(make_rail()).moved_once()
        started = time.process_time()
        for _ in range(300):
            await it.drive.move_to(200.0)
            await it.drive.move_to(100.0)
        return (time.process_time() - started) / 600

    assert run(main()) < 1e-3  # some 0.12 ms on a quiet machine


def test_the_same_over_a_real_terminal(make_rail):
    async def main():
        with on_pty(RecordedStage(make_rail())) as port:
            wire = open_port(port.name, 115200)
            drive = StageDrive(wire, speed_mm_s=1000.0, farthest_mm=2000.0)
            assert await drive.move_to(20.0) == 20.0
            asyncio.get_running_loop().call_later(0.05, port.unplug)
            async with asyncio.timeout(1.5):
                with pytest.raises(InstrumentError, match="lost"):
                    await drive.move_to(900.0)
            wire.close()

    asyncio.run(main())
