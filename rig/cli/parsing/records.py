"""Arguments of the commands that read the record."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from rig.cli.parsing.common import (
    Commands,
    add,
    add_force,
    add_output,
    add_print,
    add_where_papers_go,
    quantity,
    whole_number,
)

TITLE = "papers and verdicts"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_explain(commands)
    _add_label(commands)
    _add_certificate(commands)
    _add_report(commands)


def _add_explain(commands: Commands) -> None:
    parser = add(
        commands,
        "explain",
        "follow the verdict on one unit from its readings, out of the record alone, and work it out again",
        "teachrig explain QOC18-0041",
    )
    parser.add_argument("serial", metavar="SERIAL", help="serial of a unit that was in work")
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--order", metavar="NUMBER", help="its last run for this order (default: its last run)"
    )
    which.add_argument("--run", type=quantity, metavar="N", help="its Nth run, as listed at the end")
    parser.add_argument(
        "--full", action="store_true", help="also work out the guard, from every source of doubt"
    )
    add_output(parser)


def _add_label(commands: Commands) -> None:
    parser = add(
        commands,
        "label",
        "print labels of units with a verdict, from their record: what each is set to, or not to use it",
        "teachrig label --order QOC-0101 --template unit-sheet",
    )
    parser.add_argument("serials", nargs="*", metavar="SERIAL", help="units, as in the record")
    parser.add_argument("--order", metavar="NUMBER", help="all units of an order, by its number")
    parser.add_argument(
        "--template",
        action="append",
        default=[],
        metavar="NAME",
        help="label template, file or name (default: unit-roll, do-not-use); once for each of the two uses",
    )
    parser.add_argument(
        "--skip",
        type=_skipped,
        default=0,
        metavar="N",
        help="leave out N labels of a sheet that were used before",
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="PDF file (default: named after order or unit)"
    )
    add_force(parser)
    add_print(parser)
    add_output(parser)


def _add_certificate(commands: Commands) -> None:
    parser = add(
        commands,
        "certificate",
        "write the certificate of a unit: setting, readings, verdict and why, on one page and for a browser",
        "teachrig certificate QOC18-0041 --out papers",
    )
    parser.add_argument("serials", nargs="*", metavar="SERIAL", help="units, as in the record")
    parser.add_argument(
        "--order",
        metavar="NUMBER",
        help="all units of an order, by its number, each by its last run for that",
    )
    _add_papers(parser)


def _add_report(commands: Commands) -> None:
    parser = add(
        commands,
        "report",
        "write the report on an order: every unit, deviations, faults ranked, yield and times",
        "teachrig report QOC-0101 --out papers",
    )
    parser.add_argument("order", metavar="ORDER", help="number of an order, as in the record")
    _add_papers(parser)


def _add_papers(parser: ArgumentParser) -> None:
    add_where_papers_go(parser, "this one; with --json or --print: no file")
    add_output(parser)


def _skipped(text: str) -> int:
    return whole_number(text, 0, 1000)
