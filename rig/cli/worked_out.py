"""`teachrig plan --explain`: every figure with its formula, its numbers and where they come from."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from rig.cli.layout import Page
from rig.explained.explain import explain
from rig.explained.sheet import Chapter, Worked
from rig.planning.planned import Planned

# A formula longer than this is printed once and then referred to.
_LONG = 60


def print_explained(planned: Planned, page: Page) -> None:
    """All chapters; angles are in degrees, `^` is a power, Phi the normal distribution."""
    page.heading("worked out, with the figures of this plan")
    page.say(
        "Angles are in degrees; a^b is a power; Phi is the normal distribution, J1 the Bessel function. Letters mean "
        "what stands under their formula; a number without a source comes from above, rounded as printed."
    )
    print_chapters(explain(planned), page)


def print_chapters(chapters: Iterable[Chapter], page: Page) -> None:
    """Every formula with its numbers, result and sources."""
    printed: set[str] = set()
    for chapter in chapters:
        page.heading(chapter.title)
        for worked in chapter.formulas:
            page.lines(_told(worked, worked.formula in printed, page.width))
            if len(worked.formula) > _LONG:
                printed.add(worked.formula)


def print_in_short(chapters: Iterable[Chapter], page: Page) -> None:
    """Every formula with its numbers and result in one line, where there is room."""
    for chapter in chapters:
        page.heading(chapter.title)
        for worked in chapter.formulas:
            then = f"; {worked.then.partition(':')[0]}" if worked.then else ""
            page.lines(
                textwrap.wrap(
                    f"{worked.what}: {worked.symbol} = {worked.formula} = {worked.numbers} = {worked.result} "
                    f"{worked.unit}{then}",
                    page.width,
                    initial_indent="  ",
                    subsequent_indent="    ",
                    break_long_words=False,
                    break_on_hyphens=False,
                )
            )


def _told(worked: Worked, known: bool, width: int) -> Iterator[str]:
    yield from textwrap.wrap(worked.what, width, initial_indent="  ", subsequent_indent="  ")
    formula = "by the same formula" if known else worked.formula
    unit = f" {worked.unit}" if worked.unit else ""
    short = f"{worked.symbol} = {formula} = {worked.numbers} = {worked.result}{unit}"
    if len(short) + 4 <= width:
        yield f"    {short}"
    else:
        behind = " " * (5 + len(worked.symbol))
        yield from _broken(f"    {worked.symbol} = ", formula, width)
        yield from _broken(f"{behind}= ", worked.numbers, width)
        yield f"{behind}= {worked.result}{unit}"
    if worked.then:
        yield from textwrap.wrap(worked.then, width, initial_indent="    -> ", subsequent_indent="       ")
    sources = [f"{name} = {number.text}: {number.source}" for name, number in worked.inputs]
    for words in (*sources, *([worked.source] if worked.source else [])):
        yield from textwrap.wrap(words, width, initial_indent="      ", subsequent_indent="        ")


def _broken(start: str, formula: str, width: int) -> list[str]:
    """A formula over several lines, broken where it may be: before a sign."""
    return textwrap.wrap(
        formula,
        width,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )
