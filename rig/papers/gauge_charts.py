"""Charts of a gauge study: by unit, by person or setting, ranges, what the scatter is made of."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from rig.gauge.components import Part
from rig.gauge.figures import Figures
from rig.papers.chart import Axis, Chart, Ink, Shape, Stroke, Words, box
from rig.papers.gauge_marks import (
    BOTTOM,
    LEFT,
    TOP,
    WIDTH,
    grid,
    ink_of,
    legend,
    mark,
    offs,
    offs_of,
    percent_below,
    upwards,
)

_PARTS = (Part.REPEATABILITY, Part.LEVEL, Part.INTERACTION, Part.GAUGE)
# Of one letter of the names below, at their usual size; smaller than this share of it nobody reads them.
_LETTER_MM, _SMALLEST = 1.55, 0.6


def by_unit_chart(figures: Figures) -> Chart:
    """Every value less the mean of its unit, a column a unit, a mark a level, the means of each level joined."""
    values, design = figures.values, figures.design
    up = upwards(offs(figures))
    across = Axis(0.5, values.units + 0.5, LEFT, WIDTH - 2)
    shapes = [*grid(up), *legend(design.levels)]
    for level in range(values.levels):
        shapes += _of_level(figures, level, across, up)
    shapes += _units_below(figures, across)
    return Chart(
        "Each unit: its values less its own mean, which stands below, in mm; the means of each joined",
        f"{values.units} units; the values of one unit lie up to {max(map(abs, offs(figures))):.3f} mm off its mean.",
        WIDTH,
        BOTTOM + 9,
        tuple(shapes),
    )


def _of_level(figures: Figures, level: int, across: Axis, up: Axis) -> Iterator[Shape]:
    values = figures.values
    aside = _aside(level, values.levels, across.at(1) - across.at(0.5))
    means = [cells[level] - mean for cells, mean in zip(values.cell_means, values.unit_means, strict=True)]
    places = [(across.at(unit + 1) + aside, up.at(one)) for unit, one in enumerate(means)]
    for start, end in pairwise(places):
        yield Stroke(*start, *end, ink_of(level), 0.25, dashed=True)
    for unit, mean in enumerate(values.unit_means):
        for value in values.by[unit][level]:
            yield from mark(across.at(unit + 1) + aside, up.at(value - mean), level)


def _units_below(figures: Figures, across: Axis) -> Iterator[Shape]:
    """Names and means; where there is no room for them, the number that each has in the list of units."""
    names, means = figures.design.units, figures.values.unit_means
    room = 2 * (across.at(1) - across.at(0.5)) / (max(map(len, names)) * _LETTER_MM)
    for number, (name, mean) in enumerate(zip(names, means, strict=True), start=1):
        if room < _SMALLEST:
            yield Words(across.at(number), BOTTOM + 4, str(number), 6.5)
            continue
        yield Words(across.at(number), BOTTOM + 4, name, 7.5 * min(1.0, room))
        yield Words(across.at(number), BOTTOM + 7.4, f"{mean:.2f}", 6.5 * min(1.0, room), ink=Ink.GREY)


def _aside(level: int, levels: int, half_column: float) -> float:
    """So that the levels of one unit stand side by side."""
    return min(3.4, 1.6 * half_column / levels) * (level - (levels - 1) / 2)


def by_level_chart(figures: Figures) -> Chart:
    """Every value less the mean of its unit, a column a level, its mean as a line."""
    values, design = figures.values, figures.design
    off = offs(figures)
    up = upwards(off)
    across = Axis(0.5, values.levels + 0.5, LEFT, WIDTH / 2 - 4)
    shapes = list(grid(up, WIDTH / 2 - 4))
    for level, name in enumerate(design.levels):
        x = across.at(level + 1)
        own = offs_of(figures, level)
        for index, one in enumerate(own):
            shapes += mark(x + 16.0 * ((index + 0.5) / len(own) - 0.5), up.at(one), level)
        mean = sum(own) / len(own)
        shapes.append(Stroke(x - 10, up.at(mean), x + 10, up.at(mean), Ink.BLACK, 0.7))
        shapes.append(Words(x, BOTTOM + 4, name, 7.5))
        shapes.append(Words(x, BOTTOM + 7.4, f"{mean:+.3f}", 6.5, ink=Ink.GREY))
    shapes += _ranges(figures)
    told = "; ".join(
        f"{name} {sum(offs_of(figures, level)) / len(offs_of(figures, level)):+.3f} mm"
        for level, name in enumerate(design.levels)
    )
    return Chart(
        f"Left: all values of each of the {figures.level_words} less their units' means. Right: ranges of repeats",
        f"Means: {told}. Mean range {figures.ranges.mean_range:.3f} mm, limit {figures.upper_range_mm:.3f} mm.",
        WIDTH,
        BOTTOM + 9,
        tuple(shapes),
    )


def _ranges(figures: Figures) -> Iterator[Shape]:
    """Ranges of repeats, unit by unit for one level after the other, with their limit."""
    values, limit = figures.values, figures.upper_range_mm
    ranges = [[unit[level] for unit in values.cell_ranges] for level in range(values.levels)]
    most = max(limit, *(one for row in ranges for one in row)) or 1.0
    up = Axis(0, 1.08 * most, BOTTOM, TOP)
    across = Axis(0, values.units * values.levels + 1, WIDTH / 2 + 14, WIDTH - 2)
    for tick in up.ticks(4):
        yield Stroke(across.start, up.at(tick), across.end, up.at(tick), Ink.LIGHT, 0.2)
        yield Words(across.start - 1.5, up.at(tick) + 0.9, f"{tick:g}", 7, "end")
    for level, row in enumerate(ranges):
        first = level * values.units
        for unit, one in enumerate(row):
            yield from mark(across.at(first + unit + 1), up.at(one), level)
        middle = across.at(first + (values.units + 1) / 2)
        yield Words(middle, BOTTOM + 4, figures.design.levels[level], 7.5)
        yield Words(middle, BOTTOM + 7.4, f"{figures.ranges.level_ranges[level]:.3f}", 6.5, ink=Ink.GREY)
        if level:
            at = across.at(first + 0.5)
            yield Stroke(at, TOP, at, BOTTOM, Ink.LIGHT, 0.3)
    yield Stroke(across.start, up.at(limit), across.end, up.at(limit), Ink.BAD, 0.4)
    yield Words(across.end, up.at(limit) - 1, f"limit {limit:.3f}", 7, "end")
    mean = figures.ranges.mean_range
    yield Stroke(across.start, up.at(mean), across.end, up.at(mean), Ink.GREY, 0.3, dashed=True)


def shares_chart(figures: Figures) -> Chart:
    """Each part's share of the tolerance with its interval, against the limits of the verdict."""
    rows = [(part, figures.share_of_tolerance(part), _between(figures, part)) for part in _PARTS]
    most = max(0.4, 1.15 * max(share for _, share, _ in rows))
    across = Axis(0, most, 62, WIDTH - 16)
    height = 7 + 6.0 * len(rows)
    shapes: list[Shape] = [
        box(across.at(0), 4, across.at(0.1) - across.at(0), height - 4, Ink.GOOD_PALE),
        box(across.at(0.1), 4, across.at(0.3) - across.at(0.1), height - 4, Ink.UNDECIDED_PALE),
        Words(across.at(0.05), 3, "fit", 7),
        Words(across.at(0.2), 3, "with reserve", 7),
        Words(across.at(0.3) + 2, 3, "not fit", 7, "start"),
    ]
    for row, (part, share, (low, high)) in enumerate(rows):
        y = 7.5 + 6.0 * row
        whole = part is Part.GAUGE
        shapes.append(Words(0, y + 2.4, figures.part_words(part), 7.5, "start", bold=whole))
        shapes.append(
            box(across.at(0), y, across.at(share) - across.at(0), 3.2, Ink.BLACK if whole else Ink.GREY)
        )
        shapes.append(Stroke(across.at(low), y + 1.6, across.at(high), y + 1.6, Ink.BAD, 0.4))
        shapes += [
            Stroke(across.at(end), y + 0.6, across.at(end), y + 2.6, Ink.BAD, 0.4)
            for end in (low, high)
            if end < most
        ]
        if high > most:
            shapes.append(
                Words(across.end + 1, y + 2.4, f"to {100 * high:.0f} %", 6.5, "start", ink=Ink.GREY)
            )
        shapes.append(Words(60, y + 2.4, f"{100 * share:.1f} %", 7.5, "end", bold=whole))
    shapes += percent_below(across, height)
    told = "; ".join(f"{figures.part_words(part)} {100 * share:.1f} %" for part, share, _ in rows)
    return Chart(
        "Six standard deviations of each part over the tolerance; the thin line is the interval, 95 %",
        f"{told}.",
        WIDTH,
        height + 6,
        tuple(shapes),
    )


def _between(figures: Figures, part: Part) -> tuple[float, float]:
    between = figures.components[part].deviations
    if between is None:
        return 0.0, 0.0
    return 6 * between.low / figures.tolerance_mm, 6 * between.high / figures.tolerance_mm
