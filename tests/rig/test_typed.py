"""Numbers as people type them at the bench."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.typed import typed_name, typed_number, typed_text


@given(
    st.decimals(-9999, 9999, places=2), st.sampled_from([".", ","]), st.sampled_from(["", " ", "\n", " mm\n"])
)
def test_point_and_comma_say_the_same(number: object, sign: str, after: str) -> None:
    assert typed_number(f"{number}".replace(".", sign) + after) == pytest.approx(float(f"{number}"))


@pytest.mark.parametrize(
    "text",
    ["", " ", "done", "1,234.5", "1.234,5", "12..5", ".5", "5.", "1e3", "nan", "inf", "398,5 cm", "4 0"],
)
def test_what_is_no_number_is_not_guessed_at(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a number; type it like 398\.5 or 398,5"):
        typed_number(text)


def test_an_endless_line_is_not_told_back_whole() -> None:
    with pytest.raises(ValueError, match=r"^'x{40}' is"):
        typed_number("x" * 1000)


@given(st.text())
def test_nothing_that_a_scanner_sends_acts_on_a_terminal(text: str) -> None:
    line = typed_text(text)
    assert line.isprintable()
    assert line == line.strip()
    assert typed_text(line) == line


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ("Maren Holt\r", "Maren Holt"),
        ("\x1d06\x1dSQOC-1\x04", "06SQOC-1"),
        ("\u202eneraM\u200b", "neraM"),
        ("Zoe\u0308\t Lind", "Zo\u00eb Lind"),
    ],
)
def test_a_name_is_read_as_it_was_meant(sent: str, meant: str) -> None:
    assert typed_name(sent) == meant


@pytest.mark.parametrize("sent", ["", " \r", "-", "\x1b", "x" * 61])
def test_what_is_no_name_is_refused_in_words_for_the_person(sent: str) -> None:
    with pytest.raises(ValueError, match="allowed: "):
        typed_name(sent)
