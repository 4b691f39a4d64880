"""`teachrig doctor`: what a rig lacks on this computer."""

from __future__ import annotations

from datetime import datetime, tzinfo
from pathlib import Path

import pytest

from rig.library import Section
from tests.cli.shop import Shop, opened
from tests.cli.test_rig import drive, hold
from tests.hal.board.boards import board
from tests.hal.board.kernel import Kernel
from wiring.profile import find_profile

BARE = "\n".join(
    line
    for line in find_profile("single-nest").read_text(encoding="utf-8").splitlines()
    if not line.startswith("port =")
)


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    shop = opened(tmp_path, monkeypatch, capsys)
    shop.keep(Section.RIGS, "bare", BARE.replace('"scpi"', '"fixed"').replace('"single-nest"', '"bare"'))
    return shop


def found(shop: Shop, rig: str) -> tuple[int, list[tuple[str, str, str]]]:
    code, told = shop.run_json("doctor", "--rig", rig, "--data", str(shop.home / "records"))
    return code, [(one["what"], one["health"], one["words"]) for one in told]


def test_a_simulated_rig_needs_nothing_of_a_board(shop: Shop) -> None:
    code, out, err = shop.run("doctor", "--data", str(shop.home))
    assert code == 0
    assert "rig simulated is simulated: it needs no GPIO and no port" in out
    assert "rig simulated: 0 to mend" in err


def test_a_clock_that_has_gone_back_since_the_last_entry_is_told(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = shop.home / "records"
    assert shop.run("selfcheck", "--data", str(data))[0] == 0
    told = {what: words for what, health, words in found(shop, "simulated")[1] if health != "bad"}
    assert told["record"].endswith("can be read")

    class Earlier(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Earlier:
            return cls(2026, 1, 4, 7, 0, tzinfo=tz)

    monkeypatch.setattr("rig.cli.doctor.datetime", Earlier)
    code, lines = found(shop, "simulated")
    assert code == 3
    assert [words for what, health, words in lines if health == "bad"] == [
        "2026-01-04 07:00 UTC is before the newest entry of the record, 2026-01-05 07:00 UTC"
    ]


def test_a_record_that_cannot_be_read_is_told(shop: Shop) -> None:
    (shop.home / "records").mkdir()
    (shop.home / "records" / "journal.sqlite3").write_bytes(b"no database at all" * 1000)
    code, lines = found(shop, "simulated")
    assert code == 3
    assert [what for what, health, _ in lines if health == "bad"] == ["record"]


def test_a_board_that_has_everything_is_sound(shop: Shop) -> None:
    with board(Kernel()):
        code, told = found(shop, "bare")
    assert code == 0
    assert ("GPIO", "good", "gpiochip0 [board-pins] with 28 lines") in told
    assert ("lines", "good", "14 of 14 found and free") in told


def test_a_machine_without_gpio_is_told_with_what_to_do(shop: Shop) -> None:
    with board(Kernel({})):
        code, out, _ = shop.run("doctor", "--rig", "bare", "--data", str(shop.home))
    assert code == 3
    assert "x GPIO        this machine has no GPIO to drive" in out
    assert "-> " in out


def test_a_line_left_on_and_a_line_held_are_told(shop: Shop) -> None:
    with board(Kernel(keeps_outputs=True)) as kernel:
        drive(kernel, "GPIO16", 1)
        hold(kernel, "GPIO23", "blinker")
        code, told = found(shop, "bare")
        assert kernel.line("GPIO16").level == 1, "looking changes nothing"
    assert code == 3
    assert ("line", "bad", "GPIO16 (nest A supply) was left on") in told
    assert ("line", "note", "GPIO23 (nest A teach at plus) is held by blinker") in told
    assert ("kernel", "note", "this kernel keeps outputs driven after a program dies") in told


@pytest.mark.parametrize(
    ("port", "health", "words"),
    [
        ("/dev/null", "good", ""),
        ("/dev/nowhere", "bad", "No such file"),
        ("/etc/passwd", "bad", "is no serial port"),
    ],
)
def test_ports_are_looked_at(shop: Shop, port: str, health: str, words: str) -> None:
    text = find_profile("single-nest").read_text(encoding="utf-8").replace('"single-nest"', '"ported"')
    shop.keep(Section.RIGS, "ported", text.replace("/dev/serial/by-id/bench-supply", port))
    with board(Kernel()):
        _, told = found(shop, "ported")
    (told_of,) = (one for one in told if one[0] == "port")
    assert told_of[1] == health
    assert port in told_of[2]
    assert words in told_of[2]
