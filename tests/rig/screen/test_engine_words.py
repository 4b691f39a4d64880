"""What the engine says, in the other languages: every sentence has its wording there, with the same facts in it."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import rig
from rig.screen.view.wording import LANGUAGES, Words, sentences
from wiring.saying import say, together

ROOT = Path(rig.__file__).parents[1]
ROOMS = (
    *(
        "hal",
        "sequences",
        "wiring",
        "rig/calibration",
        "rig/control",
        "rig/deciding",
        "rig/edges",
        "rig/events",
    ),
    *("rig/explained", "rig/gauge", "rig/lots", "rig/measuring", "rig/planning", "rig/recount", "rig/screen"),
    *("rig/selfcheck", "rig/sequencer", "rig/store"),
    "rig/journal.py",
)
OTHERS = [one for one in LANGUAGES if one != "en"]
# Whoever calls one of these has a person in mind.
SPOKEN = frozenset(
    {"bad", "undecided", "Refusal", "too_little", "too_much", "TripCause", "NotMeasured", "Flaw"}
)


@cache
def trees() -> tuple[ast.Module, ...]:
    paths = (path for room in ROOMS for path in _files(ROOT / room))
    return tuple(
        ast.parse(path.read_text(encoding="utf-8")) for path in paths if "simulated" not in path.parts
    )


def _files(room: Path) -> list[Path]:
    return sorted(room.rglob("*.py")) if room.is_dir() else [room]


def calls() -> Iterator[tuple[str, ast.Call]]:
    for tree in trees():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                yield node.func.id, node


def spoken() -> set[str]:
    """Every wording of a saying, and every plain sentence that is handed over where people are spoken to."""
    found = set()
    for name, call in calls():
        given = call.args[:1] if name == "say" else call.args if name in SPOKEN else []
        texts = [one.value for one in given if isinstance(one, ast.Constant) and isinstance(one.value, str)]
        found |= {text for text in texts if name == "say" or " " in text}
    return {
        text for text in found if re.search("[a-z]{2}", re.sub(r"\{[^}]*\}|\b(mm|ms|mA|Hz|dB)\b", "", text))
    }


def gaps(text: str) -> list[tuple[str, str | None]]:
    return sorted((name, spec) for _, name, spec, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_of_the_engine_can_be_told_in_every_language(language: str) -> None:
    wanted = spoken()
    assert len(wanted) > 250
    assert sorted(wanted - sentences(language).keys()) == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_wording_holds_the_same_facts_and_is_of_a_sentence_that_the_engine_says(language: str) -> None:
    nodes = (node for tree in trees() for node in ast.walk(tree))
    said = {one.value for one in nodes if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    for sentence, wording in sentences(language).items():
        # A word that its language does without, such as the s of a plural, may be left out.
        assert set(gaps(wording)) <= set(gaps(sentence)), sentence
        assert {name for name, _ in gaps(sentence)} - {name for name, _ in gaps(wording)} <= {"what"}, (
            sentence
        )
    assert sorted(one for one in sentences(language) if one not in said and "{part0}" not in one) == []


def test_a_saying_is_its_english_and_tells_its_facts_in_another_language() -> None:
    drawn = say("unit draws {current_a}", current_a=say("{current_a:.0f} mA", current_a=31.4))
    dead = say("{drawn}: unit dead, or not plugged in; seat the plug and set it again", drawn=drawn)
    assert dead == "unit draws 31 mA: unit dead, or not plugged in; seat the plug and set it again"
    assert Words("en").tell(dead) == dead
    assert Words("de").tell(dead).startswith("Gerät nimmt 31 mA auf: Gerät tot oder nicht eingesteckt")
    either = together(" or ", [say("below {low}", low="392.5 mm"), say("above {high}", high="407.5 mm")])
    assert either == "below 392.5 mm or above 407.5 mm"
    assert Words("de").tell(either) == "unter 392,5 mm oder über 407,5 mm"


def test_what_no_language_knows_is_left_as_it_stands() -> None:
    words = Words("de")
    assert words.tell("QOC18-0041") == "QOC18-0041"
    assert words.tell("a sentence of another version") == "a sentence of another version"
    assert not words.knows("a sentence of another version")
    assert words.tell(say("{a}; {b}", a="on", b=1.5)) == "ein; 1,5"
