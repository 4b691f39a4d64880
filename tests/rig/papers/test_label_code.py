"""The code of a label: read back as written, and anything doubtful refused rather than guessed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.papers.label_code import Element, UnitCode, UnreadableLabel, code_text, elements, message, unit_code

GS, RS, EOT = "\x1d", "\x1e", "\x04"

# Structure from memory (ISO/IEC 15434 format 06); identifiers as in public tables of ANSI MH10.8.2.
PART = (Element("1P", "ABC-123"), Element("S", "SN0001"), Element("1T", "LOT42"), Element("Q", "25"))
PART_HEX = (
    "5B 29 3E 1E 30 36 1D 31 50 41 42 43 2D 31 32 33 1D 53 53 4E 30 30 30 31 "
    "1D 31 54 4C 4F 54 34 32 1D 51 32 35 1E 04"
)

UNIT = UnitCode("QOC18-0042", "QOC-0101", "barrel-18-rail", date(2026, 1, 5))
SCANNED = code_text(UNIT)

SPELLINGS = {
    "as they are": (GS, RS, EOT),
    "control pictures": ("\u241d", "\u241e", "\u2404"),
    "angle brackets": ("<GS>", "<RS>", "<EOT>"),
    "braces": ("{GS}", "{RS}", "{EOT}"),
    "square brackets": ("[GS]", "[RS]", "[EOT]"),
    "carets": ("^]", "^^", "^D"),
}


def spelt(text: str, spelling: str) -> str:
    group, record, end = SPELLINGS[spelling]
    return text.replace(GS, group).replace(RS, record).replace(EOT, end)


# What order files allow as serial, number and name of a type.
CODES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True)
TYPES = st.from_regex(r"[a-z0-9]{1,12}(-[a-z0-9]{1,8}){0,3}", fullmatch=True)
UNITS = st.builds(
    UnitCode, CODES, st.none() | CODES, st.none() | TYPES, st.none() | st.dates(date(2000, 1, 1))
)


def test_a_message_has_the_bytes_of_the_standard() -> None:
    assert message(PART).encode("ascii") == bytes.fromhex(PART_HEX)
    assert elements(bytes.fromhex(PART_HEX).decode("ascii")) == PART


def test_our_own_message_is_as_short_as_it_can_be() -> None:
    assert (
        code_text(UNIT) == f"[)>{RS}06{GS}SQOC18-0042{GS}KQOC-0101{GS}1Pbarrel-18-rail{GS}9D20260105{RS}{EOT}"
    )
    assert code_text(UnitCode("7")) == f"[)>{RS}06{GS}S7{RS}{EOT}"


@given(UNITS, st.sampled_from(sorted(SPELLINGS)), st.sampled_from(["", "\r", "\n", "\r\n"]))
def test_whatever_an_order_allows_comes_back_in_every_spelling(
    unit: UnitCode, spelling: str, enter: str
) -> None:
    assert unit_code(spelt(code_text(unit), spelling) + enter) == unit


@given(st.permutations(["SQOC18-0042", "KQOC-0101", "1Pbarrel-18-rail", "9D20260105", "Q1", "25S0-1", "1T1"]))
def test_elements_may_stand_in_any_order_among_others(parts: list[str]) -> None:
    assert unit_code(f"[)>{RS}06{GS}{GS.join(parts)}{RS}{EOT}") == UNIT


@pytest.mark.parametrize(
    ("part", "identifier", "data"),
    [
        ("1TLOT42", "1T", "LOT42"),
        ("T42", "T", "42"),
        ("25SAB", "25S", "AB"),
        ("5SAB", "5S", "AB"),
        ("S5SAB", "S", "5SAB"),
        ("S1T2", "S", "1T2"),
        ("10D2601", "10D", "2601"),
        ("4K3", "4K", "3"),
    ],
)
def test_the_longest_identifier_is_the_one_meant(part: str, identifier: str, data: str) -> None:
    assert elements(f"[)>{RS}06{GS}{part}{RS}{EOT}") == (Element(identifier, data),)


# Refused.

DAMAGE: dict[str, tuple[Callable[[str], str], str]] = {
    "all separators stripped": (lambda text: re.sub("[\x04\x1d\x1e]", "", text), "dropped the separators"),
    "separators as spaces": (lambda text: re.sub("[\x04\x1d\x1e]", " ", text), "separators came out wrong"),
    "only GS stripped": (lambda text: text.replace(GS, ""), "separators came out wrong"),
    "only RS stripped": (lambda text: text.replace(RS, ""), "dropped the separators"),
    "GS as GS, RS as text": (lambda text: text.replace(RS, "<RS>"), "separators came out wrong"),
    "one GS stripped": (lambda text: text.replace(f"{GS}K", "K", 1).replace("[)>", "", 1), "does not begin"),
    "begin lost": (lambda text: text[4:], "does not begin"),
    "end lost": (lambda text: text[:-5], "end of the label is missing"),
    "a second format": (
        lambda text: text.replace(EOT, f"05{GS}01234{RS}{EOT}"),
        "more than one format",
    ),
    "another format": (lambda text: text.replace("06", "05", 1), "not of ISO/IEC 15434 format 06"),
    "serial twice": (lambda text: text.replace(f"{GS}K", f"{GS}SQOC18-0043{GS}K"), "says S twice"),
    "no serial": (lambda text: text.replace(f"{GS}SQOC18-0042", ""), "names no serial"),
    "an empty element": (lambda text: text.replace(f"{GS}K", f"{GS}{GS}K"), "no data identifier"),
    "an identifier alone": (lambda text: text.replace("KQOC-0101", "K"), "no data identifier"),
    "no such day": (lambda text: text.replace("20260105", "20260230"), "no date"),
    "a day in words": (lambda text: text.replace("20260105", "5 January"), "no date"),
    "a bell": (lambda text: text.replace("QOC-0101", "QOC\x07-0101"), "no data identifier"),
    "an escape": (lambda text: text.replace("QOC-0101", "\x1b[2J"), "no data identifier"),
    "another alphabet": (lambda text: text.replace("QOC-0101", "\u05d0\u05d1"), "no data identifier"),
    "digits of another alphabet": (lambda text: text.replace("9D", "\u0669D"), "no data identifier"),
    "a plain serial": (lambda _: "QOC18-0042", "no label after ISO/IEC 15434"),
    "nothing": (lambda _: "", "no label after ISO/IEC 15434"),
    "ten thousand letters": (lambda text: text + "A" * 10_000, "characters came at once"),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_doubtful_label_is_refused_in_words_that_a_terminal_can_show(name: str) -> None:
    damage, words = DAMAGE[name]
    with pytest.raises(UnreadableLabel, match=words) as refused:
        unit_code(damage(SCANNED))
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 250


@given(UNITS, st.data())
def test_a_label_that_was_cut_short_is_never_read(unit: UnitCode, data: st.DataObject) -> None:
    text = code_text(unit)
    end = data.draw(st.integers(0, len(text) - 2))
    with pytest.raises(UnreadableLabel):
        unit_code(text[:end])
    # Only EOT may be missing, which says nothing.
    assert unit_code(text[:-1]) == unit


PIECES = [GS, RS, EOT, "[)>", "06", "S", "1P", "K", "9D", "2", "<GS>", "^", "]", " ", "\x07"]
ALMOST = st.lists(st.sampled_from(PIECES)).map("".join)


@given(st.text() | ALMOST | st.builds(lambda text: f"[)>{RS}06{GS}{text}{RS}{EOT}", ALMOST))
def test_whatever_is_read_is_what_was_sent(text: str) -> None:
    try:
        found = elements(text)
    except UnreadableLabel:
        return
    group, record, end = next(one for one in SPELLINGS.values() if text.startswith(f"[)>{one[1]}"))
    sent = "".join(f"{group}{one.identifier}{one.data}" for one in found)
    assert text.rstrip("\r\n").removesuffix(end) == f"[)>{record}06{sent}{record}"


@pytest.mark.parametrize(
    "element",
    [
        Element("S", ""),
        Element("S", f"1{GS}K2"),
        Element("S", f"1{RS}"),
        Element("S", "1\n"),
        Element("S", "Gr\u00fcn"),
        Element("S", "\u202e1"),
        Element("S", "<GS>K1"),
        Element("S", "^]K1"),
        Element("", "S1"),
        Element("1", "P2"),
        Element("s", "1"),
        Element("1234S", "1"),
    ],
    ids=repr,
)
def test_what_would_come_back_otherwise_is_never_written(element: Element) -> None:
    with pytest.raises(ValueError, match="cannot stand in a code"):
        message([element])


@given(st.text(st.characters(codec="ascii")) | ALMOST)
def test_what_is_written_comes_back(text: str) -> None:
    try:
        written = message([Element("S", text), Element("K", "1")])
    except ValueError:
        return
    assert elements(written) == (Element("S", text), Element("K", "1"))
