"""A pocket calculator: works out a line of text as it is printed, in degrees, with `^` for a power."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable

from rig.planning.beam import bessel_j1
from rig.statistics.numeric import normal_below

Function = Callable[..., float]


def _vibration(characteristic_k: float, kelvin: float) -> float:
    half = characteristic_k / kelvin / 2
    return (half / math.sinh(half)) ** 2


FUNCTIONS: dict[str, Function] = {
    "sqrt": math.sqrt,
    "exp": math.exp,
    "log10": math.log10,
    "sin": lambda degrees: math.sin(math.radians(degrees)),
    "cos": lambda degrees: math.cos(math.radians(degrees)),
    "asin": lambda sine: math.degrees(math.asin(sine)),
    "abs": abs,
    "min": min,
    "max": max,
    "J1": bessel_j1,
    "Phi": normal_below,
    "E": _vibration,
}
"""What a line may call. J1 is the Bessel function, Phi the normal distribution, E(a, T) = (x / sinh(x))^2, x = a/2T."""

_OPERATORS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: math.pow,
}


def worked_out(line: str) -> float:
    """The value of a line of numbers, such as `0.2 / sqrt(3)`; raises ValueError for anything else."""
    return _value(ast.parse(line.replace("^", "**"), mode="eval").body)


def _value(node: ast.expr) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(left), _value(right))
        case ast.Call(func=ast.Name(id=name), args=arguments) if name in FUNCTIONS:
            return float(FUNCTIONS[name](*map(_value, arguments)))
    raise ValueError(f"cannot work out {ast.unparse(node)}")
