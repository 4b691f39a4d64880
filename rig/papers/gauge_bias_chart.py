"""The chart of bias and linearity: what a scale shows too much, over the distance."""

from __future__ import annotations

from itertools import pairwise

from rig.gauge.figures import Figures, Scale
from rig.papers.chart import Axis, Chart, Ink, Stroke, Words, diamond
from rig.papers.gauge_marks import BOTTOM, LEFT, TOP, WIDTH, grid, upwards


def bias_chart(figures: Figures, scale: Scale) -> Chart:
    """What the scale shows too much at each reference distance, the line through it and its band."""
    bias, low, high = scale.bias, min(scale.bias.true_mm), max(scale.bias.true_mm)
    across = Axis(low - 0.03 * (high - low), high + 0.03 * (high - low), LEFT, WIDTH - 2)
    places = [low + (high - low) * step / 40 for step in range(41)]
    ends = [end for place in places for end in (bias.at(place).low, bias.at(place).high)]
    up = upwards([*bias.deviations_mm, *ends])
    shapes = list(grid(up))
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
        shapes.append(diamond(across.at(true_mm), up.at(off_mm), 1.0, Ink.GOOD))
    here = across.at(figures.at_mm)
    shapes.append(Stroke(here, TOP, here, BOTTOM, Ink.UNDECIDED, 0.4))
    shapes.append(Words(here, TOP - 1, "studied edge", 7))
    for tick in across.ticks(12):
        shapes.append(Stroke(across.at(tick), BOTTOM, across.at(tick), BOTTOM + 1))
        shapes.append(Words(across.at(tick), BOTTOM + 4, f"{tick:g}", 7))
    shapes.append(Words((across.start + across.end) / 2, BOTTOM + 7.4, "true distance, mm", 7, ink=Ink.GREY))
    return Chart(
        f"Scale less {scale.reference}, {scale.day}, in mm; line and band, 95 %",
        f"Slope {1000 * bias.line.slope:+.3f} mm for each metre, {bias.line.at(figures.at_mm):+.3f} mm at the edge.",
        WIDTH,
        BOTTOM + 9,
        tuple(shapes),
    )
