"""The catalogue: every language says everything, with the same values in it, and every key has a use."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

import rig.screen
from hal.errors import TripKind
from rig.events import Verdict
from rig.planning.plan import Requirement
from rig.screen.view.commands import COMMANDS
from rig.screen.view.letters import large
from rig.screen.view.wording import (
    LANGUAGES,
    Words,
    catalogue,
    decimal_mark_of_the_terminal,
    language_of_the_terminal,
    read_number,
)
from rig.sequencer.findings import Reason
from wiring.terms import LedKind

ROOM = Path(rig.screen.__file__).parent
SOURCE = "\n".join(path.read_text(encoding="utf-8") for path in ROOM.rglob("*.py"))


def placeholders(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_key_with_the_same_values(language: str) -> None:
    english, other = catalogue("en"), catalogue(language)
    assert english.keys() == other.keys()
    # A translation may do without a value that its language needs only once; or name a reason besides the words.
    free = {"verdict.line": {"serial", "reason", "why"}}
    for key, text in other.items():
        allowed = free.get(key, set(placeholders(english[key])))
        assert set(placeholders(text)) <= allowed, key
        assert key in free or placeholders(text) == placeholders(english[key]), key


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_of_the_engine_has_words(language: str) -> None:
    words = Words(language)
    wanted = [
        *(f"reason.{one}" for one in Reason),
        *(f"trip.{one}" for one in TripKind),
        *(f"trip-check.{one}" for one in TripKind),
        *(f"verdict.{one}" for one in Verdict),
        *(f"led.{one}" for one in LedKind),
        *(f"check.{one.name.lower().replace('_', '-')}" for one in Requirement),
        *(f"command.{one}" for one in COMMANDS),
    ]
    assert [key for key in wanted if not words.has(key)] == []


def test_every_key_named_in_the_program_is_in_the_catalogue() -> None:
    named = set(re.findall(r'(?:words|Scan)\((?:None, )?"([a-z-]+\.[a-z-]+)"', SOURCE))
    assert len(named) > 100
    assert named - catalogue("en").keys() == set()


def test_every_table_of_the_catalogue_is_used() -> None:
    tables = {key.partition(".")[0] for key in catalogue("en")}
    assert [table for table in tables if not re.search(rf'["\'{{]{table}[."]', SOURCE)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_large_words_can_be_drawn_large_on_the_smallest_screen(language: str) -> None:
    for key, text in catalogue(language).items():
        if key.startswith("big."):
            assert "\u2588" in "".join(large(text.format(at="1234.5 mm"), 80, 3)), key


def test_numbers_are_shown_with_the_mark_of_the_language_and_read_with_either() -> None:
    assert Words("en").mm(393.34) == "393.3 mm"
    assert Words("de").mm(393.34) == "393,3 mm"
    assert Words("de").short(0.25) == "0,25"
    assert read_number("1,5") == read_number(" 1.5 ") == 1.5
    assert [read_number(text) for text in ("", ".", "1.2.3", "1,2,3", "x", "1e3")] == [None] * 6


@pytest.mark.parametrize(
    ("environment", "language"),
    [
        ({}, "en"),
        ({"LANG": "de_AT.UTF-8"}, "de"),
        ({"LANG": "de"}, "de"),
        ({"LANG": "fr_FR.UTF-8"}, "en"),
        ({"LC_ALL": "C", "LANG": "de_DE.UTF-8"}, "en"),
    ],
)
def test_the_language_is_the_terminals(
    environment: dict[str, str], language: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("LC_ALL", "LC_MESSAGES", "LANG", "LC_NUMERIC"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert language_of_the_terminal() == language
    monkeypatch.setenv("LC_NUMERIC", "xx_XX")  # not installed anywhere
    assert decimal_mark_of_the_terminal("de") == ","
    assert decimal_mark_of_the_terminal("en") == "."


@pytest.mark.parametrize(("seconds", "said"), [(42, "42 s"), (720, "12 min"), (7500, "2 h 05 min")])
def test_long_times_are_said_in_minutes_and_hours(seconds: float, said: str) -> None:
    assert Words("en").clock(seconds) == said
