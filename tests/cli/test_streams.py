"""What a command says where: data, narration, colours, readers who leave, records that fail, terminals."""

from __future__ import annotations

import io
import json
import os
import pty
import re
import select
import shlex
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

import rig.cli.demo
import rig.cli.plan
import rig.cli.progress
import rig.engine
from rig.cli.main import main
from rig.cli.progress import Watch
from rig.events import Asked, Stamped, UnitJudged
from rig.journal import Journal, read_journal
from rig.summary import Summary
from sequences.library import shipped_orders, shipped_types
from tests.cli.shop import Shop
from tests.rig.recorded import change, refuse_serial
from tests.rig.test_session import bench_of, session_of

ROOT = Path(__file__).parents[2]
PROGRAM = [sys.executable, "-c", "import sys; from rig.cli.main import main; sys.exit(main())"]
POINT = "tipper-point-no"
SERIALS = [f"QOC18-00{number}" for number in range(41, 53)]


def program(folder: Path, words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a line of shell in which `teachrig` is the program; the exit code is that of `teachrig`."""
    script = f'teachrig() {{ "${{TEACHRIG[@]}}" "$@"; }}; TEACHRIG=("$@"); {words}; exit ${{PIPESTATUS[0]}}'
    inherited = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    return subprocess.run(
        ["bash", "-c", script, "-", *PROGRAM],
        cwd=ROOT,
        env={**inherited, "TEACHRIG_HOME": str(folder), "TEACHRIG_DATA": str(folder), **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


# -- data and narration ---------------------------------------------------------------------------------------


def test_data_goes_to_standard_output_alone_and_is_never_coloured(tmp_path: Path) -> None:
    run = program(tmp_path, f"teachrig run {POINT} --bench demo --json", FORCE_COLOR="1")
    told = json.loads(run.stdout)
    assert run.returncode == 1
    assert "\x1b" not in run.stdout
    assert run.stderr.splitlines()[0] == "SIMULATED BENCH: no hardware is touched, the units are made up."
    assert [unit["serial"] for unit in told["units"]] == SERIALS
    assert told["order"] == "QOC-0101"
    assert told["trip"] is None
    for unit in told["units"]:
        assert unit["words"]
        assert unit["verdict"] in ("good", "bad", "undecided")


@pytest.mark.parametrize(
    ("environment", "coloured"),
    [({"FORCE_COLOR": "1"}, True), ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, False), ({}, False)],
)
def test_colour_is_only_for_who_wants_it(tmp_path: Path, environment: dict[str, str], coloured: bool) -> None:
    run = program(tmp_path, "teachrig demo --units 1", TERM="xterm-256color", **environment)
    assert ("\x1b[3" in run.stdout) is coloured
    # Never colour alone: a mark and a word go with it.
    assert "+ good" in run.stdout


def test_eighty_columns_are_enough_for_every_row(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = shop.run("demo")
    lines = out.splitlines()
    table = lines[: next(number for number, line in enumerate(lines) if not line.strip())]
    assert all(len(line.rstrip()) <= 80 for line in table)
    rows = [line for line in table if re.match(r"QOC\d\d-\d+ ", line)]
    assert len(rows) == 18, "a row is never broken"
    assert len(table) == 2 + 18


def test_a_bench_with_too_few_units_is_said_before(shop: Shop, tmp_path: Path) -> None:
    code, out, err = shop.run("run", "hopper-window-no", "--bench", "welded")
    assert code == 3
    assert "note: the simulated bench holds 4 units, the order wants 6: some will be left" in err

    two = tmp_path / "two.toml"
    two.write_text('title = "x"\n[[unit]]\ncount = 2\n')
    code, out, _ = shop.run("run", POINT, "--bench", str(two))
    assert code == 1, "every unit was good, but the order is not done"
    assert "2 good, 0 bad, 0 undecided, 10 not begun" in out
    code, out, _ = shop.run("run", POINT, "--bench", "rail-order")
    assert code == 1
    assert "2 not begun; ended early: no answer within 600 s to: Put unit QOC18-0051 into nest A." in out
    assert "QOC18-0051 " not in out.partition("ended early")[0], "a unit that was not begun has no row"


def test_a_demo_that_misjudges_a_unit_says_which_and_ends_with_1(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    judged = rig.cli.demo.as_expected
    monkeypatch.setattr(
        rig.cli.demo, "as_expected", lambda fault, unit: unit.serial != "QOC18-0042" and judged(fault, unit)
    )
    code, out, _ = shop.run("demo")
    assert code == 1
    assert out.splitlines()[-1] == "18 units, 17 judged as they deserve; not: QOC18-0042"


# -- bad input and faults -------------------------------------------------------------------------------------


def test_a_bench_that_does_not_fit_its_rig_is_bad_input(shop: Shop, tmp_path: Path) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text('title = "x"\n[[unit]]\n[[fault]]\nkind = "output-open"\nnest = "Z"\n')
    code, out, err = shop.run("run", POINT, "--bench", str(bench))
    assert (code, out) == (2, "")
    assert "fault#1.nest: the rig has no such nest (given Z); allowed: A" in err


def test_a_kind_that_no_bench_knows_is_bad_input(shop: Shop, tmp_path: Path) -> None:
    text = shipped_types()["barrel-18-rail"].read_text()
    (tmp_path / "home" / "types").mkdir()
    (tmp_path / "home" / "types" / "own.toml").write_text(text.replace('"barrel-18-rail"', '"own"', 1))
    order = shipped_orders()[POINT].read_text()
    path = tmp_path / "order.toml"
    path.write_text(order.replace('"barrel-18-rail"', '"own"'))
    code, out, err = shop.run("run", str(path))
    assert (code, out) == (2, "")
    assert "no simulated kind is named own" in err


@pytest.mark.parametrize("option", [["--bench", "sound"], ["--real-time"]])
def test_a_board_is_not_told_what_a_simulated_bench_holds(shop: Shop, option: list[str]) -> None:
    code, out, err = shop.run("run", POINT, "--rig", "single-nest", *option)
    assert (code, out) == (2, "")
    assert "belong to the simulated bench; single-nest is a board" in err
    assert "allowed: --rig simulated, or leave them out" in err


def test_a_machine_without_gpio_says_so_and_simulates_nothing(shop: Shop, tmp_path: Path) -> None:
    code, out, err = shop.run("run", POINT, "--rig", "single-nest")
    assert (code, out) == (3, "")
    (message,) = [line for line in err.splitlines() if line.startswith("teachrig: ")]
    assert "no GPIO to drive" in message
    assert "or name the simulated bench with --rig simulated" in message
    assert list(read_journal(tmp_path / "data" / "journal.sqlite3")) == []


@pytest.mark.parametrize("command", [["run", POINT], ["demo", "--units", "3"]])
def test_a_disk_that_fails_ends_the_work_with_3_and_one_message(
    shop: Shop, tmp_path: Path, command: list[str]
) -> None:
    path = tmp_path / "data" / "journal.sqlite3"
    Journal(path, "before").close()
    refuse_serial(path, SERIALS[0] if command[0] == "demo" else SERIALS[2])
    code, out, err = shop.run(*command)
    assert (code, out) == (3, "")
    (message,) = [line for line in err.splitlines() if line.startswith("teachrig: ")]
    assert message == (
        f"teachrig: {path}: the record could not be written (disk is gone); free or mend the disk, then start again"
    )
    judged = [one.serial for one in read_journal(path) if isinstance(one.event, UnitJudged)]
    assert judged == ([] if command[0] == "demo" else SERIALS[:2])


def test_another_programs_file_is_left_alone(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "data" / "journal.sqlite3"
    path.parent.mkdir()
    path.touch()
    change(path, "CREATE TABLE theirs (x)")
    before = path.read_bytes()
    code, out, err = shop.run("run", POINT)
    assert (code, out) == (3, "")
    assert "not a journal but another program's file; choose another file" in err
    assert path.read_bytes() == before


@pytest.mark.parametrize("where", ["/proc/nowhere", "/dev/null", "/dev/full"])
def test_a_folder_that_takes_no_record_is_one_message(shop: Shop, where: str) -> None:
    code, out, err = shop.run("run", POINT, "--data", where)
    assert (code, out) == (3, "")
    (message,) = [line for line in err.splitlines() if line.startswith("teachrig: ")]
    assert f"{where}/journal.sqlite3: cannot keep the record here" in message
    assert "choose another folder" in message


def test_a_fault_of_the_program_is_no_verdict_on_units(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: object) -> int:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(rig.cli.plan, "command", broken)
    code, out, err = shop.run("plan", POINT)
    assert (code, out) == (70, "")
    assert "teachrig: a fault of the program (ZeroDivisionError('a bug')); everything is off." in err
    assert "Traceback" in err, "for whoever has to mend it"


# -- readers who leave ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (f"teachrig plan {POINT} | head -1", 0),
        (f"teachrig plan {POINT} | true", 0),
        (f"teachrig run {POINT} | true", 0),
        (f"teachrig run {POINT} --bench demo | true", 1),
        (f"teachrig run {POINT} --bench welded --json | true", 3),
        (f"teachrig run {POINT} --bench welded 2>&1 | true", 3),
        ("teachrig demo --units 3 | head -2", 0),
        ("teachrig chart --rules | true", 0),
        (f"teachrig validate {ROOT}/pyproject.toml 2>&1 | true", 2),
        (f"teachrig validate {shipped_orders()[POINT]} | true", 0),
    ],
)
def test_a_reader_who_leaves_changes_neither_work_nor_exit_code(
    tmp_path: Path, words: str, code: int
) -> None:
    run = program(tmp_path, words)
    assert run.returncode == code, run.stderr
    assert "Traceback" not in run.stderr
    assert "Exception ignored" not in run.stderr
    if "run" in words:
        events = list(read_journal(tmp_path / "journal.sqlite3"))
        assert events[-1].event.kind == "order-ended"


@pytest.mark.parametrize("words", [f"plan {POINT}", f"run {POINT} --json", "demo --units 3"])
def test_a_full_disk_under_the_output_is_one_message(tmp_path: Path, words: str) -> None:
    run = program(tmp_path, f"teachrig {words} > /dev/full")
    assert run.returncode == 3
    assert run.stderr.splitlines()[-1] == (
        "teachrig: the output cannot be written (No space left on device); make room, or write it elsewhere"
    )
    assert "Traceback" not in run.stderr


# -- a person at a terminal -----------------------------------------------------------------------------------


class Terminal:
    """A program on a terminal of its own, and the person before it."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            os.chdir(ROOT)
            os.environ |= {"TEACHRIG_HOME": str(folder), "TEACHRIG_DATA": str(folder), "TERM": "xterm"}
            os.execv(sys.executable, [*PROGRAM, *words])
        termios.tcsetwinsize(self._fd, (24, 80))
        self.text = ""

    def read_until(self, words: str, within_s: float = 20.0) -> None:
        end_s = time.monotonic() + within_s
        while words not in self.text:
            assert time.monotonic() < end_s, f"{words!r} did not come: {self.text[-500:]!r}"
            self._read()

    def press(self, keys: str) -> None:
        os.write(self._fd, keys.encode())

    def end(self) -> int:
        with suppress(OSError):  # the terminal is gone with the program
            while self._read():
                pass
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])

    def hang_up(self) -> int:
        """Close the terminal, as a lost connection does."""
        os.close(self._fd)
        self._fd = os.open(os.devnull, os.O_RDWR)
        return self.end()

    def _read(self) -> bool:
        """Take in what is there; false when nothing will ever come."""
        if not select.select([self._fd], [], [], 0.2)[0]:
            return True
        data = os.read(self._fd, 65536)
        self.text += data.decode()
        return bool(data)

    def close(self) -> None:
        with suppress(ProcessLookupError, ChildProcessError):
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        os.close(self._fd)


