"""What a study comes to, in words: whether to judge units with this rig, whether it tells them apart, what to mend.

Limits as AIAG, Measurement Systems Analysis, 4th edition, chapter II D has them: up to 10 % of the tolerance is well,
more than 30 % is not to be used, five classes of units or more should be told apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from rig.gauge.components import Part
from rig.gauge.design import Factor
from rig.gauge.figures import Figures

WELL, AT_MOST = 0.10, 0.30
FEWEST_CLASSES = 5
# What a level measures differently by chance; a smaller part of the gauge is not worth mending first.
_CHANCE = 0.05


class Fitness(StrEnum):
    """Whether units may be judged with the rig as it was studied."""

    FIT = "fit"
    RESERVED = "fit with reserve"
    UNFIT = "not fit"


@dataclass(frozen=True, slots=True)
class Conclusion:
    """What a study comes to.

    Attributes:
        judging: whether its values may be held against the tolerance, and how surely.
        telling: how well it tells units apart.
        first: what to mend first, and why; empty where nothing has to be mended.
        more: what else was seen.

    """

    fitness: Fitness
    judging: str
    telling: str
    first: str
    more: tuple[str, ...]

    @property
    def words(self) -> str:
        """All of it as one text."""
        return " ".join(one for one in (self.judging, self.telling, self.first, *self.more) if one)


def conclude(figures: Figures) -> Conclusion:
    """Come to a conclusion."""
    return Conclusion(
        fitness_of(figures.share_of_tolerance(Part.GAUGE)),
        " ".join(_judging(figures)),
        _telling(figures),
        " ".join(_first(figures)),
        tuple(_more(figures)),
    )


def fitness_of(share: float) -> Fitness:
    """By the gauge's share of the tolerance."""
    if share < WELL:
        return Fitness.FIT
    return Fitness.RESERVED if share <= AT_MOST else Fitness.UNFIT


_JUDGING = {
    Fitness.FIT: "The rig may judge these units.",
    Fitness.RESERVED: "The rig may judge these units with reserve: near the limits of the tolerance its own "
    "scatter leaves verdicts open.",
    Fitness.UNFIT: "The rig must not judge these units as it is: its own scatter takes too much of the tolerance.",
}


def _judging(figures: Figures) -> Iterator[str]:
    share = figures.share_of_tolerance(Part.GAUGE)
    between = figures.shares_of_tolerance
    yield _JUDGING[fitness_of(share)]
    yield (
        f"Measuring takes {100 * share:.1f} % of the tolerance of {figures.tolerance_mm:g} mm (95 %: "
        f"{100 * between.low:.1f} to {100 * between.high:.0f} %)."
    )
    if fitness_of(between.low) is not fitness_of(between.high):
        few = f"{figures.levels} {figures.level_words}"
        yield (
            f"That interval reaches from '{fitness_of(between.low)}' to '{fitness_of(between.high)}': {few} say little "
            "of how others would measure; the word is that of the estimate."
        )


def _telling(figures: Figures) -> str:
    classes, between = figures.classes, figures.share_of_spread
    spread = (
        f"Of the spread of all values {100 * figures.share_of_whole(Part.GAUGE):.1f} % is measuring (95 %: "
        f"{100 * between.low:.1f} to {100 * between.high:.1f} %)."
    )
    told = "endlessly many" if classes is None else str(classes)
    word = "class" if classes == 1 else "classes"
    if classes is None or classes >= FEWEST_CLASSES:
        return f"{spread} It tells {told} {word} of units apart; {FEWEST_CLASSES} or more are wanted."
    return (
        f"{spread} It tells {told} {word} of units apart; {FEWEST_CLASSES} or more are wanted: too few to follow how "
        "units differ, be it that it measures too coarsely or that these units are too much alike."
    )


@dataclass(frozen=True, slots=True)
class Mending:
    """What to mend first: `what` is a part of the scatter, `range` a range beyond chance, or `nothing`.

    Attributes:
        unit: the unit that is concerned; empty for none.
        level: the person or setting that is concerned, which measures `off_mm` off the mean of all.

    """

    what: str
    unit: str = ""
    level: str = ""
    off_mm: float = 0.0


NOTHING, RANGE = "nothing", "range"
_CAUSES = (Part.REPEATABILITY, Part.LEVEL, Part.INTERACTION)


def mending(figures: Figures) -> Mending:
    """What to mend first."""
    if figures.surely_beyond:
        return Mending(RANGE, *figures.surely_beyond[0])
    if fitness_of(figures.share_of_tolerance(Part.GAUGE)) is Fitness.FIT:
        return Mending(NOTHING)
    part = max(_CAUSES, key=figures.share_of_gauge)
    if part is Part.LEVEL:
        return Mending(part, "", *figures.farthest_level)
    return Mending(part, figures.oddest_unit if part is Part.INTERACTION else "")


def _first(figures: Figures) -> Iterator[str]:
    mend = mending(figures)
    if mend.what == RANGE:
        yield (
            f"First find out why the values of unit {mend.unit} by {mend.level} lie further apart than chance has "
            "any do in nineteen of twenty studies; a value that is wrong for a known reason is set aside and measured "
            "again (teachrig study gauge repeat)."
        )
        return
    largest = max(_CAUSES, key=figures.share_of_gauge)
    share = f"{100 * figures.share_of_gauge(largest):.0f} % of what measuring adds"
    if mend.what == NOTHING:
        yield f"Nothing has to be mended; {share} is {figures.part_words(largest)}."
        return
    yield f"Mend first: {figures.part_words(largest)}, {share}."
    yield from _advice(figures, mend)


def _advice(figures: Figures, mend: Mending) -> Iterator[str]:
    people = figures.factor is Factor.PERSON
    if mend.what == Part.REPEATABILITY:
        yield (
            "Look at how the unit sits in the nest (stop, clamp, cable), at draught and warm air in the beam, then "
            "have edges measured more finely (checks.uncertainty_mm)."
        )
    elif mend.what == Part.LEVEL:
        yield f"{mend.level} measures {mend.off_mm:+.3f} mm off the mean of all."
        yield (
            "Let each watch the other put a unit in, and give the nest a stop that leaves nothing to the hand."
            if people
            else "Find what differs in that setting of the rig, and let it be adjusted by a stop or a pin."
        )
    else:
        who = "People" if people else "Settings"
        yield f"{who} differ on some units and not on others: look at {mend.unit} first."


def _more(figures: Figures) -> Iterator[str]:
    claimed_mm, found_mm = figures.claimed_mm, figures.repeatability_mm
    if found_mm.low > claimed_mm:
        yield (
            f"Repeats scatter more than the rig says: it states a standard uncertainty of {claimed_mm:.3f} mm of each "
            f"value, and they scatter by {found_mm.low:.3f} mm at least (95 %). What it states leaves something out."
        )
    else:
        yield (
            f"What the rig states of each value, a standard uncertainty of {claimed_mm:.3f} mm, covers how its repeats "
            f"scatter ({figures.deviation(Part.REPEATABILITY):.3f} mm)."
        )
    chance = figures.anova.levels.chance
    if (
        chance is not None
        and chance < _CHANCE
        and fitness_of(figures.share_of_tolerance(Part.GAUGE)) is Fitness.FIT
    ):
        name, off_mm = figures.farthest_level
        yield f"{name} differs by more than chance, {off_mm:+.3f} mm off the mean of all, which does no harm here."
    yield from figures.bias_words
