"""A code comes whole or not at all."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hal.instruments.codes import LONGEST_CODE, PAUSE_S, CodeReader
from hal.instruments.wire import open_port
from hal.simulated.clock import run
from hal.simulated.instruments import SimulatedWire
from hal.simulated.probe import SimulatedCodeReader
from hal.simulated.timeline import Timeline
from tests.hal.ptyport import on_pty

# ISO/IEC 15434 format 06, with the separators that such labels hold.
LABEL = "[)>\x1e06\x1d1PABC-123\x1dSSN0001\x1d1TLOT42\x1dQ25\x1e\x04"


def codes_of(pieces: Sequence[bytes], gap_s: float = 0.0) -> list[str]:
    async def main() -> list[str]:
        seen: list[str] = []
        source = SimulatedCodeReader()
        wire = SimulatedWire(Timeline(asyncio.get_running_loop()), "ttyC", source, baud=9600)
        CodeReader(wire).on_code.append(seen.append)
        for piece in pieces:
            source.transmit(piece, 0.0)
            await asyncio.sleep(gap_s)
        await asyncio.sleep(2.0)
        return seen

    return run(main())


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n"])
def test_each_code_once_whatever_its_end(end):
    assert codes_of([b"QOC-1" + end, b"QOC-2" + end]) == ["QOC-1", "QOC-2"]


@given(st.lists(st.integers(0, 10), max_size=6))
def test_in_whatever_pieces(cuts):
    data = b"QOC18-0041\rQOC18-0042\r"
    edges = sorted({0, len(data), *(min(2 * cut, len(data)) for cut in cuts)})
    pieces = [data[a:b] for a, b in pairwise(edges)]
    assert codes_of(pieces) == ["QOC18-0041", "QOC18-0042"]


def test_separators_of_a_label_pass_and_no_other_control_character():
    assert codes_of([LABEL.encode() + b"\r"]) == [LABEL]
    for bad in (b"\x1b[2J", b"\x00", b"\x08", b"\x7f", b"\x9b\xff"):
        assert codes_of([b"QOC" + bad + b"-1\r", b"QOC-2\r"]) == ["QOC-2"]


def test_half_a_code_is_not_put_before_the_next():
    assert codes_of([b"QOC-1", b"QOC-2\r"], gap_s=2 * PAUSE_S) == ["QOC-2"]


def test_noise_without_an_end_fills_no_memory_and_spoils_one_code_only():
    noise = [b"A" * LONGEST_CODE, b"B" * LONGEST_CODE, b"C\r", b"QOC-2\r"]
    assert codes_of(noise) == ["QOC-2"]


def test_an_empty_line_is_no_code_so_it_never_says_done():
    assert codes_of([b"\r\n\r\n", b"  \r"]) == []


@given(st.binary(max_size=60))
def test_nothing_that_acts_on_a_terminal_ever_passes(data):
    for code in codes_of([data + b"\r"]):
        assert all(letter.isprintable() or letter in "\x1d\x1e\x04" for letter in code)


def test_half_a_code_is_forgotten_when_the_cable_comes_loose():
    async def main():
        seen: list[str] = []
        source = SimulatedCodeReader()
        wire = SimulatedWire(Timeline(asyncio.get_running_loop()), "ttyC", source, baud=9600)
        reader = CodeReader(wire)
        reader.on_code.append(seen.append)
        source.transmit(b"QOC-1", 0.0)
        await asyncio.sleep(0.1)
        wire.unplug()
        reader._receive(b"2\r")
        assert seen == ["2"]

    run(main())


def test_over_a_real_port():
    async def main():
        source, seen = SimulatedCodeReader(), []
        with on_pty(source) as port:
            wire = open_port(port.name, 9600)
            reader = CodeReader(wire)
            reader.on_code.append(seen.append)
            came = asyncio.Event()
            reader.on_code.append(lambda _: came.set())
            source.scan("QOC18-0041")
            await asyncio.wait_for(came.wait(), 5)
            wire.close()
        assert seen == ["QOC18-0041"]

    asyncio.run(main())
