"""All words of the screen, from one catalogue a language; numbers with the decimal mark of the language."""

from __future__ import annotations

import locale
import os
import re
import string
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from rig.planning.planned import spoken
from rig.typed import typed_number
from wiring.saying import Saying

LANGUAGES = ("en", "de")
_DECIMAL_COMMA = frozenset({"de"})


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """Every key of a language with its words, from all files of its folder; raises ValueError for a key said twice."""
    texts: dict[str, str] = {}
    folder = files("rig.screen").joinpath("words", language)
    for file in sorted((one for one in folder.iterdir() if one.is_file()), key=lambda one: one.name):
        for key, text in _flat(tomllib.loads(file.read_text(encoding="utf-8")), ""):
            if key in texts:
                raise ValueError(f"{language}/{file.name}: {key} stands in another file too")
            texts[key] = text
    return texts


@cache
def sentences(language: str) -> Mapping[str, str]:
    """The wordings of the engine's sentences in another language, by the engine's own; none in English."""
    folder = files("rig.screen").joinpath("words", language, "engine")
    texts: dict[str, str] = {}
    for file in folder.iterdir() if folder.is_dir() else ():
        texts |= tomllib.loads(file.read_text(encoding="utf-8"))
    return texts


def _flat(table: Mapping[str, Any], before: str) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value


def language_of_the_terminal() -> str:
    """The first of our languages that the environment asks for, else English."""
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        if os.environ.get(name):
            wanted = os.environ[name].partition("_")[0].partition(".")[0]
            return wanted if wanted in LANGUAGES else "en"
    return "en"


def decimal_mark_of_the_terminal(language: str) -> str:
    """The decimal mark that LC_NUMERIC asks for; where it asks for nothing that is installed, the language's."""
    asked = os.environ.get("LC_ALL") or os.environ.get("LC_NUMERIC")
    if asked and asked not in ("C", "POSIX"):
        before = locale.setlocale(locale.LC_NUMERIC)
        try:
            locale.setlocale(locale.LC_NUMERIC, asked)
            return str(locale.localeconv()["decimal_point"])
        except locale.Error:
            pass
        finally:
            locale.setlocale(locale.LC_NUMERIC, before)
    return "," if language in _DECIMAL_COMMA else "."


def read_number(text: str) -> float | None:
    """A number with a decimal comma or point; None for anything else."""
    try:
        return typed_number(text)
    except ValueError:
        return None


# Figures with their unit, such as `300.12 ± 0.41 mm`.
_FIGURES = re.compile(r"[-+]?\d[-+\d., x\u00b1]*( ?[A-Za-z%\u00b0/]{1,4})?")


class _Facts(string.Formatter):
    """Puts facts into a wording: words in the same language, numbers with its decimal mark."""

    def __init__(self, words: Words) -> None:
        self._words = words

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, str):
            return format(self._words.tell(value), format_spec)
        return format(value, format_spec).replace(".", self._words.decimal_mark)


class Words:
    """The words of one language: `words("scan.unknown", serial="QOC-7")`."""

    def __init__(self, language: str = "en", decimal_mark: str | None = None) -> None:
        self.language = language
        self.decimal_mark = decimal_mark or ("," if language in _DECIMAL_COMMA else ".")
        self._texts = catalogue(language)

    def __call__(self, key: str, /, **values: object) -> str:
        """The words of a key, with the values put in; raises KeyError for a key that no catalogue has."""
        text = self._texts[key]
        return text.format_map(values) if values else text

    def has(self, key: str) -> bool:
        """Whether the catalogue has a key."""
        return key in self._texts

    def of(self, table: str, name: str) -> str:
        """The words for a name of the engine; the name itself where the catalogue does not know it yet."""
        return self._texts.get(f"{table}.{name}") or name.replace("-", " ")

    def tell(self, text: str) -> str:
        """A sentence of the engine in this language: its wording, with the facts that it knows; else as it stands."""
        return spoken(text) if self.language == "en" else self._told(text)

    def _told(self, text: str) -> str:
        wordings = sentences(self.language)
        if isinstance(text, Saying):
            return _Facts(self).vformat(wordings.get(text.pattern, text.pattern), (), text.facts)
        if text in wordings:
            return wordings[text]
        if _FIGURES.fullmatch(text):
            return text.replace(".", self.decimal_mark)
        parts = text.split(", ")
        return ", ".join(map(self._told, parts)) if len(parts) > 1 else text

    def knows(self, text: str) -> bool:
        """Whether a sentence can be told in this language, and not only as the record has it."""
        return self.language == "en" or isinstance(text, Saying) or text in sentences(self.language)

    def number(self, value: float, decimals: int = 1) -> str:
        """A number with so many decimals; ASCII minus, as every terminal shows it."""
        return f"{value:.{decimals}f}".replace(".", self.decimal_mark)

    def short(self, value: float) -> str:
        """A number without needless decimals."""
        return f"{value:.6g}".replace(".", self.decimal_mark)

    def tenths(self, value: float) -> str:
        """A number to a tenth, as finely as an eye tells a rate or reads a scale, without needless decimals."""
        return self.short(round(value, 1))

    def mm(self, value: float, decimals: int = 1) -> str:
        """A distance with its unit."""
        return f"{self.number(value, decimals)} mm"

    def seconds(self, value: float) -> str:
        """A duration in seconds with its unit."""
        return f"{self.number(value)} s"

    def clock(self, seconds: float) -> str:
        """A long duration: `45 s`, `12 min`, `2 h 05 min`."""
        minutes = round(seconds / 60)
        if seconds < 90:
            return f"{seconds:.0f} s"
        if minutes < 90:
            return f"{minutes} min"
        return f"{minutes // 60} h {minutes % 60:02d} min"
