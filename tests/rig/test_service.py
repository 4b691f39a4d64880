"""What the service manager is told: on a real socket, with a real engine that lives or hangs."""

from __future__ import annotations

import asyncio
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rig.cli.main import main
from rig.engine import Engine, running_engines
from rig.service import SOCKET, WATCHDOG, under_service_manager

EVERY_S = 0.05


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], list[str]]]:
    """A service manager that wants three signs of life in 0.15 s; tells what it has heard since it was last asked."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / "notify"))
        listener.setblocking(False)
        monkeypatch.setenv(SOCKET, str(tmp_path / "notify"))
        monkeypatch.setenv(WATCHDOG, str(round(3 * EVERY_S * 1e6)))

        def heard() -> list[str]:
            words = []
            try:
                while True:
                    words.append(listener.recv(100).decode())
            except BlockingIOError:
                return words

        yield heard


def engine(work: Callable[[Engine[Any]], Any]) -> Engine[Any]:
    return Engine(work, asyncio.SelectorEventLoop)


def test_ready_alive_and_stopping_are_told(manager: Callable[[], list[str]]) -> None:
    with under_service_manager():
        assert SOCKET not in os.environ  # not for the programs that this one starts
        time.sleep(5 * EVERY_S)
        ready, *alive = manager()
    assert ready == "READY=1"
    assert set(alive) == {"WATCHDOG=1"}
    assert manager()[-1] == "STOPPING=1"
    time.sleep(3 * EVERY_S)
    assert manager() == []


def test_signs_of_life_do_not_wait_for_a_program_that_still_loads(
    manager: Callable[[], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "rig.engine")
    with under_service_manager():
        time.sleep(3 * EVERY_S)
        assert "WATCHDOG=1" in manager()
        assert "rig.engine" not in sys.modules  # to load it takes seconds on a slow board


def test_while_an_engine_works_it_is_the_engine_that_lives(manager: Callable[[], list[str]]) -> None:
    hang, hanging, go_on = threading.Event(), threading.Event(), threading.Event()

    async def work(_: Engine[Any]) -> None:
        await asyncio.to_thread(hang.wait, 20)
        hanging.set()
        go_on.wait(60)
        await asyncio.sleep(8 * EVERY_S)

    with under_service_manager():
        one = engine(work).start()
        time.sleep(5 * EVERY_S)
        assert manager().count("WATCHDOG=1") >= 2
        hang.set()
        assert hanging.wait(60)
        time.sleep(3 * EVERY_S)  # the last sign may have been under way
        manager()
        time.sleep(6 * EVERY_S)
        assert manager() == []  # the rest of the program lives, and that is not enough
        go_on.set()
        time.sleep(5 * EVERY_S)
        assert "WATCHDOG=1" in manager()
        one.result(60)
    assert running_engines() == ()


def test_an_engine_that_failed_is_no_longer_asked(manager: Callable[[], list[str]]) -> None:
    async def work(_: Engine[Any]) -> None:
        raise ZeroDivisionError

    with under_service_manager():
        with pytest.raises(ZeroDivisionError):
            engine(work).start().result(60)
        time.sleep(4 * EVERY_S)
        manager()
        time.sleep(4 * EVERY_S)
        assert "WATCHDOG=1" in manager()


def test_a_command_tells_the_service_manager_that_started_it(
    manager: Callable[[], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["schema", "order"]) == 0
    words = manager()
    assert (words[0], words[-1]) == ("READY=1", "STOPPING=1")
    assert capsys.readouterr().err == ""


def test_a_manager_that_is_gone_does_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SOCKET, "@nobody listens here")
    with under_service_manager():
        pass
