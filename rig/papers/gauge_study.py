"""The paper of a gauge study, to be signed."""

from __future__ import annotations

from collections.abc import Iterator

from rig.events import StudyConcluded
from rig.gauge.course import Study
from rig.gauge.figures import Figures
from rig.gauge.told import conclusion_event, departures
from rig.gauge.verdict import Conclusion, Fitness, conclude
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
from rig.papers.certificate import SIMULATED, moment_words
from rig.papers.gauge_bias_chart import bias_chart
from rig.papers.gauge_charts import by_level_chart, by_unit_chart, shares_chart
from rig.papers.paper import (
    Block,
    Cell,
    Column,
    Grid,
    Pairs,
    Paper,
    Part,
    Said,
    Signatures,
    Stated,
    Tone,
)

_TONES = {Fitness.FIT: Tone.GOOD, Fitness.RESERVED: Tone.UNDECIDED, Fitness.UNFIT: Tone.BAD}


def gauge_study(study: Study, figures: Figures, made_by: str) -> Paper:
    """The paper of a study that has all its values; `made_by` names the program."""
    kind = "Gauge study (SIMULATED)" if study.simulated else "Gauge study"
    conclusion = conclude(figures)
    return Paper(
        kind=kind,
        name=study.design.study,
        warning=SIMULATED.replace("a made-up unit", "made-up units") if study.simulated else "",
        parts=tuple(_parts(study, figures, conclusion)),
        foot=f"{kind} {study.design.study}. {made_by}.",
    )


def _parts(study: Study, figures: Figures, conclusion: Conclusion) -> Iterator[Part]:
    yield Part("", tuple(_head(study, figures, conclusion)))
    yield Part("Where scatter comes from", (shares_chart(figures), _components(figures)))
    yield Part("By unit", (by_unit_chart(figures),))
    yield Part(f"By {figures.factor}", (by_level_chart(figures), Said(range_words(figures))))
    yield Part("Tests", (_tests(figures), Said(by_ranges_words(figures))))
    yield Part("Bias and linearity", tuple(_bias(figures)))
    yield Part("How it was done", tuple(_done(study, figures)))
    yield Part("", (Signatures(("studied by", "date", "released by", "date")),))


def _head(study: Study, figures: Figures, conclusion: Conclusion) -> Iterator[Block]:
    yield Stated(str(conclusion.fitness), conclusion.judging, _TONES[conclusion.fitness])
    yield Said(conclusion.telling)
    yield Said(conclusion.first, Tone.STRONG)
    for words in departures(study, conclusion_event(figures, conclusion)):
        yield Said(f"The record does not lead to what was recorded: {words}.", Tone.WARNING)
    bias = tuple(figures.bias_words)
    for words in conclusion.more:
        if words not in bias:
            yield Said(words)


def _components(figures: Figures) -> Grid:
    columns = (
        Column("part", 64),
        Column("std. dev., mm", 26, number=True),
        Column("95 % interval, mm", 38, number=True),
        Column("of all, %", 22, number=True),
        Column("of the tolerance, %", 32, number=True),
    )
    rows = tuple(tuple(Cell(words) for words in row) for row in component_rows(figures))
    return Grid("Standard deviations, and six of them over the tolerance", columns, rows)


def _tests(figures: Figures) -> Grid:
    columns = (
        Column("source", 50),
        Column("sum of squares, mm\u00b2", 30, number=True),
        Column("df", 14, number=True),
        Column("mean square, mm\u00b2", 30, number=True),
        Column("F", 24, number=True),
        Column("by chance, %", 30, number=True),
    )
    rows = tuple(tuple(Cell(words) for words in row) for row in analysis_rows(figures))
    return Grid(
        "Analysis of variance; the last column is how often an F as large comes by chance", columns, rows
    )


def _bias(figures: Figures) -> Iterator[Block]:
    if figures.scale is not None:
        yield bias_chart(figures, figures.scale)
    yield Said(" ".join(figures.bias_words))


def _done(study: Study, figures: Figures) -> Iterator[Block]:
    design, course = study.design, study.course
    moments = sorted(one.utc for one in course.readings.values())
    concluded = study.concluded
    yield Said(f"{heading_words(study)[:1].upper()}{heading_words(study)[1:]}.")
    yield Pairs(
        (
            ("laid out", design_words(figures)),
            ("units", ", ".join(design.units)),
            ("people" if figures.level_words == "people" else "settings", ", ".join(design.levels)),
            ("trials", f"{moment_words(moments[0])} to {moment_words(moments[-1])}"),
            (
                "concluded",
                moment_words(concluded.utc)
                if concluded is not None and isinstance(concluded.event, StudyConcluded)
                else "not yet",
            ),
            ("rig", f"{design.rig}, nest {design.nest}; teachrig {study.software}"),
            ("method", methods_words(figures)),
        )
    )
    for words in set_aside_words(study):
        yield Said(words, Tone.WARNING)
    yield _trials(study)


def _trials(study: Study) -> Grid:
    columns = (
        Column("trial", 14, number=True),
        Column("unit", 36),
        Column("by", 36),
        Column("round", 14, number=True),
        Column("value, mm", 26, number=True),
        Column("U, mm", 20, number=True),
        Column("done (UTC)", 36),
    )
    rows = []
    for trial in study.design.trials:
        one = study.course.readings[trial]
        rows.append(
            (
                Cell(str(trial.number), rank=trial.number),
                Cell(trial.unit),
                Cell(trial.level),
                Cell(str(trial.repeat), rank=trial.repeat),
                Cell(f"{one.value_mm:.3f}", rank=one.value_mm),
                Cell(f"{one.expanded_mm:.3f}", rank=one.expanded_mm),
                Cell(moment_words(one.utc).removesuffix(" UTC")),
            )
        )
    return Grid("All trials, in the order of work", columns, tuple(rows), filter_by="by")