@pytest.fixture
def silent_bench(tmp_path: Path) -> Path:
    """Nobody is there but who sits at the terminal, and they put nothing into the nest."""
    path = tmp_path / "silent.toml"
    path.write_text('title = "x"\nendless = true\n[[unit]]\n[[fault]]\nkind = "person-silent"\n')
    return path


@pytest.fixture
def terminal(tmp_path: Path, silent_bench: Path) -> Iterator[Terminal]:
    opened_terminal = Terminal(tmp_path, "run", POINT, "--real-time", "--bench", str(silent_bench))
    yield opened_terminal
    opened_terminal.close()


def test_enter_says_done_and_an_empty_nest_is_no_bad_unit(terminal: Terminal, tmp_path: Path) -> None:
    terminal.read_until("> Put unit QOC18-0041 into nest A.")
    terminal.press("\n")
    time.sleep(0.3)
    assert "undecided" not in terminal.text, "too quick for anybody who has read it"
    time.sleep(0.3)
    terminal.press("\n")
    terminal.read_until("QOC18-0041 ? undecided: unit draws 0 mA: unit dead, or not plugged in")
    terminal.read_until("> Take unit QOC18-0041 out of nest A and put it aside: undecided.")
    time.sleep(0.6)
    terminal.press("\n\n")  # pressed twice
    terminal.read_until("> Put unit QOC18-0042 into nest A.")
    time.sleep(0.6)
    terminal.press("\x03")
    assert terminal.end() == 130
    assert "stopped by SIGINT" in terminal.text
    assert "0 good, 0 bad, 1 undecided, 11 not begun" in terminal.text
    asked = [one for one in read_journal(tmp_path / "journal.sqlite3") if isinstance(one.event, Asked)]
    assert len(asked) == 3


