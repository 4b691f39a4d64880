"""Charts of a lot: how likely the plan accepts lots of any quality, and what came from this supplier before."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from rig.lots.decision import ClassCount
from rig.lots.supplier import LotRow
from rig.papers.chart import Axis, Chart, Ink, Shape, Stroke, Words, diamond
from rig.sampling.curve import worst_shown
from rig.sampling.plan import Plan
from rig.sampling.proof import percent

_WIDTH = 182.0
_LEFT = 14.0
_TOP, _BOTTOM, _HEIGHT = 6.0, 30.0, 39.0
_STEPS = 60
_MOST_LOTS = 12
_INKS = (Ink.BLACK, Ink.UNDECIDED, Ink.GREY)


def accepts_chart(classes: Sequence[ClassCount], found: tuple[float, float]) -> Chart:
    """The chance of acceptance over the share of defective units, a curve for each plan; `found`: 95 % bounds."""
    plans: dict[Plan, list[str]] = {}
    for one in classes:
        plans.setdefault(one.asked.plan, []).append(str(one.asked.defect))
    worst = max(worst_shown(plan) for plan in plans)
    across, up = Axis(0, worst, _LEFT, _WIDTH - 2), Axis(0, 1, _BOTTOM, _TOP)
    shapes: list[Shape] = [*_scale_up(up), *_scale_across(across)]
    for place, (plan, names) in enumerate(plans.items()):
        ink = _INKS[place % len(_INKS)]
        shapes += _curve(plan, across, up, ink, dashed=bool(place))
        shapes += _legend(place, f"{' and '.join(names)} defects", ink)
    low, high = (across.at(one) for one in found)
    shapes += [
        Stroke(low, _BOTTOM + 5.2, high, _BOTTOM + 5.2, Ink.BLACK, 0.8),
        Words(low, _BOTTOM + 8.8, f"units with a defect in this lot, 95 %: {_both(found)}", 7, "start"),
    ]
    return Chart(
        "What the plan does to lots of any quality",
        f"Chance of acceptance, falling from 100 % to 1 % and less at {on_paper(worst)} with a defect.",
        _WIDTH,
        _HEIGHT,
        tuple(shapes),
    )


def _curve(plan: Plan, across: Axis, up: Axis, ink: Ink, *, dashed: bool) -> Iterator[Shape]:
    shares = [across.high * step / _STEPS for step in range(_STEPS + 1)]
    points = [(across.at(share), up.at(plan.accepts_with(share))) for share in shares]
    for (x1, y1), (x2, y2) in pairwise(points):
        yield Stroke(x1, y1, x2, y2, ink, 0.55, dashed=dashed)


def _legend(place: int, words: str, ink: Ink) -> Iterator[Shape]:
    y = _TOP + 3 + 4 * place
    yield Stroke(_WIDTH - 66, y - 0.9, _WIDTH - 58, y - 0.9, ink, 0.55, dashed=bool(place))
    yield Words(_WIDTH - 56, y, words, 7, "start")


def _scale_up(up: Axis) -> Iterator[Shape]:
    for tick in (0.0, 0.5, 1.0):
        yield Stroke(_LEFT, up.at(tick), _WIDTH - 2, up.at(tick), Ink.LIGHT, 0.2)
        yield Words(_LEFT - 1.5, up.at(tick) + 0.9, f"{tick:.0%}", 7, "end")
    yield Words(0, _TOP - 2.5, "chance of acceptance", 7, "start", ink=Ink.GREY)


def _scale_across(across: Axis) -> Iterator[Shape]:
    for tick in across.ticks(8):
        yield Stroke(across.at(tick), _BOTTOM, across.at(tick), _BOTTOM + 0.8, Ink.GREY, 0.25)
        yield Words(across.at(tick), _BOTTOM + 3.6, on_paper(tick), 7)


def supplier_chart(rows: Sequence[LotRow]) -> Chart:
    """The share of defective units in each of the last lots, with 95 % bounds."""
    shown = rows[-_MOST_LOTS:]
    highest = max(one.bounds.upper for one in shown)
    up = Axis(0, highest, _BOTTOM, _TOP)
    step = (_WIDTH - _LEFT - 2) / _MOST_LOTS
    shapes: list[Shape] = [Words(0, _TOP - 2.5, "with a defect", 7, "start", ink=Ink.GREY)]
    for tick in up.ticks(3):
        shapes.append(Stroke(_LEFT, up.at(tick), _WIDTH - 2, up.at(tick), Ink.LIGHT, 0.2))
        shapes.append(Words(_LEFT - 1.5, up.at(tick) + 0.9, on_paper(tick), 7, "end"))
    for place, one in enumerate(shown):
        shapes += _lot_bar(one, _LEFT + (place + 0.5) * step, up)
    told = "; ".join(f"{one.lot}: {one.defective} of {one.tested}, {one.decision}" for one in shown)
    return Chart("Lots of this supplier and type, in order", told, _WIDTH, _HEIGHT, tuple(shapes))


def _lot_bar(one: LotRow, x: float, up: Axis) -> Iterator[Shape]:
    accepted = one.decision == "accepted"
    ink = Ink.GOOD if accepted else Ink.BAD
    yield Stroke(x, up.at(one.bounds.lower), x, up.at(one.bounds.upper), ink, 0.5)
    for end in (one.bounds.lower, one.bounds.upper):
        yield Stroke(x - 1.2, up.at(end), x + 1.2, up.at(end), ink, 0.4)
    yield diamond(x, up.at(one.defective / one.tested), 1.1, Ink.WHITE if accepted else ink, ink)
    yield Words(x, _BOTTOM + 3.6, one.lot[-11:], 6.5)
    yield Words(x, _BOTTOM + 6.8, one.decision, 6.5, ink=ink)


def _both(bounds: tuple[float, float]) -> str:
    return f"{on_paper(bounds[0])} to {on_paper(bounds[1])}"


def on_paper(share: float) -> str:
    """A share in percent with a plain space, which every letter of a paper has to have."""
    return percent(share).replace("\u00a0", " ")
