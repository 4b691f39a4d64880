"""Somebody who answers the questions of `teachrig new`: a list of lines on standard input."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Sequence
from typing import Any

import pytest

from tests.cli.shop import Shop


class Typist:
    """Types one line after another; then the input ends, or Ctrl-C is pressed."""

    def __init__(self, lines: Sequence[str], *, interrupts: bool = False) -> None:
        self._lines = list(lines)
        self._interrupts = interrupts
        self.left = len(lines)

    def readline(self) -> str:
        """Return the next line as standard input does."""
        if self.left:
            self.left -= 1
            return f"{self._lines[-1 - self.left]}\n"
        if self._interrupts:
            raise KeyboardInterrupt
        return ""


class Desk:
    """A shop with somebody who types."""

    def __init__(self, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
        self.shop = shop
        self._monkeypatch = monkeypatch

    def new(self, *words: str, typed: Sequence[str], interrupts: bool = False) -> tuple[int, str, str]:
        """Run `teachrig new`; returns exit code, standard output and standard error."""
        self._monkeypatch.setattr(sys, "stdin", Typist(typed, interrupts=interrupts))
        return self.shop.run("new", *words)

    def made(self, *words: str, typed: Sequence[str]) -> dict[str, Any]:
        """Run `teachrig new` to its good end; returns the data of the file, which `validate` finds right."""
        code, out, err = self.new(*words, typed=typed)
        assert code == 0, err
        path = out.strip()
        assert self.shop.run("validate", path)[0] == 0
        with open(path, "rb") as file:
            return tomllib.load(file)

    @property
    def files(self) -> list[str]:
        """Everything in the user's folder."""
        return sorted(str(path.relative_to(self.shop.home)) for path in self.shop.home.rglob("*"))
