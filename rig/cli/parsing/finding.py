"""Arguments of the commands that find something in the record."""

from __future__ import annotations

import argparse
from pathlib import Path

from rig.cli.parsing.common import Commands, add, add_data, add_force, add_json, add_output, whole_number

TITLE = "find in the record, and decide"

_VERDICTS = ("good", "bad", "undecided")
_PURPOSES = ("set", "verify", "survey", "receive", "study")
_GROUPINGS = ("order", "type", "customer", "bench", "person", "rig", "year", "month", "day")


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_units(commands)
    _add_unit(commands)
    _add_orders(commands)
    _add_tally(commands)
    _add_readings(commands)
    _add_decide(commands)


def _add_units(commands: Commands) -> None:
    parser = add(
        commands,
        "units",
        "list units of the record, the newest first: each once per order, or every attempt",
        "teachrig units --order QOC-0101 --verdict bad",
    )
    add_which_units(parser)
    parser.add_argument(
        "--attempts", action="store_true", help="every attempt, also those that were repeated"
    )
    _add_listing(parser)


def _add_unit(commands: Commands) -> None:
    parser = add(
        commands,
        "unit",
        "tell the history of one unit: every time in the nest, verdicts, drift, papers, corrections",
        "teachrig unit QOC18-0041",
    )
    parser.add_argument("serial", metavar="SERIAL", help="serial of a unit that was in work")
    add_shop(parser)
    add_output(parser)


def _add_orders(commands: Commands) -> None:
    parser = add(
        commands,
        "orders",
        "list the orders of the record, the last one worked on first, with state, counts and yield",
        "teachrig orders --state open",
    )
    _add_which_orders(parser)
    parser.add_argument("--state", choices=("done", "open", "in-work"), help="only those in this state")
    parser.add_argument(
        "--work",
        choices=_PURPOSES,
        help="only these; surveys and studies are listed with this, or by number (default: all others)",
    )
    _add_listing(parser)


def _add_tally(commands: Commands) -> None:
    parser = add(
        commands,
        "tally",
        "count units: yields, why units were not good, time per unit",
        "teachrig tally --each type --since 2026-01",
    )
    add_which_units(parser, purpose="set")
    parser.add_argument(
        "--each",
        choices=_GROUPINGS,
        default="order",
        metavar="WHAT",
        help="what is counted together: %(choices)s (default: order)",
    )
    _add_format(parser)


def _add_readings(commands: Commands) -> None:
    parser = add(
        commands,
        "readings",
        "write every reading of the units that are asked for into a file, for analysis elsewhere",
        "teachrig readings --order QOC-0104 --out readings.parquet",
    )
    add_which_units(parser)
    parser.add_argument(
        "--attempts", action="store_true", help="every attempt, also those that were repeated"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="a file that ends in .parquet or .csv")
    add_force(parser)
    _add_columns(parser)
    add_shop(parser)
    add_data(parser)


def _add_decide(commands: Commands) -> None:
    parser = add(
        commands,
        "decide",
        "decide by hand about a unit that the bench was undecided about; a second person releases it",
        'teachrig decide QOC30-0019 good --by Maren --released-by Tobias --reason "LED seen by eye"',
    )
    parser.add_argument("serial", metavar="SERIAL", help="serial of the unit")
    parser.add_argument("verdict", choices=("good", "bad"), metavar="VERDICT", help="%(choices)s")
    parser.add_argument("--by", required=True, metavar="NAME", help="who decides")
    parser.add_argument(
        "--released-by", required=True, metavar="NAME", help="who releases it, another person"
    )
    parser.add_argument("--reason", required=True, metavar="TEXT", help="why, for the record")
    add_output(parser)


def add_which_units(parser: argparse.ArgumentParser, purpose: str | None = None) -> None:
    """Add which units are wanted."""
    parser.add_argument("serial", nargs="?", metavar="SERIAL", help="a serial, or part of one")
    _add_which_orders(parser)
    parser.add_argument("--verdict", choices=_VERDICTS, help="the bench's verdict")
    parser.add_argument("--reason", metavar="WORD", help="the reason of that verdict, such as near-tolerance")
    parser.add_argument("--person", metavar="NAME", help="who had signed in")
    parser.add_argument(
        "--at-bench", metavar="NAME", help="bench that recorded it: name, or begin of its uuid"
    )
    words = "what was done with it" + (f" (default: {purpose})" if purpose else "")
    parser.add_argument("--work", choices=_PURPOSES, default=purpose, help=words)


def _add_which_orders(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--order", metavar="NUMBER", help="number of an order, or part of one")
    parser.add_argument("--customer", metavar="NAME", help="whom the order is for, or part of the name")
    parser.add_argument("--type", metavar="TYPE", help="sensor type, or part of its name")
    parser.add_argument(
        "--since", type=_period, metavar="DATE", help="begun then or later: year, month or day (UTC)"
    )
    parser.add_argument(
        "--until", type=_period, metavar="DATE", help="begun then or earlier, to the end of it"
    )


def _add_listing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--limit", type=_size, metavar="N", help="how many rows (default: 20; all with --json or --csv)"
    )
    parser.add_argument("--next", type=_place, metavar="PLACE", help="go on from where the page before ended")
    _add_format(parser)


def add_csv(parser: argparse.ArgumentParser) -> None:
    """Add the choice of CSV."""
    parser.add_argument(
        "--csv", nargs="?", const="-", metavar="FILE", help="as CSV, into a file or to standard output"
    )
    add_force(parser)


def _add_format(parser: argparse.ArgumentParser) -> None:
    add_csv(parser)
    _add_columns(parser)
    add_shop(parser)
    add_json(parser, "print JSON, with the columns as keys")
    add_data(parser)


def _add_columns(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--columns", action="store_true", help="say what each column means, and leave")


def add_shop(parser: argparse.ArgumentParser) -> None:
    """Add the choice of the shop's database."""
    parser.add_argument(
        "--shop", action="store_true", help="ask the shop's database: the records of all its benches"
    )


def _size(text: str) -> int:
    return whole_number(text, 1, 1_000_000)


def _period(text: str) -> str:
    from rig.finding.periods import period

    try:
        period(text)
    except ValueError as wrong:
        raise argparse.ArgumentTypeError(str(wrong)) from None
    return text


def _place(text: str) -> object:
    from rig.finding.units import Place

    try:
        return Place.read(text)
    except ValueError as wrong:
        raise argparse.ArgumentTypeError(str(wrong)) from None
