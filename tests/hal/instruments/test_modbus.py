"""Modbus RTU against published frames and an independent implementation, and on a wire that is not well."""

from __future__ import annotations

import asyncio
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadHoldingRegistersResponse,
    ReadInputRegistersRequest,
    ReadInputRegistersResponse,
)

from hal.errors import InstrumentError
from hal.instruments.modbus import ANSWER_S, ModbusMaster, crc16, framed, question
from hal.instruments.probe import start_air
from hal.instruments.wire import open_port
from hal.simulated.clock import run
from hal.simulated.instrument import Instrument
from hal.simulated.instruments import SimulatedSupply, SimulatedWire
from hal.simulated.probe import SimulatedProbe
from hal.simulated.timeline import Timeline
from tests.hal.ptyport import on_pty
from wiring.instruments import ProbeProfile, RegisterTable
from wiring.parts import AirProfile

# MODBUS over serial line V1.02 and examples of the application protocol V1.1b3, recomputed with crcmod.
PUBLISHED = (
    ("01 03 00 00 00 0A", "C5 CD"),
    ("11 03 00 6B 00 03", "76 87"),
    ("02 07", "41 12"),
    ("01 06 00 01 00 03", "98 0B"),
    ("01 05 00 AC FF 00", "4C 1B"),
    ("01 83 02", "C0 F1"),
    ("11 03 06 AE 41 56 52 43 40", "49 AD"),
    ("01 10 00 01 00 02 04 00 0A 01 02", "92 30"),
)
REQUESTS = {
    RegisterTable.INPUT: ReadInputRegistersRequest,
    RegisterTable.HOLDING: ReadHoldingRegistersRequest,
}
RESPONSES = {
    RegisterTable.INPUT: ReadInputRegistersResponse,
    RegisterTable.HOLDING: ReadHoldingRegistersResponse,
}
PROBE = ProbeProfile(port="probe", unit=7)
TYPED = AirProfile(probe=PROBE)
ASK = (7, RegisterTable.INPUT, 0, 2)


def test_the_published_check_value():
    assert crc16(b"123456789") == 0x4B37  # CRC catalogue, CRC-16/MODBUS


@pytest.mark.parametrize(("frame", "check"), PUBLISHED)
def test_published_frames(frame, check):
    data = bytes.fromhex(frame)
    assert framed(data) == data + bytes.fromhex(check)
    assert crc16(framed(data)) == 0


tables = st.sampled_from(RegisterTable)


@given(unit=st.integers(1, 247), table=tables, address=st.integers(0, 65000), count=st.integers(1, 125))
def test_questions_are_those_of_an_independent_implementation(unit, table, address, count):
    pdu = REQUESTS[table](address=address, count=count, dev_id=unit)
    assert question(unit, table, address, count) == FramerRTU(DecodePDU(True)).buildFrame(pdu)


class Air:
    temperature_c = -7.3
    humidity_percent = 41.2


class Odd(Instrument):
    """Says the pieces one after the other, whatever it is asked; None is the true probe's answer."""

    def __init__(self, *answers: bytes | None, late_s: float = 0.0) -> None:
        super().__init__()
        self._answers = list(answers)
        self._late_s = late_s
        self._probe = SimulatedProbe(Air(), PROBE)

    def receive(self, data: bytes) -> None:
        self._probe.transmit = self.transmit
        answer = self._answers.pop(0) if self._answers else None
        if answer is None:
            self._probe.receive(data)
        elif answer:
            self.transmit(answer, self._late_s)


def wire_to(instrument: Instrument) -> SimulatedWire:
    return SimulatedWire(Timeline(asyncio.get_running_loop()), "ttyP", instrument, baud=9600)


def asked_of(instrument: Instrument) -> tuple[int, ...]:
    async def main() -> tuple[int, ...]:
        loop = asyncio.get_running_loop()
        begun_s = loop.time()
        try:
            return await ModbusMaster(wire_to(instrument), what="probe").read(*ASK)
        finally:
            assert loop.time() - begun_s < 3 * (ANSWER_S + 0.2)

    return run(main())


@given(
    unit=st.integers(1, 247),
    table=tables,
    registers=st.lists(st.integers(0, 65535), min_size=1, max_size=125),
)
def test_answers_of_an_independent_implementation_are_understood(unit, table, registers):
    pdu = RESPONSES[table](registers=registers, dev_id=unit)
    answer = FramerRTU(DecodePDU(True)).buildFrame(pdu)

    async def main() -> tuple[int, ...]:
        return await ModbusMaster(wire_to(Odd(answer)), what="probe").read(unit, table, 0, len(registers))

    assert list(run(main())) == registers


RIGHT = (0x10000 - 73, 412)


def test_below_zero():
    assert asked_of(SimulatedProbe(Air(), PROBE)) == RIGHT


