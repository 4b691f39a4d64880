"""Every answer must be the answer to its own question, whatever the wire does to it."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hal.errors import InstrumentError
from hal.instruments.lines import LineLink, LineSplitter, Marker
from hal.simulated.clock import run

Said = list[tuple[float, bytes]]


class ScriptedWire:
    """Says what `script(number, line)` returns for each line written: pieces, each with its delay in seconds.

    Like an instrument it begins with an answer when it has finished the one before.
    """

    name = "scripted"

    def __init__(self, script: Callable[[int, str], Said]) -> None:
        self.on_lost: list[Callable[[InstrumentError], None]] = []
        self.written: list[str] = []
        self._script = script
        self._receiver: Callable[[bytes], None] = lambda _: None
        self._free_s = 0.0

    def set_receiver(self, receiver: Callable[[bytes], None]) -> None:
        self._receiver = receiver

    def write(self, data: bytes) -> None:
        line = data.decode().strip()
        self.written.append(line)
        now_s = asyncio.get_running_loop().time()
        start_s = max(now_s, self._free_s)
        for delay_s, piece in self._script(len(self.written), line):
            self._free_s = start_s + delay_s
            self.say(self._free_s - now_s, piece)

    def say(self, delay_s: float, piece: bytes) -> None:
        asyncio.get_running_loop().call_later(delay_s, lambda: self._receiver(piece))

    def lose(self) -> None:
        for tell in self.on_lost:
            tell(InstrumentError("port scripted is lost"))

    def close(self) -> None: ...


def is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


MARKER = Marker("WHO?", is_whole=lambda lines: lines[-1] == "ME", timeout_s=2.0)


def link_to(script: Callable[[int, str], Said], **more) -> tuple[LineLink, ScriptedWire]:
    wire = ScriptedWire(script)
    return LineLink(wire, what="meter", marker=MARKER, **more), wire


def well_behaved(_: int, line: str) -> Said:
    return [(0.01, {"WHO?": b"ME\r\n"}.get(line, b"24.0\r\n"))]


def test_the_first_question_starts_from_a_known_place():
    async def main():
        link, wire = link_to(well_behaved)
        wire.say(0.005, b"left over from the program before\n")
        assert await link.ask("VOLT?", 1.0, is_answer=is_number) == "24.0"
        assert await link.ask("VOLT?", 1.0, is_answer=is_number) == "24.0"
        return wire.written

    assert run(main()) == ["WHO?", "VOLT?", "VOLT?"]


@pytest.mark.parametrize(
    "pieces",
    [
        [(0.01, b"24.0\n")],
        [(0.01, b"24"), (0.02, b".0"), (0.03, b"\r"), (0.04, b"\n")],
        [(0.01, b"\n\r\n24.0\n")],
        [(0.01, b"VOLT?\r\n24.0\r\n")],
        [(0.01, b"VOLT?\n"), (0.02, b"busy\n"), (0.03, b"24.0\n")],
    ],
    ids=["plain", "in pieces", "empty lines", "echo", "echo and chatter"],
)
def test_the_answer_is_found(pieces):
    async def main():
        link, _ = link_to(lambda _, line: pieces if line == "VOLT?" else [(0.01, b"ME\n")])
        return await link.ask("VOLT?", 1.0, is_answer=is_number)

    assert run(main()) == "24.0"


def test_a_late_answer_is_never_taken_for_the_next_one():
    """The voltage comes 0.2 s after its time-out, while the current is being asked."""

    def script(_: int, line: str) -> Said:
        return {"VOLT?": [(1.2, b"24.0\n")], "CURR?": [(0.5, b"0.03\n")]}.get(line, [(0.1, b"ME\n")])

    async def main():
        link, _ = link_to(script)
        with pytest.raises(InstrumentError, match=r"no answer to 'VOLT\?' in 1 s"):
            await link.ask("VOLT?", 1.0, is_answer=is_number)
        return await link.ask("CURR?", 1.0, is_answer=is_number)

    assert run(main()) == "0.03"


def test_a_late_answer_of_the_marker_is_thrown_away():
    def script(number: int, line: str) -> Said:
        if line == "WHO?":
            return [(2.5 if number == 1 else 0.1, b"ME\n")]
        return [(0.5, b"0.03\n")]

    async def main():
        link, wire = link_to(script)
        assert await link.ask("CURR?", 1.0, is_answer=is_number, attempts=2) == "0.03"
        return wire.written

    assert run(main()) == ["WHO?", "WHO?", "CURR?"]


def test_a_garbled_answer_is_asked_again_only_where_that_is_allowed():
    def script(number: int, line: str) -> Said:
        return [(0.01, b"ME\n" if line == "WHO?" else b"2\xff4.0\n" if number == 2 else b"24.0\n")]

    async def main():
        link, wire = link_to(script)
        assert await link.ask("VOLT?", 1.0, is_answer=is_number, attempts=2) == "24.0"
        assert wire.written == ["WHO?", "VOLT?", "WHO?", "VOLT?"]
        link, wire = link_to(script)
        with pytest.raises(InstrumentError, match=r"garbled answer to 'VOLT\?'"):
            await link.ask("VOLT?", 1.0, is_answer=is_number)
        assert wire.written == ["WHO?", "VOLT?"]

    run(main())


def test_noise_and_half_a_line_before_the_question_do_no_harm():
    async def main():
        link, wire = link_to(well_behaved)
        await link.ask("VOLT?", 1.0, is_answer=is_number)
        wire.say(0.0, b"\x00\xff99")
        await asyncio.sleep(0.1)
        assert await link.ask("VOLT?", 1.0, is_answer=is_number) == "24.0"

    run(main())


def test_silence_ends_in_an_error_that_names_instrument_and_question():
    async def main():
        loop = asyncio.get_running_loop()
        link, wire = link_to(lambda _, line: [(0.01, b"ME\n")] if line == "WHO?" else [])
        with pytest.raises(InstrumentError, match=r"meter: no answer to 'VOLT\?' in 1 s"):
            await link.ask("VOLT?", 1.0, is_answer=is_number, attempts=3)
        assert wire.written.count("VOLT?") == 3
        return loop.time()

    assert run(main()) == pytest.approx(3.03, abs=0.01)


def test_an_answer_of_the_wrong_kind_is_shown_in_the_error():
    async def main():
        link, _ = link_to(lambda _, line: [(0.01, b"ME\n" if line == "WHO?" else b"hot\n")])
        with pytest.raises(InstrumentError, match="heard 'hot'"):
            await link.ask("VOLT?", 1.0, is_answer=is_number)

    run(main())


def test_a_lost_wire_ends_the_question_at_once():
    async def main():
        loop = asyncio.get_running_loop()
        link, wire = link_to(lambda _, line: [(0.01, b"ME\n")] if line == "WHO?" else [])
        loop.call_later(0.3, wire.lose)
        with pytest.raises(InstrumentError, match="is lost"):
            await link.ask("VOLT?", 5.0, is_answer=is_number, attempts=3)
        return loop.time()

    assert run(main()) == pytest.approx(0.3)


def test_questions_of_two_tasks_take_turns():
    def script(_: int, line: str) -> Said:
        return [(0.1, {"WHO?": b"ME\n", "VOLT?": b"24.0\n", "CURR?": b"0.03\n"}[line])]

    async def main():
        link, wire = link_to(script)
        both = await asyncio.gather(
            link.ask("VOLT?", 1.0, is_answer=is_number), link.ask("CURR?", 1.0, is_answer=is_number)
        )
        return both, wire.written

    assert run(main()) == (["24.0", "0.03"], ["WHO?", "VOLT?", "CURR?"])


def test_a_cancelled_question_leaves_no_answer_for_the_next():
    async def main():
        link, _ = link_to(
            lambda _, line: [(0.2, {"WHO?": b"ME\n", "VOLT?": b"24.0\n", "CURR?": b"0.03\n"}[line])]
        )
        await link.ask("VOLT?", 1.0, is_answer=is_number)
        task = asyncio.create_task(link.ask("VOLT?", 1.0, is_answer=is_number))
        await asyncio.sleep(0.1)
        task.cancel()
        await asyncio.sleep(0)
        return await link.ask("CURR?", 1.0, is_answer=is_number)

    assert run(main()) == "0.03"


def test_unasked_lines_are_handed_on():
    async def main():
        said: list[str] = []
        link, wire = link_to(well_behaved, on_unsolicited=said.append)
        await link.ask("VOLT?", 1.0, is_answer=is_number)
        wire.say(0.0, b"ALARM: limit\r\n")
        wire.say(0.0, b"\xfe\xff\n")
        await asyncio.sleep(0.1)
        return said

    assert run(main()) == ["ALARM: limit"]


def test_a_question_costs_little_on_the_jumping_clock():
    """200 units a second with several dozen questions each leave some 60 us for one."""

    async def main():
        link, _ = link_to(well_behaved)
        await link.ask("VOLT?", 1.0, is_answer=is_number)
        started = time.process_time()
        for _ in range(2000):
            await link.ask("VOLT?", 1.0, is_answer=is_number)
        return (time.process_time() - started) / 2000

    assert run(main()) < 300e-6  # generous: the machine of a test run may be busy


lines_of_text = st.lists(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=20))


@given(lines_of_text, st.sampled_from([b"\n", b"\r\n", b"\r", b"\n\r"]), st.data())
def test_lines_come_out_whole_however_they_are_cut(lines, ending, data):
    stream = b"".join(line.encode() + ending for line in lines)
    assert [line.text for line in split_in_pieces(stream, data)] == lines


noise = st.lists(
    st.sampled_from([b"\n", b"\r", b"2", b"4.0", b" ", b"\x00", b"\x1b", b"\x7f", b"\xff", b"x" * 41])
).map(b"".join)


@given(noise, st.data())
def test_noise_gives_the_same_lines_however_it_is_cut_and_never_a_clean_line_that_is_not(stream, data):
    whole = LineSplitter(longest=40).feed(stream)
    assert split_in_pieces(stream, data) == whole
    for line in whole:
        if line.clean:
            assert line.text.isascii()
            assert line.text.isprintable()
            assert line.text.encode() in stream
            assert len(line.text) <= 40


def split_in_pieces(stream: bytes, data: st.DataObject) -> list:
    splitter = LineSplitter(longest=40)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=10)))
    pieces = (stream[start:end] for start, end in pairwise([0, *cuts, len(stream)]))
    return [line for piece in pieces for line in splitter.feed(piece)]


def test_an_endless_line_takes_no_memory():
    splitter = LineSplitter()
    for _ in range(1000):
        assert splitter.feed(b"x" * 1000) == []
    assert len(splitter._half) <= 512
    (line,) = splitter.feed(b"\n")
    assert not line.clean