def test_a_number_is_typed_with_point_or_comma_and_nonsense_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[float] = []
    monkeypatch.setattr(rig.engine.Engine, "say_number", lambda _, number: told.append(number))
    made: list[str] = []
    monkeypatch.setattr(rig.engine.Engine, "say_done", lambda _: made.append("done"))
    monkeypatch.setattr(rig.cli.progress, "narrate", made.append)
    session = session_of(bench_of({}), None)
    watch, engine = Watch(session, Summary(), live=False), rig.engine.Engine(lambda _: None)  # type: ignore[arg-type, return-value, var-annotated]
    watch._in_real_time = True
    for number, (kind, typed) in enumerate(
        (("read-scale", "398,5\n"), ("read-scale", "no\n"), ("slide-in", "\n"))
    ):
        watch._take(Stamped(number, 0, "", "", "", Asked(kind, "please", None)))
        watch._answer(engine, typed)
    assert told == [398.5]
    assert made == [
        "> please",
        "> please",
        "'no' is not a number; type it like 398.5 or 398,5",
        "> please",
        "done",
    ]


def test_a_terminal_that_is_closed_ends_the_order_in_order(terminal: Terminal, tmp_path: Path) -> None:
    terminal.read_until("> Put unit QOC18-0041 into nest A.")
    assert terminal.hang_up() == 129
    events = [one.event for one in read_journal(tmp_path / "journal.sqlite3")]
    assert [one.kind for one in events[-2:]] == ["bench-tripped", "order-ended"]


