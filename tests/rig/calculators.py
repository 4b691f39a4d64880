"""A second pocket calculator, of other parts than the one that wrote the figures: scipy and Python's own sums."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from scipy.special import j1, ndtr


def einstein(theta: float, kelvin: float) -> float:
    """Share of a vibration in the heat capacity of a gas (any textbook of statistical mechanics)."""
    x = theta / kelvin
    return x**2 * math.exp(x) / (math.exp(x) - 1) ** 2


KEYS: Mapping[str, Callable[..., float]] = {
    "exp": math.exp,
    "sqrt": math.sqrt,
    "log10": math.log10,
    "sin": lambda degrees: math.sin(math.radians(degrees)),
    "cos": lambda degrees: math.cos(math.radians(degrees)),
    "asin": lambda sine: math.degrees(math.asin(sine)),
    "abs": abs,
    "min": min,
    "max": max,
    "Phi": lambda deviations: float(ndtr(deviations)),
    "J1": lambda x: float(j1(x)),
    "E": einstein,
}


def value_of(line: str) -> float:
    """What a line of figures comes to; NameError where a letter was left in it."""
    return float(eval(line.replace("^", "**"), {"__builtins__": {}}, dict(KEYS)))


def prints_as(value: float, printed: str) -> bool:
    """Whether a value, rounded to one of the numbers of digits that are used, is what was printed."""
    rounded = {
        f"{value * (1 + hair):.{digits}g}" for digits in (3, 4, 5, 6, 7, 9) for hair in (-1e-12, 0.0, 1e-12)
    }
    return printed in rounded
