"""A gauge study on a terminal: verdict, components, tests, plots, bias."""

from __future__ import annotations

from rig.cli.layout import Page
from rig.gauge.course import Study
from rig.gauge.figures import Figures
from rig.gauge.plot import by_level, by_unit
from rig.gauge.verdict import Conclusion
from rig.gauge.words import (
    analysis_rows,
    by_ranges_words,
    component_rows,
    design_words,
    heading_words,
    methods_words,
    range_words,
    set_aside_words,
)


def print_open(study: Study, page: Page) -> None:
    """A study that is not whole: how far it came, and no verdict."""
    page.say(heading_words(study))
    done, of = len(study.course.readings), len(study.design.trials)
    page.say(f"{done} of {of} trials are done; nothing is said of the rig before all are.")
    left = study.course.left[0]
    page.say(f"next: trial {left.number}, unit {left.unit} by {left.level}")


def print_study(
    study: Study, figures: Figures, conclusion: Conclusion, against: tuple[str, ...], page: Page
) -> None:
    """A whole study."""
    page.say(heading_words(study))
    page.say(design_words(figures))
    page.say("")
    page.say(f"{str(conclusion.fitness).upper()}. {conclusion.judging}")
    page.say(conclusion.telling)
    page.say(conclusion.first)
    if against:
        page.heading("THE RECORD DOES NOT LEAD TO WHAT WAS RECORDED")
        for words in against:
            page.item(words)
    page.heading("where scatter comes from")
    page.table(
        ("part", ">std. dev. mm", ">95 % mm", ">of all %", ">of tolerance %"), list(component_rows(figures))
    )
    page.heading("tests")
    page.table(
        ("", ">sum of squares mm\u00b2", ">df", ">mean square mm\u00b2", ">F", ">by chance %"),
        list(analysis_rows(figures)),
    )
    page.heading("each unit: its values less its own mean")
    page.lines(by_unit(figures))
    page.heading(f"each of the {figures.level_words}: all values less their units' means, o the mean")
    page.lines(by_level(figures))
    page.say(range_words(figures))
    page.heading("what else was seen")
    for words in set_aside_words(study):
        page.item(words)
    for words in conclusion.more:
        page.item(words)
    page.item(by_ranges_words(figures))
    page.heading("method")
    page.say(methods_words(figures))