def test_the_live_line_keeps_to_the_terminal_and_leaves_nothing_behind(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, "demo", "--units", "3")
    try:
        assert terminal.end() == 0
    finally:
        terminal.close()
    shown = [part.split("\r\n")[0] for part in terminal.text.split("\r\x1b[2K")[1:]]
    assert any(line.startswith("unit 1 of 1  QOC18-0041  ") for line in shown)
    assert all(len(line) < 80 for line in shown)
    # The table begins on a line of its own, cleared.
    assert "\r\x1b[2K\x1b[1mdemo batch" in terminal.text or "\r\x1b[2Kdemo batch" in terminal.text


def test_words_on_a_terminal_are_not_cut_in_two_and_names_stay_whole(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, "run", "tiper-point-no")
    try:
        assert terminal.end() == 2
    finally:
        terminal.close()
    lines = terminal.text.splitlines()
    assert all(len(line) < 80 for line in lines)
    assert len(lines) > 1
    for name in shipped_orders():
        assert any(name in line for line in lines), name


# -- help -----------------------------------------------------------------------------------------------------


def helped(shop: Shop, *words: str) -> str:
    with pytest.raises(SystemExit) as end:
        shop.run(*words, "--help")
    assert end.value.code == 0
    return shop.captured.readouterr().out


