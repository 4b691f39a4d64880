"""What can befall a data file, as tables and checks that the tests of every kind of data file share.

`DataFileContract` runs all breakages of a whole file (missing, a directory, empty, not TOML, ...) on one kind of
file; a test module makes it its own with three lines:

    class TestOrderFile(DataFileContract):
        good_text = ORDER.read_text(encoding="utf-8")
        load = staticmethod(load_order)

`Slip` is one wrong edit of a good file and what the message must say about it; `check_slip` tries it.
"""

from __future__ import annotations

import os
import re
import socket
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from wiring.tomlfile import DataFileError, Problem

PATIENCE_S = 10.0
NOBODY = 65534


@dataclass(frozen=True)
class Breakage:
    """One way in which a whole file is no good; `says` are patterns that the message must hold."""

    name: str
    make: Callable[[Path, str], None]
    says: tuple[str, ...]
    line: int | None = None


def _bytes(content: bytes) -> Callable[[Path, str], None]:
    return lambda path, _: _ignored(path.write_bytes(content))


def _edited(edit: Callable[[str], str], encoding: str = "utf-8") -> Callable[[Path, str], None]:
    return lambda path, good: _ignored(path.write_bytes(edit(good).encode(encoding)))


def _ignored(_: object) -> None:
    return None


def _socket(path: Path, _: str) -> None:
    with socket.socket(socket.AF_UNIX) as server:
        here = os.open(path.parent, os.O_RDONLY)
        try:  # the name of a socket is short, the test's directory is not
            server.bind(f"/proc/self/fd/{here}/{path.name}")
        finally:
            os.close(here)


def _cut_in_a_string(good: str) -> str:
    return good[: good.rindex('"')]


BREAKAGES = (
    Breakage("missing", lambda _, __: None, ("no such file", r"allowed: the path of a \w+")),
    Breakage("directory", lambda path, _: path.mkdir(), ("is a directory", "allowed: the path of")),
    Breakage(
        "below a file",
        lambda path, good: path.symlink_to(_made(path.with_suffix(".x"), good) / "inner.toml"),
        ("cannot be read: Not a directory",),
    ),
    Breakage("link to itself", lambda path, _: path.symlink_to(path), ("cannot be read: Too many levels",)),
    Breakage("link to nothing", lambda path, _: path.symlink_to("nowhere"), ("no such file",)),
    Breakage("pipe", lambda path, _: os.mkfifo(path), ("device or a pipe", "allowed: the path of")),
    Breakage("socket", _socket, ("device or a pipe",)),
    Breakage("device", lambda path, _: path.symlink_to("/dev/zero"), ("device or a pipe",)),
    Breakage(
        "ten megabytes",
        _edited(lambda good: good + "# filler\n" * 1_200_000),
        ("is too large", r"given \d{8} bytes", "allowed: up to 1000000 bytes"),
    ),
    Breakage(
        "a hundred gigabytes",
        lambda path, good: os.truncate(_made(path, good), 100_000_000_000),
        ("is too large", "given 100000000000 bytes"),
    ),
    Breakage("empty", _bytes(b""), ("is empty", r"allowed: a [\w ]+ with \w+")),
    Breakage(
        "only comments", _bytes(b"\n# nothing here yet\n\n"), ("is empty", r"allowed: a [\w ]+ with \w+")
    ),
    Breakage("zeros after a power cut", _bytes(bytes(512)), ("is not TOML",), line=1),
    Breakage(
        "Latin-1",
        _edited(lambda good: good + "# K\u00f6rper\n", "latin-1"),
        ("is not UTF-8 text", "given byte 0xf6", "allowed: text saved as UTF-8"),
        line=-1,
    ),
    Breakage("UTF-16", _edited(lambda good: good, "utf-16"), ("is not UTF-8 text", "given byte 0xf"), line=1),
    Breakage(
        "picture", _bytes(b"\x89PNG\r\n\x1a\n" + bytes(64)), ("is not UTF-8", "given byte 0x89"), line=1
    ),
    Breakage(
        "JSON", _bytes(b'{\n  "name": "x"\n}\n'), ("is not TOML", r"given \{", "allowed: key = value"), line=1
    ),
    Breakage("prose", _bytes(b"the bench by the window\n"), ("is not TOML", "given the bench"), line=1),
    Breakage("cut off in a string", _edited(_cut_in_a_string), ("is not TOML|cannot be read",), line=-1),
    Breakage(
        "merge conflict",
        _edited(lambda good: good + "<<<<<<< HEAD\n"),
        ("is not TOML", "given <<<<<<< HEAD", "allowed: key = value"),
        line=-1,
    ),
    Breakage(
        "key twice",
        _bytes(b"a = 1\na = 2\n"),
        ("has a value already", "given a = 2", "each key once"),
        line=2,
    ),
    Breakage(
        "table twice",
        _bytes(b"[a]\n[a]\n"),
        ("is there already", r"given \[a\]", "each .table. once"),
        line=2,
    ),
    Breakage(
        "word without quotes",
        _bytes(b"# x\na = yes\n"),
        ("cannot be read", "given a = yes", "text in quotes"),
        2,
    ),
    Breakage(
        "decimal comma", _bytes(b"a = 0,5\n"), ("decimal comma", "given a = 0,5", "decimal point"), line=1
    ),
    Breakage(
        "endless number",
        _bytes(b"a = " + b"1" * 9000),
        ("endless number", "allowed: numbers of a few digits"),
    ),
    Breakage(
        "nested a hundred deep", _bytes(b"a = " + b"[" * 100 + b"]" * 100), ("nested too deeply", "32 levels")
    ),
    Breakage("nested 50000 deep", _bytes(b"a = " + b"[" * 50000 + b"]" * 50000), ("nested too deeply",)),
    Breakage("dotted a hundred deep", _bytes(b"a." * 100 + b"a = 1"), ("nested too deeply", "32 levels")),
    Breakage("bell and escapes", _bytes(b"a = \x07\x1b[2J\n"), (r"given a = \\x07\\x1b\[2J",), line=1),
)


