"""A study as lines of text: how far each value is off the mean of its unit, unit by unit and level by level."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.gauge.figures import Figures
from rig.gauge.values import Values

_MIXED = "#"
_LETTERS = "ABCDEFGHIJ"
_WIDTH = 41


def letters_of(names: Sequence[str]) -> dict[str, str]:
    """A letter for each level, told in a legend."""
    return dict(zip(names, _LETTERS, strict=False))


def by_unit(figures: Figures, width: int = _WIDTH) -> list[str]:
    """A line a unit: its mean, and every value as far off that as it is; a letter for each level."""
    values, design = figures.values, figures.design
    most_mm = _most_mm(values)
    name_width = max(len(unit) for unit in design.units)
    lines = [f"{'':{name_width}}  {'mean mm':>9}  {_scale(most_mm, width)}"]
    for unit, (name, mean) in enumerate(zip(design.units, values.unit_means, strict=True)):
        marks = [
            (_LETTERS[level], value - mean) for level, cell in enumerate(values.by[unit]) for value in cell
        ]
        lines.append(f"{name:{name_width}}  {mean:9.2f}  {_row(marks, most_mm, width)}")
    return [*lines, f"{'':{name_width}}  {'':9}  {_legend(figures)}"]


def by_level(figures: Figures, width: int = _WIDTH) -> list[str]:
    """A line a level: the mean of its ranges, and every value as far off its unit's mean as it is, `o` the mean."""
    values, design = figures.values, figures.design
    most_mm = _most_mm(values)
    name_width = max(len(level) for level in design.levels)
    lines = [f"{'':{name_width}}  {'range mm':>9}  {_scale(most_mm, width)}"]
    for level, name in enumerate(design.levels):
        off = [
            value - mean
            for unit, mean in zip(values.by, values.unit_means, strict=True)
            for value in unit[level]
        ]
        marks = [(".", one) for one in off]
        row = _row(marks, most_mm, width, last=("o", sum(off) / len(off)))
        lines.append(f"{name:{name_width}}  {figures.ranges.level_ranges[level]:9.3f}  {row}")
    return lines


def _most_mm(values: Values) -> float:
    return (
        max(
            (
                abs(value - mean)
                for unit, mean in zip(values.by, values.unit_means, strict=True)
                for cell in unit
                for value in cell
            ),
            default=0.0,
        )
        or 1.0
    )


def _scale(most_mm: float, width: int) -> str:
    left, right = f"{-most_mm:+.2f}", f"{most_mm:+.2f} mm"
    return f"{left}{'0':^{width - 2 * len(left)}}{right}"


def _row(
    marks: Sequence[tuple[str, float]], most_mm: float, width: int, last: tuple[str, float] | None = None
) -> str:
    half = width // 2
    cells = [" "] * width
    cells[half] = "|"
    for mark, value in marks:
        at = half + round(value / most_mm * half)
        cells[at] = mark if cells[at] in (" ", "|", mark) else _MIXED
    if last is not None:
        cells[half + round(last[1] / most_mm * half)] = last[0]
    return "".join(cells).rstrip()


def _legend(figures: Figures) -> str:
    return ", ".join(_told(figures.design.levels))


def _told(levels: Sequence[str]) -> Iterator[str]:
    for name, letter in letters_of(levels).items():
        yield f"{letter} {name}"
    yield f"{_MIXED} several"
