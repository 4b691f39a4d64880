"""A real serial port, as far as a pseudo-terminal is one: bytes pass, and a lost port is told at once."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from hal.errors import BenchInUse, InstrumentError
from hal.instruments.lasting import open_wires
from hal.instruments.wire import PortWire, open_port
from tests.hal.ptyport import PtyPort
from wiring.profile import RigProfile, load_profile, shipped_profiles


@pytest.fixture
def pty() -> Iterator[PtyPort]:
    with PtyPort() as port:
        yield port


async def until(condition, within_s: float = 2.0) -> None:
    async with asyncio.timeout(within_s):
        while not condition():  # noqa: ASYNC110 - what is waited for comes from a descriptor
            await asyncio.sleep(0.001)


def listening(pty: PtyPort) -> tuple[PortWire, bytearray, list[InstrumentError]]:
    wire = open_port(pty.name, 115200)
    heard, lost = bytearray(), []
    wire.on_lost.append(lost.append)
    wire.set_receiver(heard.extend)
    return wire, heard, lost


def test_bytes_pass_both_ways_unchanged(pty):
    every_byte = bytes(range(256))

    async def main():
        wire, heard, _ = listening(pty)
        wire.write(every_byte)
        assert os.read(pty.far_end, 4096) == every_byte
        os.write(pty.far_end, every_byte)
        await until(lambda: len(heard) == 256)
        wire.close()
        return bytes(heard)

    assert asyncio.run(main()) == every_byte


def test_an_unplugged_port_is_told_at_once_and_once(pty):
    async def main():
        wire, _, lost = listening(pty)
        pty.unplug()
        started = time.perf_counter()
        await until(lambda: lost)
        took_s = time.perf_counter() - started
        with pytest.raises(InstrumentError, match="is lost"):
            wire.write(b"x")
        await asyncio.sleep(0.05)
        wire.close()
        return took_s, lost

    took_s, lost = asyncio.run(main())
    assert took_s < 5.0
    assert len(lost) == 1
    assert pty.name in str(lost[0])


def test_writing_to_an_unplugged_port_fails_before_the_loop_turns(pty):
    async def main():
        wire, _, lost = listening(pty)
        pty.unplug()
        with pytest.raises(InstrumentError, match=pty.name):
            wire.write(b"OUTP OFF\n")
        assert len(lost) == 1

    asyncio.run(main())


@pytest.mark.parametrize(
    "fault",
    [
        OSError(errno.EIO, "Input/output error"),
        termios.error(5, "Input/output error"),
        TypeError("no descriptor"),
    ],
    ids=["OSError", "termios.error", "TypeError"],
)
@pytest.mark.parametrize("call", ["read", "write"])
def test_whatever_a_dying_port_raises_is_one_error(pty, monkeypatch, fault, call):
    """A pulled adapter raises any of these, depending on its driver and the moment."""

    async def main():
        wire, _, lost = listening(pty)
        os.write(pty.far_end, b"x")
        monkeypatch.setattr(os, call, _failing_on(wire, getattr(os, call), fault))
        if call == "write":
            with pytest.raises(InstrumentError):
                wire.write(b"x")
        await until(lambda: lost)
        assert len(lost) == 1
        assert f"port {pty.name}" in str(lost[0])

    asyncio.run(main())


def _failing_on(wire: PortWire, call: Callable, fault: Exception) -> Callable:
    """The loop reads descriptors of its own: only this wire's fails."""
    mine = wire._port.fileno()

    def call_or_fail(descriptor: int, what: object) -> object:
        if descriptor == mine:
            raise fault
        return call(descriptor, what)

    return call_or_fail


@pytest.mark.parametrize("size", [1, 1000], ids=["byte by byte", "a thousand at once"])
def test_a_port_that_takes_nothing_more_is_an_error_and_no_wait(pty, size):
    async def main():
        wire, _, lost = listening(pty)
        started = time.perf_counter()
        for _ in range(1_000_000 // size):
            if lost:
                break
            with contextlib.suppress(InstrumentError):
                wire.write(b"x" * size)
        assert time.perf_counter() - started < 20.0
        assert "takes no more characters" in str(lost[0])

    asyncio.run(main())


def test_a_closed_port_is_not_called_lost_and_refuses_bytes(pty):
    async def main():
        wire, _, lost = listening(pty)
        wire.close()
        wire.close()
        with pytest.raises(InstrumentError, match="closed"):
            wire.write(b"x")
        with pytest.raises(InstrumentError, match="closed"):
            wire.set_receiver(print)
        await asyncio.sleep(0)
        assert lost == []

    asyncio.run(main())


def test_closing_gives_the_port_back(pty):
    async def main():
        before = len(os.listdir("/proc/self/fd"))
        wire, _, _ = listening(pty)
        wire.close()
        assert len(os.listdir("/proc/self/fd")) == before
        wire, heard, _ = listening(pty)
        os.write(pty.far_end, b"again")
        await until(lambda: heard == b"again")
        wire.close()

    asyncio.run(main())


def test_a_port_of_another_program_is_named_as_in_use(pty):
    wire = open_port(pty.name, 9600)
    with pytest.raises(BenchInUse, match="in use by another program"):
        open_port(pty.name, 9600)
    wire.close()


def test_a_missing_port_tells_which_ports_there_are(tmp_path: Path):
    with pytest.raises(InstrumentError, match="there is no port") as caught:
        open_port(str(tmp_path / "supply"), 9600)
    assert "Ports with a lasting name here" in caught.value.check


def test_a_file_is_not_a_port(tmp_path: Path):
    file = tmp_path / "notes.txt"
    file.write_text("not a port")
    with pytest.raises(InstrumentError, match="cannot be opened"):
        open_port(str(file), 9600)


@pytest.mark.parametrize("name", ["/dev/ttyUSB0", "/dev/ttyACM12"])
def test_names_in_the_order_of_plugging_in_are_refused(name):
    with pytest.raises(InstrumentError, match="another instrument after the next start") as caught:
        open_port(name, 9600)
    assert "/dev/serial/by-path" in caught.value.check


def rig_with(supply: str | None, stage: str | None) -> RigProfile:
    profile = load_profile(shipped_profiles()["simulated"])
    return profile.model_copy(
        update={
            "supply": profile.supply.model_copy(update={"port": supply}),
            "target": profile.target.model_copy(update={"port": stage}),
        }
    )


def test_every_port_of_the_profile_is_opened(pty):
    with PtyPort() as other:
        wires = open_wires(rig_with(pty.name, other.name))
        assert set(wires) == {pty.name, other.name}
        for wire in wires.values():
            wire.close()


def test_one_missing_port_leaves_none_open(pty, tmp_path: Path):
    with pytest.raises(InstrumentError, match="there is no port"):
        open_wires(rig_with(pty.name, str(tmp_path / "stage")))
    open_port(pty.name, 9600).close()


def test_a_rig_without_serial_instruments_opens_nothing():
    assert open_wires(rig_with(None, None)) == {}