def _made(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


class DataFileContract:
    """What every kind of data file owes its user, whatever has become of the file."""

    good_text: str
    load: Callable[[Path], Any]

    @pytest.mark.parametrize("breakage", BREAKAGES, ids=lambda breakage: breakage.name)
    def test_refuses_with_one_clear_message(self, breakage: Breakage, tmp_path: Path) -> None:
        path = tmp_path / "broken.toml"
        breakage.make(path, self.good_text)
        problem = only_problem(lambda: self.load(path))
        text = str(problem)
        for pattern in breakage.says:
            assert re.search(pattern, text), f"{pattern!r} is not in {text!r}"
        assert problem.file == str(path)
        assert problem.line == _expected_line(breakage, path)
        assert text.isprintable()
        assert len(text) < 600

    def test_takes_the_good_file_as_it_is_written_elsewhere(self, tmp_path: Path) -> None:
        path = _made(tmp_path / "good.toml", self.good_text)
        loaded = self.load(path)
        path.write_bytes(self.good_text.replace("\n", "\r\n").encode("utf-8-sig"))
        assert self.load(path) == loaded

    def test_says_that_the_user_may_not_read_it(self) -> None:
        with tempfile.TemporaryDirectory() as folder:
            os.chmod(folder, 0o755)
            path = _made(Path(folder) / "locked.toml", self.good_text)
            path.chmod(0)
            with unprivileged():
                problem = only_problem(lambda: self.load(path))
        assert "this user may not read it" in problem.message
        assert problem.file == str(path)
        assert problem.allowed.startswith("a readable ")

    def test_keeps_an_ill_named_file_from_the_terminal(self, tmp_path: Path) -> None:
        problem = only_problem(lambda: self.load(tmp_path / "a\x1b[2J\nb\udcff.toml"))
        assert str(problem).isprintable()
        assert "a\\x1b[2J\\nb\\udcff.toml" in problem.file

    def test_refuses_a_name_that_no_file_can_have(self, tmp_path: Path) -> None:
        assert "cannot be read" in only_problem(lambda: self.load(tmp_path / "a\0b")).message
        assert "cannot be read" in only_problem(lambda: self.load(tmp_path / ("a" * 5000))).message

    def test_names_an_unknown_key_and_its_line(self, tmp_path: Path) -> None:
        path = _made(tmp_path / "extra.toml", f"unheard_of = 7\n{self.good_text}")
        problem = only_problem(lambda: self.load(path))
        assert (problem.line, problem.key, problem.given) == (1, "unheard_of", "7")
        assert "unknown key" in problem.message
        assert problem.allowed


def _expected_line(breakage: Breakage, path: Path) -> int | None:
    if breakage.line == -1:
        return path.read_bytes().rstrip().count(b"\n") + 1
    return breakage.line


def problems_of(load: Callable[[], object]) -> tuple[Problem, ...]:
    """Return what `load` complains about; fails when it accepts, raises something else or hangs."""
    outcome: list[BaseException | object] = []

    def attempt() -> None:
        try:
            outcome.append(load())
        except BaseException as error:
            outcome.append(error)

    thread = threading.Thread(target=attempt, daemon=True)
    thread.start()
    thread.join(PATIENCE_S)
    assert outcome, f"no answer within {PATIENCE_S} s"
    assert isinstance(outcome[0], DataFileError), f"not refused: {outcome[0]!r}"
    assert str(outcome[0]).splitlines() == [str(problem) for problem in outcome[0].problems]
    return outcome[0].problems


def only_problem(load: Callable[[], object]) -> Problem:
    """Return the single thing that `load` complains about."""
    problems = problems_of(load)
    assert len(problems) == 1, "\n".join(map(str, problems))
    return problems[0]


@contextmanager
def unprivileged() -> Iterator[None]:
    """Run as a user whom file permissions bind; root is not bound by them."""
    if os.geteuid() != 0:
        yield
        return
    try:
        os.seteuid(NOBODY)
    except PermissionError:
        pytest.skip("runs as root and may not drop that: file permissions cannot be tried")
    try:
        yield
    finally:
        os.seteuid(0)


@dataclass(frozen=True)
class Slip:
    """One wrong edit of a good file: `old` becomes `new`, and one problem must say this about it.

    The problem must be on the line of `at` in the edited file: the first line of `new` unless given, no line at
    all when None.
    """

    name: str
    old: str
    new: str
    key: str
    message: str
    given: str
    allowed: str
    at: str | None = ""

    def edited(self, good_text: str) -> str:
        """Return the good text with the slip made in its first fitting place."""
        assert self.old in good_text, f"{self.old!r} is not in the good file"
        return good_text.replace(self.old, self.new, 1)

    def line(self, good_text: str) -> int | None:
        """Return the line on which the problem must be reported."""
        if self.at is None:
            return None
        text = self.edited(good_text)
        place = text.index(self.at) if self.at else good_text.index(self.old)
        return text.count("\n", 0, place) + 1


def check_slip(slip: Slip, good_text: str, parse: Callable[[str, str], object]) -> None:
    """Assert that `parse(text, file_name)` reports the slip: file, line, key, what is wrong, given, allowed."""
    problems = problems_of(lambda: parse(slip.edited(good_text), "edited.toml"))
    found = [problem for problem in problems if problem.key == slip.key]
    assert found, f"nothing about {slip.key!r}, only:\n" + "\n".join(map(str, problems))
    problem = found[0]
    assert problem.file == "edited.toml"
    assert problem.line == slip.line(good_text), str(problem)
    assert slip.message in problem.message, str(problem)
    assert problem.given == slip.given, str(problem)
    assert slip.allowed in problem.allowed, str(problem)
    place = "edited.toml" if problem.line is None else f"edited.toml:{problem.line}"
    assert str(problem).startswith(f"{place}: {slip.key}: {problem.message}")
    assert str(problem).isprintable()
