"""Charts of a gauge study: by unit, by person or setting, ranges, what the scatter is made of, bias."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from rig.gauge.components import Part
from rig.gauge.figures import Figures, Scale
from rig.papers.chart import Axis, Chart, Ink, Shape, Stroke, Words, box, diamond, triangle

_WIDTH = 182.0
_LEFT = 14.0
_BOTTOM = 44.0
_TOP = 8.0
_PARTS = (Part.REPEATABILITY, Part.LEVEL, Part.INTERACTION, Part.GAUGE)
_SIZE = 1.0


def by_unit_chart(figures: Figures) -> Chart:
    """Every value less the mean of its unit, a column a unit, a mark a level, the means of each level joined."""
    values, design = figures.values, figures.design
    up = _up(_off(figures))
    across = Axis(0.5, values.units + 0.5, _LEFT, _WIDTH - 2)
    shapes = [*_grid(up, "mm"), *_legend(design.levels)]
    for level in range(values.levels):
        means = [
            cells[level] - mean for cells, mean in zip(values.cell_means, values.unit_means, strict=True)
        ]
        places = [
            (across.at(unit + 1) + _aside(level, values.levels), up.at(one)) for unit, one in enumerate(means)
        ]
        shapes += [
            Stroke(*start, *end, _INKS[level % len(_INKS)], 0.25, dashed=True)
            for start, end in pairwise(places)
        ]
        for unit, mean in enumerate(values.unit_means):
            x = across.at(unit + 1) + _aside(level, values.levels)
            for value in values.by[unit][level]:
                shapes += _mark(x, up.at(value - mean), level)
    for unit, name in enumerate(design.units):
        shapes.append(Words(across.at(unit + 1), _BOTTOM + 4, name, _name_size(design.units)))
        shapes.append(
            Words(across.at(unit + 1), _BOTTOM + 7.4, f"{values.unit_means[unit]:.2f}", 6.5, ink=Ink.GREY)
        )
    return Chart(
        "Each unit: its values less its own mean, which stands below, in mm; the means of each joined",
        f"{values.units} units; the values of one unit lie up to {max(map(abs, _off(figures))):.3f} mm off its mean.",
        _WIDTH,
        _BOTTOM + 9,
        tuple(shapes),
    )


def by_level_chart(figures: Figures) -> Chart:
    """Every value less the mean of its unit, a column a level, its mean as a line."""
    values, design = figures.values, figures.design
    off = _off(figures)
    up = _up(off)
    across = Axis(0.5, values.levels + 0.5, _LEFT, _WIDTH / 2 - 4)
    shapes = list(_grid(up, "mm", _WIDTH / 2 - 4))
    for level, name in enumerate(design.levels):
        x = across.at(level + 1)
        own = _off_of(figures, level)
        for index, one in enumerate(own):
            shapes += _mark(x + _spread(index, len(own)), up.at(one), level)
        mean = sum(own) / len(own)
        shapes.append(Stroke(x - 10, up.at(mean), x + 10, up.at(mean), Ink.BLACK, 0.7))
        shapes.append(Words(x, _BOTTOM + 4, name, 7.5))
        shapes.append(Words(x, _BOTTOM + 7.4, f"{mean:+.3f}", 6.5, ink=Ink.GREY))
    shapes += _ranges(figures)
    told = "; ".join(
        f"{name} {sum(_off_of(figures, level)) / len(_off_of(figures, level)):+.3f} mm"
        for level, name in enumerate(design.levels)
    )
    return Chart(
        f"Left: all values of each of the {figures.level_words} less their units' means. Right: ranges of repeats",
        f"Means: {told}. Mean range {figures.ranges.mean_range:.3f} mm, limit {figures.upper_range_mm:.3f} mm.",
        _WIDTH,
        _BOTTOM + 9,
        tuple(shapes),
    )


def _ranges(figures: Figures) -> Iterator[Shape]:
    """Ranges of repeats, unit by unit for one level after the other, with their limit."""
    values, limit = figures.values, figures.upper_range_mm
    ranges = [[unit[level] for unit in values.cell_ranges] for level in range(values.levels)]
    most = max(limit, *(one for row in ranges for one in row)) or 1.0
    up = Axis(0, 1.08 * most, _BOTTOM, _TOP)
    across = Axis(0, values.units * values.levels + 1, _WIDTH / 2 + 14, _WIDTH - 2)
    for tick in up.ticks(4):
        yield Stroke(across.start, up.at(tick), across.end, up.at(tick), Ink.LIGHT, 0.2)
        yield Words(across.start - 1.5, up.at(tick) + 0.9, f"{tick:g}", 7, "end")
    for level, row in enumerate(ranges):
        first = level * values.units
        for unit, one in enumerate(row):
            yield from _mark(across.at(first + unit + 1), up.at(one), level)
        middle = across.at(first + (values.units + 1) / 2)
        yield Words(middle, _BOTTOM + 4, figures.design.levels[level], 7.5)
        yield Words(middle, _BOTTOM + 7.4, f"{figures.ranges.level_ranges[level]:.3f}", 6.5, ink=Ink.GREY)
        if level:
            at = across.at(first + 0.5)
            yield Stroke(at, _TOP, at, _BOTTOM, Ink.LIGHT, 0.3)
    yield Stroke(across.start, up.at(limit), across.end, up.at(limit), Ink.BAD, 0.4)
    yield Words(across.end, up.at(limit) - 1, f"limit {limit:.3f}", 7, "end")
    mean = figures.ranges.mean_range
    yield Stroke(across.start, up.at(mean), across.end, up.at(mean), Ink.GREY, 0.3, dashed=True)


def shares_chart(figures: Figures) -> Chart:
    """Each part's share of the tolerance with its interval, against the limits of the verdict."""
    rows = [(part, figures.share_of_tolerance(part), _between(figures, part)) for part in _PARTS]
    most = max(0.4, 1.15 * max(share for _, share, _ in rows))
    across = Axis(0, most, 62, _WIDTH - 16)
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
    shapes += _percent_below(across, height)
    told = "; ".join(f"{figures.part_words(part)} {100 * share:.1f} %" for part, share, _ in rows)
    return Chart(
        "Six standard deviations of each part over the tolerance; the thin line is the interval, 95 %",
        f"{told}.",
        _WIDTH,
        height + 6,
        tuple(shapes),
    )