@pytest.mark.parametrize(
    "trouble",
    [
        b"",
        b"\x00\xff" * 300,
        framed(struct.pack(">BBBHH", 7, 4, 4, *RIGHT))[:-1],
        framed(struct.pack(">BBBHH", 7, 4, 4, *RIGHT))[:-2] + b"\x00\x00",
        framed(struct.pack(">BBBH", 7, 4, 2, 1)),
        question(*ASK),
    ],
    ids=["silence", "noise", "half", "bad check", "too few registers", "echo"],
)
def test_one_bad_answer_is_asked_again(trouble):
    assert asked_of(Odd(trouble)) == RIGHT


def test_a_line_that_hears_itself_is_no_trouble():
    answer = framed(struct.pack(">BBBHH", 7, 4, 4, *RIGHT))
    assert asked_of(Odd(question(*ASK) + answer)) == RIGHT


@given(st.lists(st.binary(max_size=40), min_size=3, max_size=3))
def test_garbage_never_becomes_a_reading(garbage):
    try:
        registers = asked_of(Odd(*garbage))
    except InstrumentError:
        return
    assert registers == RIGHT


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b"", "no answer in 0.5 s"),
        (question(*ASK), "only the echo"),
        (b"error: not understood\r\n", "another instrument is on this port, it says 'error: not understood'"),
        (b"\x80\x81\x82\x83", "garbled answer 80 81 82 83"),
        (framed(bytes((9, 4, 4, 0, 1, 0, 2))), "device 9 answers where device 7 was asked"),
        (framed(bytes((7, 0x84, 2))), "it has no such register: look at the addresses"),
        (framed(bytes((7, 0x84, 11))), "code 11"),
        (framed(bytes((7, 3, 4, 0, 1, 0, 2))), "answers another question"),
    ],
)
def test_what_is_wrong_is_named(answer, words):
    with pytest.raises(InstrumentError, match=words):
        asked_of(Odd(answer, answer, answer))


def test_the_late_answer_to_one_question_is_not_that_to_the_next():
    old = framed(struct.pack(">BBBHH", 7, 4, 4, 1, 1))
    assert asked_of(Odd(old, late_s=ANSWER_S + 0.01)) == RIGHT


def test_a_wrong_register_of_the_probe_is_refused_by_its_number():
    """Exception codes 1 to 3, as the independent implementation takes them apart."""
    framer = FramerRTU(DecodePDU(False))
    for asked, code in (((4, 50, 2), 2), ((3, 0, 2), 1), ((4, 0, 200), 3)):
        said: list[bytes] = []
        probe = SimulatedProbe(Air(), PROBE)
        probe.transmit = lambda data, _, said=said: said.append(data)
        probe.receive(framed(struct.pack(">BBHH", 7, *asked)))
        _, pdu = framer.handleFrame(said[0], 0, 0)
        assert pdu.exception_code == code


def test_it_is_deaf_to_others_and_to_damaged_questions():
    said: list[bytes] = []
    probe = SimulatedProbe(Air(), PROBE)
    probe.transmit = lambda data, _: said.append(data)
    probe.receive(question(8, RegisterTable.INPUT, 0, 2))
    probe.receive(question(*ASK)[:-1] + b"\x00")
    assert said == []
    probe.receive(b"\x55\x55" + question(*ASK))
    assert len(said) == 1


def test_readings_that_cannot_be_are_refused():
    class Broken(Air):
        temperature_c = 327.6

    async def main():
        await start_air(TYPED, {"probe": wire_to(SimulatedProbe(Broken(), PROBE))})

    with pytest.raises(InstrumentError, match=r"reads 327\.6 °C and 41\.2 %, which cannot be") as told:
        run(main())
    assert "registers" in told.value.check


def test_a_supply_in_its_place_is_silence(loaded_supply):
    with pytest.raises(InstrumentError, match="no answer"):
        asked_of(SimulatedSupply(loaded_supply))


def test_a_lost_wire_ends_the_question_at_once():
    async def main():
        loop, wire = asyncio.get_running_loop(), wire_to(Odd(b""))
        loop.call_later(0.1, wire.unplug)
        with pytest.raises(InstrumentError, match="unplugged"):
            await ModbusMaster(wire, what="probe").read(*ASK)
        assert loop.time() < 0.2

    run(main())


def test_over_a_real_port():
    async def main():
        with on_pty(SimulatedProbe(Air(), PROBE)) as port:
            wire = open_port(port.name, PROBE.baud)
            air = await start_air(TYPED, {"probe": wire})
            reading = await air.read()
            wire.close()
        assert (reading.temperature_c, reading.humidity_percent) == (-7.3, 41.2)
        assert reading.pressure_kpa == TYPED.pressure_kpa

    asyncio.run(main())
