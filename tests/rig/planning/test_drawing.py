"""The ruler in plain characters: everything is at its place, and nothing is wider than the terminal."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.planning.drawing import Bar, Mark, Row, Span, TooNarrow, draw

DISTANCES = st.floats(0, 6500).map(lambda mm: round(mm, 1))
NAMES = st.text(st.sampled_from("abcdefgh123"), min_size=1, max_size=12)
MARKS = st.lists(st.builds(Mark, DISTANCES, NAMES), max_size=12).map(tuple)
SPANS = st.lists(st.builds(Span, DISTANCES, DISTANCES, st.sampled_from("=x.#"), NAMES), max_size=5).map(tuple)
WIDTHS = st.integers(40, 160)


def column(at_mm: float, start_mm: float, end_mm: float, columns: int) -> int:
    return round((at_mm - start_mm) / (end_mm - start_mm) * (columns - 1))


def test_a_ruler_with_a_bar_and_marks_reads_as_it_should() -> None:
    lines = draw(
        0,
        100,
        [
            Bar("zone", (Span(0, 100, ".", "free"), Span(20, 60, "=", "seen"))),
            Row("point", (Mark(60, "60"),), "^"),
        ],
        width=48,
    )
    assert lines == [
        "       0       20      40      60      80",
        "       |-------|-------|-------|-------|-------|",
        "zone   ........=================................",
        "point                          ^60",
        ". free   = seen",
    ]


@given(MARKS, SPANS, WIDTHS)
def test_no_line_is_wider_than_asked_for_and_all_is_ascii(
    marks: tuple[Mark, ...], spans: tuple[Span, ...], width: int
) -> None:
    lines = draw(0, 6500, [Bar("zone", spans), Row("marks", marks, "^"), Row("more", marks)], width=width)
    assert all(len(line) <= width for line in lines)
    assert all(line.isascii() for line in lines)


@given(MARKS, WIDTHS)
def test_every_mark_is_there_once_and_begins_at_its_distance(marks: tuple[Mark, ...], width: int) -> None:
    columns = width - len("marks") - 2
    lines = draw(0, 6500, [Row("marks", marks, "^")], width=width)[2:]
    found = sorted(
        (match.start() - 7, match[0])
        for line in lines
        for match in re.finditer(r"\S+", line[7:].rjust(len(line)))
    )
    expected = []
    for mark in marks:
        at, name = column(mark.at_mm, 0, 6500, columns), f"^{mark.name}"
        if at + len(name) > columns:
            at, name = at + 1 - len(name), f"{mark.name}^"
        expected.append((at, name))
    assert found == sorted(expected)


@given(st.floats(0, 3000), st.floats(0.5, 3000), WIDTHS)
def test_round_figures_stand_over_their_ticks_and_say_where_those_are(
    start_mm: float, length_mm: float, width: int
) -> None:
    end_mm = start_mm + length_mm
    figures, ticks = draw(start_mm, end_mm, [Bar("", ())], width=width)[:2]
    shown = list(re.finditer(r"\S+", figures))
    assert shown
    for figure in shown:
        assert ticks[figure.start()] == "|"
        at_mm = float(figure[0])
        exact = (at_mm - start_mm) / (end_mm - start_mm) * (width - 3)
        # What %g rounds away of a figure is less than the half column that drawing rounds away.
        assert abs(figure.start() - 2 - exact) <= 1
    assert ticks.count("|") in (len(shown), len(shown) + 1)


def test_later_spans_cover_earlier_ones_and_the_shortest_still_shows() -> None:
    spans = (Span(0, 100, ".", "free"), Span(50, 50.01, "!", "thin"), Span(90, 500, "#", "beyond"))
    bar = draw(0, 100, [Bar("", spans)], width=102)[2]
    assert bar.index("!") == 2 + 50 * 99 // 100 + 1 or bar.count("!") == 1
    assert bar.count("!") == 1
    assert bar.endswith("#" * 10)


def test_what_lies_off_the_scale_is_left_out() -> None:
    lines = draw(
        100,
        200,
        [
            Row("marks", (Mark(99, "before"), Mark(150, "in"), Mark(201, "behind"))),
            Bar("", (Span(0, 50, "x", "n"),)),
        ],
        width=60,
    )
    assert "in" in lines[2]
    assert "before" not in "".join(lines)
    assert "behind" not in "".join(lines)
    assert "x" not in lines[3]


def test_legend_names_each_sign_once_and_wraps() -> None:
    spans = tuple(
        Span(index, index + 1, sign, f"meaning of sign {sign}") for index, sign in enumerate("=x.#o=")
    )
    lines = draw(0, 10, [Bar("", spans), Bar("", spans)], width=50)[4:]
    assert " ".join(lines).count("= meaning of sign =") == 1
    assert len(lines) > 1


@pytest.mark.parametrize(("start_mm", "end_mm"), [(5, 5), (5, 4), (0, float("nan")), (0, float("inf"))])
def test_a_scale_without_length_is_refused(start_mm: float, end_mm: float) -> None:
    with pytest.raises(ValueError, match="no length"):
        draw(start_mm, end_mm, [], width=80)


def test_too_narrow_a_terminal_is_told_how_wide_it_has_to_be() -> None:
    with pytest.raises(TooNarrow, match="27 or more"):
        draw(0, 1, [Row("title", ())], width=26)
    assert draw(0, 1, [Row("title", ())], width=27)