def bias_chart(figures: Figures, scale: Scale) -> Chart:
    """What the scale shows too much at each reference distance, the line through it and its band."""
    bias, low, high = scale.bias, min(scale.bias.true_mm), max(scale.bias.true_mm)
    across = Axis(low - 0.03 * (high - low), high + 0.03 * (high - low), _LEFT, _WIDTH - 2)
    places = [low + (high - low) * step / 40 for step in range(41)]
    ends = [end for place in places for end in (bias.at(place).low, bias.at(place).high)]
    up = _up([*bias.deviations_mm, *ends])
    shapes = list(_grid(up, "mm"))
    for one, other in pairwise(places):
        start, end = bias.at(one), bias.at(other)
        for from_mm, to_mm in ((start.low, end.low), (start.high, end.high)):
            way = (across.at(one), up.at(from_mm), across.at(other), up.at(to_mm))
            shapes.append(Stroke(*way, Ink.GREY, 0.3, dashed=True))
    shapes.append(
        Stroke(
            across.at(low),
            up.at(bias.line.at(low)),
            across.at(high),
            up.at(bias.line.at(high)),
            Ink.BLACK,
            0.4,
        )
    )
    for true_mm, off_mm in zip(bias.true_mm, bias.deviations_mm, strict=True):
        shapes += diamond_at(across.at(true_mm), up.at(off_mm))
    here = across.at(figures.at_mm)
    shapes.append(Stroke(here, _TOP, here, _BOTTOM, Ink.UNDECIDED, 0.4))
    shapes.append(Words(here, _TOP - 1, "studied edge", 7))
    for tick in across.ticks(12):
        shapes.append(Stroke(across.at(tick), _BOTTOM, across.at(tick), _BOTTOM + 1))
        shapes.append(Words(across.at(tick), _BOTTOM + 4, f"{tick:g}", 7))
    shapes.append(Words((across.start + across.end) / 2, _BOTTOM + 7.4, "true distance, mm", 7, ink=Ink.GREY))
    return Chart(
        f"Scale less {scale.reference}, {scale.day}, in mm; line and band, 95 %",
        f"Slope {1000 * bias.line.slope:+.3f} mm for each metre, {bias.line.at(figures.at_mm):+.3f} mm at the edge.",
        _WIDTH,
        _BOTTOM + 9,
        tuple(shapes),
    )


def diamond_at(x: float, y: float) -> tuple[Shape, ...]:
    """A reference distance."""
    return (diamond(x, y, _SIZE, Ink.GOOD),)


_INKS = (Ink.GOOD, Ink.BAD, Ink.UNDECIDED, Ink.GREY, Ink.BLACK)


def _mark(x: float, y: float, level: int) -> Iterator[Shape]:
    """Every level has a shape of its own, and a colour."""
    ink = _INKS[level % len(_INKS)]
    match level % 4:
        case 0:
            yield diamond(x, y, _SIZE, ink)
        case 1:
            yield Stroke(x - _SIZE, y - _SIZE, x + _SIZE, y + _SIZE, ink, 0.45)
            yield Stroke(x - _SIZE, y + _SIZE, x + _SIZE, y - _SIZE, ink, 0.45)
        case 2:
            yield triangle(x, y, 1.2, Ink.WHITE, ink)
        case _:
            yield box(x - 0.8, y - 0.8, 1.6, 1.6, Ink.WHITE, ink)


def _legend(levels: Sequence[str]) -> Iterator[Shape]:
    x = _LEFT + 4
    for level, name in enumerate(levels):
        yield from _mark(x, 2.2, level)
        yield Words(x + 2.5, 3.1, name, 7.5, "start")
        x += 8 + 1.5 * len(name)


def _off(figures: Figures) -> list[float]:
    return [one for level in range(figures.values.levels) for one in _off_of(figures, level)]


def _off_of(figures: Figures, level: int) -> list[float]:
    values = figures.values
    return [
        value - mean for unit, mean in zip(values.by, values.unit_means, strict=True) for value in unit[level]
    ]


def _up(off: Sequence[float]) -> Axis:
    most = 1.1 * max(map(abs, off)) or 1.0
    return Axis(-most, most, _BOTTOM, _TOP)


def _grid(up: Axis, unit: str, end: float = _WIDTH - 2) -> Iterator[Shape]:
    for tick in up.ticks(6):
        yield Stroke(_LEFT, up.at(tick), end, up.at(tick), Ink.GREY if tick == 0 else Ink.LIGHT, 0.25)
        yield Words(_LEFT - 1.5, up.at(tick) + 0.9, f"{tick:+g}" if tick else "0", 7, "end")
    yield Words(0, _TOP - 2, unit, 7, "start", ink=Ink.GREY)


def _percent_below(across: Axis, y: float) -> Iterator[Shape]:
    yield Stroke(across.start, y, across.end, y, Ink.BLACK, 0.35)
    for tick in across.ticks(8):
        yield Stroke(across.at(tick), y, across.at(tick), y + 1, Ink.BLACK, 0.35)
        yield Words(across.at(tick), y + 4, f"{100 * tick:g} %", 7)


def _between(figures: Figures, part: Part) -> tuple[float, float]:
    between = figures.components[part].deviations
    if between is None:
        return 0.0, 0.0
    return 6 * between.low / figures.tolerance_mm, 6 * between.high / figures.tolerance_mm


def _aside(level: int, levels: int) -> float:
    return 3.4 * (level - (levels - 1) / 2)


def _spread(index: int, count: int) -> float:
    return 16.0 * ((index + 0.5) / count - 0.5)


def _name_size(names: Sequence[str]) -> float:
    longest = max(map(len, names))
    return 7.5 if longest * len(names) < 110 else max(4.5, 7.5 * 110 / (longest * len(names)))
