"""Switching and stop rules, held against a second statement of them: patterns over the history as a word."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.sampling.plan import Decision
from rig.sampling.standard import Severity
from rig.sampling.switching import CauseMended, LotDecided, Past, Standing, standing_after, standing_words

OF = {
    "a": LotDecided(Decision.ACCEPTED),
    "r": LotDecided(Decision.REJECTED),
    "A": LotDecided(Decision.ACCEPTED, original=False),
    "R": LotDecided(Decision.REJECTED, original=False),
    "m": CauseMended(),
}
# Two rejected with at most three accepted between; five accepted in a row before a fifth is rejected in all; the fifth.
TIGHTENS = re.compile("[ar]*?ra{0,3}r")
RELAXES = re.compile("(?:a{0,4}r){0,4}a{5}")
STOPS = re.compile("(?:a{0,4}r){5}")


def by_patterns(word: str) -> str:
    """Severity after a history, 'stopped' included, cutting off one piece of it after the other."""
    left, now = re.sub("[AR]", "", word), "normal"
    while True:
        if now == "stopped":
            mended = left.find("m")
            if mended < 0:
                return now
            now, left = "tightened", left[mended + 1 :]
            continue
        piece, left_of_m = left.replace("m", ""), left
        ends = {"normal": {"tightened": TIGHTENS}, "tightened": {"normal": RELAXES, "stopped": STOPS}}[now]
        for after, pattern in ends.items():
            if match := pattern.match(piece):
                now, left = after, rest_after(left_of_m, match.end())
                break
        else:
            return now


def rest_after(word: str, lots: int) -> str:
    """What follows after so many lots; a cause that was mended before counts for nothing where nothing had stopped."""
    for at, letter in enumerate(word):
        if lots == 0:
            return word[at:]
        lots -= letter != "m"
    return ""


def shown(standing: Standing) -> str:
    return "stopped" if standing.stopped else standing.severity


def history(word: str) -> list[Past]:
    return [OF[letter] for letter in word]


def test_ten_thousand_simulated_histories_follow_the_second_statement_of_the_rule() -> None:
    draw, seen = random.Random(28591), set()
    for _ in range(10_000):
        bad = draw.choice((0.02, 0.1, 0.3, 0.6))
        word = "".join(
            draw.choice("ARmm") if draw.random() < 0.1 else ("r" if draw.random() < bad else "a")
            for _ in range(draw.randrange(40))
        )
        assert shown(standing_after(history(word))) == by_patterns(word), word
        seen.add(by_patterns(word))
    assert seen == {"normal", "tightened", "stopped"}


@given(st.text("arARm", max_size=40))
def test_any_history_follows_it(word: str) -> None:
    assert shown(standing_after(history(word))) == by_patterns(word)


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("", "normal"),
        ("rr", "tightened"),
        ("raaar", "tightened"),
        ("raaaar", "normal"),
        ("rraaaaa", "normal"),
        ("rraaaar", "tightened"),
        # Before the switch there were two rejected; they do not count again after the way back.
        ("rraaaaar", "normal"),
        ("rrrrrr", "tightened"),
        ("rrrrrrr", "stopped"),
        ("rr" + "aaaar" * 5, "stopped"),
        ("rrrrrrraaaaaaaa", "stopped"),
        ("rrrrrrrm", "tightened"),
        ("rrrrrrrmaaaaa", "normal"),
        # A lot that comes again after sorting counts for nothing.
        ("rRRRR", "normal"),
    ],
)
def test_the_rules_of_the_standard(word: str, expected: str) -> None:
    assert shown(standing_after(history(word))) == expected


@pytest.mark.parametrize("word", ["", "r", "raaa", "rr", "rraa", "rrr", "rrrrrr", "rraaaa", "aar", "araa"])
def test_the_words_say_what_would_change_it_and_it_does(word: str) -> None:
    standing = standing_after(history(word))
    words = standing_words(standing)
    assert words.startswith(f"{standing.severity} inspection; ")
    if standing.severity is Severity.TIGHTENED:
        relaxes, stops = (int(number) for number in re.findall(r"after (\d+) more lot", words))
        assert shown(standing_after(history(word + "a" * relaxes))) == "normal"
        assert shown(standing_after(history(word + "a" * (relaxes - 1)))) == "tightened"
        assert shown(standing_after(history(word + "r" * stops))) == "stopped"
        assert shown(standing_after(history(word + "r" * (stops - 1)))) == "tightened"
    elif "next" in words:
        left = int((re.search(r"next (\d+)", words) or ["", "1"])[1])
        assert shown(standing_after(history(word + "a" * (left - 1) + "r"))) == "tightened"
        assert shown(standing_after(history(word + "a" * left + "r"))) == "normal"
    else:
        assert shown(standing_after(history(word + "r"))) == "normal"
        assert shown(standing_after(history(word + "rr"))) == "tightened"


def test_after_a_switch_counting_begins_anew() -> None:
    for word in ("rr", "rraaaaa", "rrrrrrrm"):
        assert standing_after(history(word)).since == ()


def test_the_words_say_that_it_stopped() -> None:
    assert "no lot is accepted" in standing_words(standing_after(history("rrrrrrr"))).lower()
