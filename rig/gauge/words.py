"""A study in words and rows, the same on a terminal and on paper; pure."""

from __future__ import annotations

from collections.abc import Iterator

from rig.gauge.anova import POOLED_ABOVE, Row
from rig.gauge.components import Part
from rig.gauge.course import Study
from rig.gauge.design import Factor
from rig.gauge.figures import Figures

_SHOWN = (
    Part.REPEATABILITY,
    Part.LEVEL,
    Part.INTERACTION,
    Part.GAUGE,
    Part.UNIT,
    Part.TOTAL,
)

METHODS = (
    "Components by analysis of variance, units and {levels} both taken as drawn from many. Intervals for 95 %: "
    "modified large-sample method for variances (Graybill and Wang 1980; Ting and others 1990), generalised "
    "intervals for the share of the whole spread (Hamada and Weaver 2000). {pooling} Spread is six standard "
    "deviations wide, and limits are those of AIAG, Measurement Systems Analysis, 4th edition."
)


def methods_words(figures: Figures) -> str:
    """By which methods the figures are worked out, with sources."""
    return METHODS.format(levels=figures.level_words, pooling=pooling_words(figures))


def pooling_words(figures: Figures) -> str:
    """Whether what units and levels do together was taken for chance, and by which rule."""
    chance = figures.anova.interaction.chance
    if chance is None:
        return "Repeats do not scatter at all, so nothing could be held against them."
    told = f"comes by chance in {100 * chance:.1f} of 100 studies"
    if figures.anova.pooled:
        return (
            f"What units and {figures.level_words} do together {told}, more than {100 * POOLED_ABOVE:g}: it is pooled "
            "with the repeats."
        )
    return f"What units and {figures.level_words} do together {told}, so it is kept apart."


def rows_of(figures: Figures) -> tuple[Row, ...]:
    """The lines of the table of the analysis."""
    table = figures.anova
    rows = (table.units, table.levels, table.interaction, table.repeats)
    return (*rows, table.error) if table.pooled else rows


def heading_words(study: Study) -> str:
    """Which study it is, of what, when."""
    design = study.design
    where = f"rig {design.rig}, nest {design.nest}{' (SIMULATED)' if study.simulated else ''}"
    return (
        f"gauge study {design.study}: {design.edge} operate point, order {design.order}, {design.sensor_type}, "
        f"{where}, opened {study.opened.utc[:10]}"
    )


def design_words(figures: Figures) -> str:
    """How it was laid out."""
    design = figures.design
    who = "people" if design.factor is Factor.PERSON else "settings of the rig"
    return (
        f"{len(design.units)} units by {len(design.levels)} {who}, {design.repeats} times each, in an order drawn "
        f"from seed {design.seed}; tolerance {design.low_mm:.2f} to {design.high_mm:.2f} mm"
    )


def component_rows(figures: Figures) -> Iterator[tuple[str, ...]]:
    """A row for each part of the scatter."""
    for part in _SHOWN:
        one = figures.components[part]
        between = one.deviations
        yield (
            figures.part_words(part),
            f"{one.deviation:.4f}",
            "" if between is None else f"{between.low:.4f} to {between.high:.4f}",
            f"{100 * figures.share_of_whole(part):.1f}",
            f"{100 * figures.share_of_tolerance(part):.1f}",
        )


def analysis_rows(figures: Figures) -> Iterator[tuple[str, ...]]:
    """A row for each line of the analysis."""
    for row in rows_of(figures):
        yield (
            row.name.replace("levels", figures.level_words).replace(
                "both", f"units and {figures.level_words}"
            ),
            f"{row.squares:.5f}",
            str(row.freedom),
            f"{row.mean:.5f}",
            "" if row.f is None else f"{row.f:.2f}",
            "" if row.chance is None else chance_words(row.chance),
        )


def chance_words(chance: float) -> str:
    """How often something comes by chance, in %."""
    return f"{100 * chance:.1f}" if chance >= 0.001 else "less than 0.1"


def range_words(figures: Figures) -> str:
    """Whether the ranges are what chance allows."""
    told = f"Ranges of repeats: {figures.ranges.mean_range:.3f} mm on the average, none should be above "
    told += f"{figures.upper_range_mm:.3f} mm"
    if not figures.beyond:
        return f"{told}, and none is."
    named = ", ".join(f"{unit} by {level}" for unit, level in figures.beyond)
    chance = "" if figures.surely_beyond else " (with so many ranges no more than chance may do)"
    return f"{told}; above it: {named}{chance}."


def set_aside_words(study: Study) -> Iterator[str]:
    """A sentence for each value that does not count."""
    for one in study.set_aside:
        trial = study.design.trials[one.trial - 1]
        yield (
            f"Set aside: trial {one.trial}, unit {trial.unit} by {trial.level}, {one.value_mm:.3f} mm, by "
            f"{one.person}: {one.why}. The trial was done again."
        )


def by_ranges_words(figures: Figures) -> str:
    """What the other method comes to."""
    ranges = figures.ranges
    return (
        f"By averages and ranges, to follow with a pocket calculator: repeatability {ranges.repeatability:.4f} mm, "
        f"between {figures.level_words} {ranges.reproducibility:.4f} mm, measuring {ranges.gauge:.4f} mm, units "
        f"{ranges.unit_spread:.4f} mm."
    )
