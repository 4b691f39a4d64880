"""What sensor types and orders both speak of: set points, names, plain text, figures that must rise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated

from pydantic import AfterValidator, Field

from wiring.saying import say
from wiring.terms import DetectionMode
from wiring.tomlfile import Contradiction, DataModel


class SetPoint(StrEnum):
    """Which end of the detected zone a distance belongs to."""

    NEAR = "near"
    FAR = "far"
    ONLY = "only"


SET_POINTS: Mapping[DetectionMode, tuple[SetPoint, ...]] = MappingProxyType(
    {
        DetectionMode.FULL_RANGE: (),
        DetectionMode.SINGLE_POINT: (SetPoint.ONLY,),
        DetectionMode.WINDOW: (SetPoint.NEAR, SetPoint.FAR),
    }
)
"""The set points of each detection mode, nearest first."""


def _printable_lines(text: str) -> str:
    for character in text:
        # Marks that hide or reorder text are as unprintable as control characters: a label must say what it says.
        if not character.isprintable() and character != "\n":
            raise ValueError(f"holds a character that cannot be printed, U+{ord(character):04X}")
    return text


def _printable_line(text: str) -> str:
    if "\n" in text:
        raise ValueError("holds a line end")
    if text != text.strip():
        raise ValueError("begins or ends with a space")
    return _printable_lines(text)


class Rule(StrEnum):
    """When a measured value proves a requirement.

    Simple acceptance: inside its limits; guarded: inside them by the expanded uncertainty (JCGM 106 clause 8,
    ISO 14253-1); risk: inside by as much as keeps the chance of a wrong verdict below the largest risk allowed.
    """

    SIMPLE = "simple"
    GUARDED = "guarded"
    RISK = "risk"


Line = Annotated[
    str,
    Field(min_length=1, max_length=80, description="printable, on one line"),
    AfterValidator(_printable_line),
]
"""One line of printable text, up to 80 characters."""

Notes = Annotated[
    str,
    Field(max_length=2000, description="printable, on any number of lines"),
    AfterValidator(_printable_lines),
]
"""Printable text of several lines, up to 2000 characters."""

TypeName = Annotated[
    str,
    Field(
        max_length=40,
        pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$",
        description="name of the type, lower-case letters, digits and single hyphens",
    ),
]
"""The name of a sensor type, also its file's name without the ending."""


DistanceMm = Annotated[float, Field(gt=0, le=10000, description="mm from the sensing face")]
"""A distance from the sensing face that a sensor type may have as its range."""


def must_rise(model: DataModel, low: str, high: str) -> Iterator[Contradiction]:
    """Yield a contradiction if the value of key `low` is not less than that of key `high`, both being stated."""
    low_value, high_value = getattr(model, low), getattr(model, high)
    if low_value is not None and high_value is not None and low_value >= high_value:
        yield Contradiction(
            (low,),
            say("must be less than {high}", high=high),
            allowed=say("less than {high} = {high_value:g}", high=high, high_value=high_value),
        )


def must_not_fall(model: DataModel, low: str, high: str) -> Iterator[Contradiction]:
    """Yield a contradiction if the value of key `low` is more than that of key `high`, both being stated."""
    low_value, high_value = getattr(model, low), getattr(model, high)
    if low_value is not None and high_value is not None and low_value > high_value:
        yield Contradiction(
            (low,),
            say("is more than {high}", high=high),
            allowed=say("up to {high} = {high_value:g}", high=high, high_value=high_value),
        )


def must_come_together(model: DataModel, one: str, other: str) -> Iterator[Contradiction]:
    """Yield a contradiction if only one of two keys is stated."""
    for key, partner in ((one, other), (other, one)):
        if getattr(model, key) is None and getattr(model, partner) is not None:
            yield Contradiction(
                (key,),
                say("{partner} needs {key} with it", partner=partner, key=key),
                allowed=say("both {one} and {other}", one=one, other=other),
            )
