"""Arguments of the commands about received lots."""

from __future__ import annotations

import argparse
import math
import re

from rig.cli.parsing.common import Commands, add, add_force, add_json, whole_number

TITLE = "receive lots"

_LARGEST_LOT = 10_000_000
_EPILOG = """\
teachrig sampling --lot 1200 --aql 1 --level II
teachrig sampling --good 1:5 --poor 5:10
teachrig sampling --zero --poor 5:5 --lot 120 --isolated
teachrig sampling --plan 80/2 --lot 1200 --found 1/80"""


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    parser = add(
        commands,
        "sampling",
        "design a sampling plan for received lots, and explain what it achieves and what not",
        _EPILOG,
    )
    parser.add_argument("--lot", type=_lot, metavar="N", help="units in the lot")
    _add_sources(parser)
    _add_points(parser)
    parser.add_argument(
        "--found",
        type=_found,
        metavar="BAD/TESTED",
        help="what was found: says what follows for the lot, what it proves and what not",
    )
    parser.add_argument(
        "--csv",
        nargs="?",
        const="-",
        metavar="FILE",
        help="the curves as CSV, into a file or to standard output",
    )
    add_force(parser)
    add_json(parser)


def _add_sources(parser: argparse.ArgumentParser) -> None:
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--aql", type=_aql, metavar="PERCENT", help="plan of ISO 2859-1 for the lot and this AQL"
    )
    what.add_argument(
        "--plan", type=_plan, metavar="N/AC", help="a plan that you have: units tested / bad allowed"
    )
    what.add_argument(
        "--zero", action="store_true", help="the smallest sample that may hold no bad unit; with --poor"
    )
    parser.add_argument(
        "--level",
        choices=("I", "II", "III", "S-1", "S-2", "S-3", "S-4"),
        default="II",
        help="inspection level of ISO 2859-1 (default II)",
    )
    parser.add_argument("--tightened", action="store_true", help="tightened instead of normal inspection")


def _add_points(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--good",
        type=_point,
        metavar="BAD:RISK",
        help="percent bad of a lot that should pass, and percent risk that it is rejected all the same",
    )
    parser.add_argument(
        "--poor",
        type=_point,
        metavar="BAD:RISK",
        help="percent bad of a lot that should be rejected, and percent risk that it passes all the same",
    )
    parser.add_argument(
        "--by",
        choices=("counting", "unit-by-unit", "values", "values-known-spread"),
        default="counting",
        metavar="WAY",
        help="how it is judged: counting (the default), unit-by-unit, values of a set point, or values-known-spread",
    )
    parser.add_argument(
        "--isolated",
        action="store_true",
        help="the percentages are those of this one lot, not of the process that it comes out of",
    )


def _lot(text: str) -> int:
    return whole_number(text, 1, _LARGEST_LOT)


def _aql(text: str) -> float:
    return _percent(text, text)


def _found(text: str) -> tuple[int, int]:
    return _numbers(text, "bad ones / units tested, as 1/80")


def _plan(text: str) -> tuple[int, int]:
    return _numbers(text, "units tested / bad allowed, as 80/2")


def _numbers(text: str, allowed: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d{1,6})/(\d{1,6})", text, re.ASCII)
    if match is None:
        raise argparse.ArgumentTypeError(f"given {text!r}; allowed: {allowed}")
    return int(match[1]), int(match[2])


def _point(text: str) -> tuple[float, float]:
    share, colon, risk = text.partition(":")
    if not colon:
        raise argparse.ArgumentTypeError(f"given {text!r}; allowed: percent bad : percent risk, as 1:5")
    return _percent(share, text) / 100, _percent(risk, text) / 100


def _percent(number: str, given: str) -> float:
    try:
        value = float(number)
    except ValueError:
        value = math.nan
    if not 0 < value < 100:
        raise argparse.ArgumentTypeError(f"given {given!r}; allowed: percent above 0 and below 100, as 0.65")
    return value
