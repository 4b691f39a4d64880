"""Finds the line on which each key of a TOML text stands, which `tomllib` does not tell."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\r\n]+")
# Three quotes may be preceded by one or two that belong to the text, hence the tail.
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"[^"\\\n]*(?:\\.[^"\\\n]*)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)


class LineMap:
    """The line of every table, key and array item of a text that `tomllib` has already accepted.

    Paths are the keys and indices that lead to a value in the parsed data: `("nest", 0, "led", "line")`.
    """

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._newlines = [match.start() for match in re.finditer("\n", text)]
        self._lines: dict[KeyPath, int] = {}
        self._last_item: dict[KeyPath, int] = {}
        self._scan()

    def find(self, path: KeyPath) -> int | None:
        """Return the line of `path`, or of the nearest table around it; None at the top of the file."""
        for length in range(len(path), 0, -1):
            line = self._lines.get(path[:length])
            if line is not None:
                return line
        return None

    def _scan(self) -> None:
        table: KeyPath = ()
        self._skip(_BLANK)
        while self._at < len(self._text):
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_BLANK)

    def _header(self) -> KeyPath:
        repeated = self._text.startswith("[[", self._at)
        line = self._line()
        self._at += 2 if repeated else 1
        keys = self._key()
        self._at += 2 if repeated else 1
        path: KeyPath = ()
        for position, key in enumerate(keys, start=1):
            path = (*path, key)
            self._lines.setdefault(path, line)
            if repeated and position == len(keys):
                self._last_item[path] = self._last_item.get(path, -1) + 1
            if path in self._last_item:
                path = (*path, self._last_item[path])
        # A table first named by a table inside it gets the line of its own header.
        self._lines[path] = line
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line()
        path = table
        for key in self._key():
            path = (*path, key)
            self._lines.setdefault(path, line)
        self._at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _key(self) -> list[str]:
        keys = []
        while True:
            self._skip(_SPACE)
            if self._text[self._at] in "\"'":
                keys.append(_unquoted(self._take(_STRING)))
            else:
                keys.append(self._take(_BARE_KEY))
            self._skip(_SPACE)
            if self._text[self._at] != ".":
                return keys
            self._at += 1

    def _value(self, path: KeyPath) -> None:
        first = self._text[self._at]
        if first == "[":
            self._array(path)
        elif first == "{":
            self._inline_table(path)
        else:
            self._take(_STRING if first in "\"'" else _SCALAR)

    def _array(self, path: KeyPath) -> None:
        index = 0
        while self._next_in("]"):
            item = (*path, index)
            self._lines[item] = self._line()
            self._value(item)
            index += 1

    def _inline_table(self, path: KeyPath) -> None:
        while self._next_in("}"):
            self._pair(path)

    def _next_in(self, closing: str) -> bool:
        """Step over the opening bracket or a comma; False once past the closing bracket."""
        self._skip(_BLANK)
        if self._text[self._at] != closing:
            self._at += 1
            self._skip(_BLANK)
        if self._text[self._at] != closing:
            return True
        self._at += 1
        return False

    def _line(self) -> int:
        return bisect_left(self._newlines, self._at) + 1

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self._text, self._at)
        if match:
            self._at = match.end()

    def _take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self._text, self._at)
        if match is None:  # pragma: no cover - tomllib has accepted the text
            raise ValueError(f"unexpected character at offset {self._at}")
        self._at = match.end()
        return match.group()


def _unquoted(quoted: str) -> str:
    text = tomllib.loads(f"key = {quoted}")["key"]
    return str(text)