def test_help_fits_a_terminal_and_every_example_in_it_works(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    commands = re.findall(r"^    ([a-z]+) ", helped(shop), re.MULTILINE)
    assert {"demo", "run", "plan", "validate"} <= set(commands)
    for command in commands:
        text = helped(shop, command)
        assert all(len(line) <= 80 for line in text.splitlines())
        typed = text.partition("\nexample:\n")[2].replace(" \\\n", " ")
        examples = re.findall(r"^  (?:[A-Z_]+=\S+ )?teachrig (.+)$", typed, re.MULTILINE)
        assert len(examples) == len(typed.splitlines())
        assert examples
        assert all(example.startswith(command) for example in examples)
        # Questions, files of yours, a terminal; a board's lines; a unit in doubt, a stick, a shop, a long study.
        asks, board = ("new", "validate", "bench", "commission"), ("rig", "release", "doctor")
        if command not in (*asks, *board, "decide", "backup", "restore", "forward", "checkunit", "risk"):
            code, _, err = shop.run(*shlex.split(examples[0].partition(" > ")[0]))
            assert code in (0, 1), err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "teachrig: missing: COMMAND"),
        (("unit",), "teachrig unit: missing: SERIAL"),
        (("ordrs",), "teachrig: COMMAND: given 'ordrs', did you mean orders?"),
        (("units", "--verdict", "x"), "teachrig units: --verdict: given 'x'; allowed: good, bad, undecided"),
        (("tally", "--limits"), "teachrig: not known here: --limits"),
    ],
)
def test_a_slip_in_the_words_is_answered_in_one_line(shop: Shop, words: tuple[str, ...], told: str) -> None:
    with pytest.raises(SystemExit) as end:
        shop.run(*words)
    err = shop.captured.readouterr().err
    assert (end.value.code, err.splitlines()[0]) == (2, told)
    assert "--help says what it takes" in err.splitlines()[1]


def test_the_cautions_are_on_the_first_screen_of_help(shop: Shop) -> None:
    text = " ".join(helped(shop).split())
    for caution in (
        "PELV only",
        "Never on a sensor still wired to a machine",
        "The rig is not a safety function.",
    ):
        assert caution in text


def test_a_locale_without_a_letter_ends_no_work_and_costs_json_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = tmp_path / "order.toml"
    text = (shipped_orders()["cold-store-need"]).read_text(encoding="utf-8")
    order.write_text(text.replace("Quillmere Orchard Co-op", "Obstlager W\u00fcrzen"), encoding="utf-8")
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path))
    told = []
    for more in ((), ("--json",)):
        kept = io.BytesIO()
        monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(kept, encoding="ascii"))
        assert main(["plan", str(order), *more]) == 0
        told.append(kept.getvalue().decode("ascii"))
    assert "for Obstlager W?rzen" in told[0]
    assert json.loads(told[1])["customer"] == "Obstlager W\u00fcrzen"
