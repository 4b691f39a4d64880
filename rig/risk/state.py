"""The state file of a study: a head, then one line for each chunk, so that a study broken off goes on where it was."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wiring.plainwords import printable
from wiring.problems import refused

_FORMAT = "teachrig risk study 2"


@dataclass(frozen=True, slots=True)
class Done:
    """One chunk that is done: how many units, what they came to, and the processor time that it took."""

    chunk: int
    units: int
    tally: dict[str, Any]
    cpu_s: float


class StateFile:
    """Keeps the chunks of one study; `subject` says which study it is.

    Raises `DataFileError` for a file that holds another study, or none, and OSError where it cannot be written.
    """

    def __init__(self, path: Path, subject: dict[str, Any]) -> None:
        self._path = path
        head = {"format": _FORMAT, **subject}
        self.done: dict[int, Done] = {}
        whole = self._read(head)
        with path.open("ab") as file:
            # What is left of a line that was being written when the program was killed.
            file.truncate(whole)
            if whole == 0:
                _put(file, head)

    def add(self, done: Done) -> None:
        """Keep a chunk; it is on the disk on return."""
        self.done[done.chunk] = done
        line = {"chunk": done.chunk, "units": done.units, "tally": done.tally, "cpu_s": round(done.cpu_s, 3)}
        with self._path.open("ab") as file:
            _put(file, line)

    def _read(self, head: dict[str, Any]) -> int:
        """Take in what is there; returns the length of its whole lines."""
        if not self._path.exists():
            return 0
        whole = 0
        for number, line in enumerate(self._path.read_bytes().splitlines(keepends=True), start=1):
            if not line.endswith(b"\n"):
                break
            data = self._parsed(number, line)
            if number == 1:
                self._same_study(data, head)
            else:
                self._take(number, line, data)
            whole += len(line)
        return whole

    def _parsed(self, number: int, line: bytes) -> Any:
        try:
            return json.loads(line)
        except ValueError:
            raise self._foreign(number, "is no line of a study", line) from None

    def _take(self, number: int, line: bytes, data: Any) -> None:
        try:
            done = Done(**data)
        except TypeError:
            raise self._foreign(number, "is no line of a study", line) from None
        self.done[done.chunk] = done

    def _same_study(self, data: Any, head: dict[str, Any]) -> None:
        if not isinstance(data, dict) or data.get("format") != _FORMAT:
            raise self._foreign(1, "is no state file of a study", json.dumps(data).encode())
        for key, value in head.items():
            if data.get(key) != value:
                raise refused(
                    printable(str(self._path)),
                    f"holds another study: another {key}",
                    line=1,
                    given=printable(str(data.get(key))),
                    allowed=f"{value} for this one, or another --state file",
                )

    def _foreign(self, line: int, words: str, given: bytes) -> Exception:
        return refused(
            printable(str(self._path)),
            words,
            line=line,
            given=printable(given[:40].decode(errors="replace")),
            allowed="a file that `teachrig risk --state` wrote, or a new one",
        )


def _put(file: Any, data: dict[str, Any]) -> None:
    file.write(json.dumps(data, ensure_ascii=False).encode() + b"\n")
    file.flush()
    os.fsync(file.fileno())
