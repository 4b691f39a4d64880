"""A study as data for a program, and as rows for a table; what is shown of it elsewhere is the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rig.events import StudyConcluded
from rig.gauge.anova import POOLED_ABOVE, Row
from rig.gauge.components import Component, Part
from rig.gauge.course import Course, Study
from rig.gauge.figures import Figures
from rig.gauge.intervals import COVERAGE, Interval
from rig.gauge.verdict import Conclusion, Fitness
from rig.gauge.words import methods_words, rows_of

# A record shows far less than can be told, and hides the last digits, in which computers differ.
_DIGITS = 6

CSV_COLUMNS = ("study", "trial", "unit", "level", "repeat", "value_mm", "expanded_mm", "utc")


def conclusion_event(figures: Figures, conclusion: Conclusion) -> StudyConcluded:
    """What is recorded of a conclusion."""
    told = {f"{part}_mm": round(figures.deviation(part), _DIGITS) for part in Part}
    told["share_of_tolerance"] = round(figures.share_of_tolerance(Part.GAUGE), _DIGITS)
    return StudyConcluded(
        figures.design.study, str(conclusion.fitness), conclusion.words, {**told, "classes": figures.classes}
    )


def departures(study: Study, again: StudyConcluded) -> tuple[str, ...]:
    """Where a study's recorded conclusion is not what its recorded values lead to."""
    recorded = None if study.concluded is None else study.concluded.event
    if not isinstance(recorded, StudyConcluded):
        return ()
    found = []
    if recorded.fitness != again.fitness:
        found.append(f"recorded is '{recorded.fitness}', the values lead to '{again.fitness}'")
    for name, value in again.figures.items():
        if recorded.figures.get(name) != value:
            found.append(f"{name}: recorded {recorded.figures.get(name)}, the values lead to {value}")
    return tuple(found)


def course_as_dict(course: Course) -> dict[str, Any]:
    """How a study was laid out, and what its trials came to so far."""
    design = course.design
    head = {key: value for key, value in design.content().items() if key not in ("trials", "calibration")}
    return {
        **head,
        "done": len(course.readings),
        "of": len(design.trials),
        "trials": [dict(zip(CSV_COLUMNS, row, strict=True)) for row in csv_rows(course)],
    }


def csv_rows(course: Course) -> Iterator[tuple[object, ...]]:
    """A row for each trial, in the order of work; without a value where it is not done."""
    for trial in course.design.trials:
        one = course.readings.get(trial)
        value = (None, None, None) if one is None else (one.value_mm, one.expanded_mm, one.utc)
        yield (course.design.study, trial.number, trial.unit, trial.level, trial.repeat, *value)


def figures_as_dict(figures: Figures, conclusion: Conclusion) -> dict[str, Any]:
    """All figures and what they come to."""
    return {
        "fitness": str(conclusion.fitness),
        "fit": conclusion.fitness is not Fitness.UNFIT,
        "judging": conclusion.judging,
        "telling": conclusion.telling,
        "mend_first": conclusion.first,
        "more": list(conclusion.more),
        "coverage": COVERAGE,
        "tolerance_mm": figures.tolerance_mm,
        "claimed_standard_uncertainty_mm": figures.claimed_mm,
        "components": {str(part): _component(figures, one) for part, one in figures.components.items()},
        "share_of_tolerance": figures.share_of_tolerance(Part.GAUGE),
        "share_of_tolerance_interval": asdict(figures.shares_of_tolerance),
        "share_of_whole_interval": asdict(figures.share_of_spread),
        "classes": figures.classes,
        "analysis_of_variance": {
            "pooled": figures.anova.pooled,
            "pooled_above": POOLED_ABOVE,
            "rows": [_row(row) for row in rows_of(figures)],
        },
        "averages_and_ranges": _ranges(figures),
        "bias": _bias(figures),
        "methods": methods_words(figures),
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "name": row.name,
        "sum_of_squares": row.squares,
        "degrees_of_freedom": row.freedom,
        "mean_square": row.mean,
        "f": row.f,
        "p": row.chance,
    }


def _component(figures: Figures, one: Component) -> dict[str, Any]:
    return {
        "variance_mm2": one.variance,
        "variance_as_it_came_out_mm2": one.raw,
        "deviation_mm": one.deviation,
        "deviation_interval_mm": _interval(one.deviations),
        "share_of_whole": figures.share_of_whole(one.part),
        "share_of_tolerance": figures.share_of_tolerance(one.part),
    }


def _interval(between: Interval | None) -> dict[str, float] | None:
    return None if between is None else asdict(between)


def _ranges(figures: Figures) -> dict[str, Any]:
    ranges = figures.ranges
    return {
        "mean_range_mm": ranges.mean_range,
        "upper_range_mm": ranges.upper_range,
        "beyond": [list(pair) for pair in figures.beyond],
        "level_ranges_mm": dict(zip(figures.design.levels, ranges.level_ranges, strict=True)),
        "level_means_mm": dict(zip(figures.design.levels, figures.values.level_means, strict=True)),
        "unit_means_mm": dict(zip(figures.design.units, figures.values.unit_means, strict=True)),
        "repeatability_mm": ranges.repeatability,
        "reproducibility_mm": ranges.reproducibility,
        "gauge_mm": ranges.gauge,
        "unit_mm": ranges.unit_spread,
        "total_mm": ranges.total,
    }


def _bias(figures: Figures) -> dict[str, Any] | None:
    scale = figures.scale
    if scale is None:
        return None
    return {
        "day": scale.day,
        "reference": scale.reference,
        "at_mm": figures.at_mm,
        "bias_mm": scale.bias.line.at(figures.at_mm),
        "bias_interval_mm": asdict(scale.bias.at(figures.at_mm)),
        "linearity_mm_per_m": 1000 * scale.bias.line.slope,
        "linearity_interval_mm_per_m": asdict(
            Interval(1000 * scale.bias.slope.low, 1000 * scale.bias.slope.high)
        ),
        "corrected": scale.corrected,
        "left_mm": scale.left_mm,
        "by_place": [list(pair) for pair in scale.bias.by_place],
    }
