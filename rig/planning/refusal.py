"""Refusals: what cannot be done, with the limit, the value given and the nearest that would pass."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rig.planning.grounds import Reason
from wiring.saying import say

# Far above what rounding does to a float: a limit met to this is met.
_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that stands against an order.

    Attributes:
        what: what is wrong, in words.
        given: the value that the order, type or rig gives.
        nearest: the nearest that would pass, or what else to do.
        key: where that value stands: a key of the order, or of the rig profile behind `rig.`; empty if in neither.
        passes: the nearest value itself, as it could be written there; None if no single value would do.

    """

    what: str
    given: str
    nearest: str
    key: str = ""
    passes: float | str | None = None

    def __str__(self) -> str:
        return say(
            "{what} (given {given}); possible: {nearest}",
            what=self.what,
            given=self.given,
            nearest=self.nearest,
        )


@dataclass(frozen=True, slots=True)
class Fit:
    """Another sensor type that would do what an order asks for, and the setting that would be proposed."""

    sensor_type: str
    title: str
    reasons: tuple[Reason, ...]


class PlanRefused(ValueError):
    """The order cannot be done with this sensor type on this rig; `refusals` says why, all at once.

    `fits` are the other known types that would do; None where none were looked at.
    """

    def __init__(self, refusals: tuple[Refusal, ...], fits: tuple[Fit, ...] | None = None) -> None:
        lines = [str(refusal) for refusal in refusals]
        if fits is not None:
            names = ", ".join(fit.sensor_type for fit in fits)
            lines.append(f"would fit: {names}" if names else "no known sensor type would fit")
        super().__init__("\n".join(lines))
        self.refusals = refusals
        self.fits = fits


def at_least(limit: float, decimals: int = 1) -> float:
    """A lower limit, rounded to the side that passes."""
    grains = 10.0**decimals
    return math.ceil((limit - _HAIR) * grains) / grains


def at_most(limit: float, decimals: int = 1) -> float:
    """An upper limit, rounded to the side that passes."""
    grains = 10.0**decimals
    return math.floor((limit + _HAIR) * grains) / grains


def too_little(
    what: str, given: float, limit: float, unit: str, key: str, *, decimals: int = 1, because: str = ""
) -> Refusal:
    """A value below its lower limit."""
    passes = at_least(limit, decimals)
    return Refusal(
        what,
        say("{given:g} {unit}", given=given, unit=unit),
        say("{passes:g} {unit} or more{because}", passes=passes, unit=unit, because=_why(because)),
        key,
        passes,
    )


def too_much(
    what: str, given: float, limit: float, unit: str, key: str, *, decimals: int = 1, because: str = ""
) -> Refusal:
    """A value above its upper limit."""
    passes = at_most(limit, decimals)
    return Refusal(
        what,
        say("{given:g} {unit}", given=given, unit=unit),
        say("{passes:g} {unit} or less{because}", passes=passes, unit=unit, because=_why(because)),
        key,
        passes,
    )


def _why(because: str) -> str:
    return say(" ({because})", because=because) if because else ""
