"""A sweep: one quantity of a plan that runs through a range of values.

In another air at the machine a unit that is taught already switches elsewhere; with another set point or tolerance
the target stands elsewhere, and more or less can be proven. `rig.planning.swept` makes the table.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from rig.planning.air import LIMITS

MOST_POINTS = 10_000
_USUAL_POINTS = 20
_HAIR = 1e-9
_NUMBER = r"-?[0-9]{1,6}(?:\.[0-9]{1,6})?"
_FORM = re.compile(rf"(?P<name>[^=]*)=(?P<start>{_NUMBER}):(?P<stop>{_NUMBER})(?::(?P<step>{_NUMBER}))?")


class Quantity(StrEnum):
    """What can be swept."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    PRESSURE = "pressure"
    ALTITUDE = "altitude"
    SET_POINT = "set-point"
    NEAR = "near"
    FAR = "far"
    TOLERANCE = "tolerance"


_DISTANCES = (0.1, 20_000.0, "mm")
SPANS: Mapping[Quantity, tuple[float, float, str]] = MappingProxyType(
    {
        Quantity.TEMPERATURE: LIMITS["temperature_c"],
        Quantity.HUMIDITY: LIMITS["humidity_percent"],
        Quantity.PRESSURE: LIMITS["pressure_kpa"],
        Quantity.ALTITUDE: (-500.0, 5000.0, "m"),
        Quantity.SET_POINT: _DISTANCES,
        Quantity.NEAR: _DISTANCES,
        Quantity.FAR: _DISTANCES,
        Quantity.TOLERANCE: _DISTANCES,
    }
)
"""The widest span of each quantity, and its unit."""


class SweepRefused(ValueError):
    """A sweep that cannot be made, with what was given and what is allowed."""

    def __init__(self, what: str, given: str, allowed: str) -> None:
        super().__init__(f"{what} (given {given}); allowed: {allowed}")


@dataclass(frozen=True, slots=True)
class Sweep:
    """One quantity and the values that it takes."""

    quantity: Quantity
    values: tuple[float, ...]


def sweep_of(text: str) -> Sweep:
    """Read `temperature=-10:40` or `temperature=-10:40:2.5`; raises SweepRefused."""
    read = _FORM.fullmatch(text)
    names = ", ".join(Quantity)
    if read is None:
        what = "a sweep is written QUANTITY=FROM:TO or QUANTITY=FROM:TO:STEP"
        raise SweepRefused(what, repr(text), f"for example temperature=-10:40:5; quantities: {names}")
    if read["name"] not in list(Quantity):
        raise SweepRefused("this cannot be swept", repr(read["name"]), names)
    quantity, start, stop = Quantity(read["name"]), float(read["start"]), float(read["stop"])
    if start > stop:
        raise SweepRefused(f"{quantity} falls", f"{start:g} to {stop:g}", "FROM not above TO")
    lowest, highest, unit = SPANS[quantity]
    if start < lowest or stop > highest:
        allowed = f"{lowest:g} to {highest:g} {unit}"
        raise SweepRefused(f"{quantity} goes too far", f"{start:g} to {stop:g} {unit}", allowed)
    return Sweep(quantity, tuple(_grid(quantity, start, stop, read["step"])))


def _grid(quantity: Quantity, start: float, stop: float, step_text: str | None) -> Iterator[float]:
    step = float(step_text) if step_text else _round_step((stop - start) / _USUAL_POINTS)
    if not step > 0:
        raise SweepRefused(f"{quantity} does not move on", f"a step of {step:g}", "a step above 0")
    count = math.floor((stop - start) / step + _HAIR) + 1
    if count > MOST_POINTS:
        least = (stop - start) / (MOST_POINTS - 1)
        raise SweepRefused(
            f"{count} values are too many", f"a step of {step:g}", f"a step of {least:.4g} or more"
        )
    yield from (round(start + index * step, 9) for index in range(count))


def _round_step(least: float) -> float:
    if least <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= least * (1 - _HAIR))
