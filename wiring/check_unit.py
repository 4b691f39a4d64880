"""What a rig demands of its check unit, a sensor that was set once and is measured at the start of each shift."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from wiring.tomlfile import Contradiction, DataModel


class CheckUnitNeed(StrEnum):
    """When the check unit has to be measured; a signal of its charts stops work in any case."""

    EACH_SHIFT = "each-shift"
    ADVISED = "advised"
    NEVER = "never"


class RunRule(StrEnum):
    """A run rule of a control chart; `rig.control.rules` says what each looks for, and where it is from."""

    BEYOND_LIMITS = "beyond-limits"
    TWO_OF_THREE = "two-of-three"
    FOUR_OF_FIVE = "four-of-five"
    EIGHT_ONE_SIDE = "eight-one-side"
    NINE_ONE_SIDE = "nine-one-side"
    SIX_RISING = "six-rising"
    FOURTEEN_ALTERNATING = "fourteen-alternating"
    FIFTEEN_INSIDE = "fifteen-inside"
    EIGHT_OUTSIDE = "eight-outside"


ShiftBegin = Annotated[
    str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$", description="hour and minute, such as 06:00")
]


class CheckUnitPolicy(DataModel):
    """How strict a rig is about its check unit.

    Whatever it says: where a check unit is kept, a signal of its charts stops work until somebody has looked.
    """

    needed: CheckUnitNeed = Field(
        CheckUnitNeed.ADVISED,
        description="each-shift: no work unless it was measured in this shift without a signal; advised: a note if one "
        "is kept and was not; never: not asked for",
    )
    shifts: tuple[ShiftBegin, ...] = Field(
        ("06:00", "14:00", "22:00"),
        min_length=1,
        max_length=24,
        description="when shifts begin, by the clock on the wall",
    )
    baseline: int = Field(
        20, ge=8, le=200, description="so many undisturbed measurements make the control limits"
    )
    rules: tuple[RunRule, ...] = Field(
        (RunRule.BEYOND_LIMITS, RunRule.NINE_ONE_SIDE),
        min_length=1,
        max_length=len(RunRule),
        description="run rules of its charts; each more gives more false alarms",
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield begins of shifts that do not rise."""
        for index, (before, begin) in enumerate(zip(self.shifts, self.shifts[1:], strict=False), start=1):
            if begin <= before:
                yield Contradiction(
                    ("shifts", index), f"not later than the one before, {before}", allowed="times that rise"
                )
