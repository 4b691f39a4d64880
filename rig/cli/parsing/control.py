"""Arguments of the commands that watch rig and production: check unit and charts."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from rig.cli.parsing.common import (
    Commands,
    add,
    add_acts,
    add_bench_file,
    add_force,
    add_output,
    add_rig,
)
from rig.cli.parsing.finding import add_csv, add_shop, add_which_units

TITLE = "stay in control"

_CAUSES = ("rig", "check-unit", "handling", "not-found")
_EACH = ("order", "type", "nest", "person")


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_check_unit(commands)
    _add_chart(commands)


def _add_check_unit(commands: Commands) -> None:
    parser = add(
        commands,
        "checkunit",
        "keep a set unit and measure it at the start of each shift: its charts watch the rig, a signal stops work",
        "teachrig checkunit measure --by Maren",
    )
    add_acts(parser, _add_keep, _add_measure, _add_show, _add_look, _add_give_up)


def _add_keep(acts: Commands) -> None:
    parser = add(
        acts,
        "keep",
        "make a unit that was set and found good the check unit of a rig; its charts begin anew",
        "teachrig checkunit keep QOC18-0141 --by Maren",
    )
    parser.add_argument("serial", metavar="SERIAL", help="serial of a unit whose last verdict is good")
    parser.add_argument("--why", default="", metavar="TEXT", help="why this one, for the record")
    parser.add_argument(
        "--rule",
        action="append",
        metavar="NAME",
        help="a run rule, or a set of them: careful, four, eight (default: those of the rig profile); once for each",
    )
    _add_who(parser)


def _add_measure(acts: Commands) -> None:
    parser = add(
        acts,
        "measure",
        "measure the check unit of a rig and chart it; nothing teaches it",
        "teachrig checkunit measure --by Maren",
    )
    add_bench_file(parser)
    parser.add_argument("--real-time", action="store_true", help="simulated bench in real time")
    _add_who(parser)


def _add_show(acts: Commands) -> None:
    parser = add(
        acts,
        "show",
        "tell how the check unit of a rig stands: charts, signals, who has looked and what was found",
        "teachrig checkunit show",
    )
    add_rig(parser)
    _add_paper(parser)
    add_force(parser)
    add_output(parser)


def _add_paper(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="also write the charts into this folder, to sign: PDF and HTML",
    )


def _add_look(acts: Commands) -> None:
    parser = add(
        acts,
        "look",
        "enter that somebody has looked into a signal, and what was found; then the check unit is measured again",
        'teachrig checkunit look --by Tobias --found "belt of the stage slack, tightened" --cause rig',
    )
    parser.add_argument(
        "--found", required=True, metavar="TEXT", help="what was found and done, for the record"
    )
    parser.add_argument("--cause", required=True, choices=_CAUSES, help="where the cause was")
    _add_who(parser, required=True)


def _add_give_up(acts: Commands) -> None:
    parser = add(
        acts,
        "give-up",
        "enter that a rig has no check unit any more",
        'teachrig checkunit give-up --by Tobias --why "cable torn"',
    )
    parser.add_argument("--why", required=True, metavar="TEXT", help="why, for the record")
    _add_who(parser, required=True)


def _add_who(parser: ArgumentParser, *, required: bool = False) -> None:
    add_rig(parser)
    parser.add_argument(
        "--by", required=required, metavar="NAME", help="who, for the record: a name, or a badge"
    )
    add_output(parser)


def _add_chart(commands: Commands) -> None:
    parser = add(
        commands,
        "chart",
        "chart how far set points lie from where they were ordered: is the work in control, and how capable is it",
        "teachrig chart --type barrel-18-rail --each person",
    )
    add_which_units(parser, purpose="set")
    parser.add_argument(
        "--each",
        choices=_EACH,
        metavar="WHAT",
        help="a chart for each of these: %(choices)s (default: one for all)",
    )
    parser.add_argument(
        "--rule",
        action="append",
        metavar="NAME",
        help="a run rule or a set of them, once for each: careful (the default), four, eight; --rules explains them",
    )
    parser.add_argument(
        "--ranges", action="store_true", help="a moving range beyond its limit is a signal too"
    )
    parser.add_argument("--rules", action="store_true", help="say what each run rule looks for, and leave")
    parser.add_argument(
        "--check-unit", action="store_true", help="instead: the charts of the check unit of a rig"
    )
    add_rig(parser)
    _add_paper(parser)
    add_csv(parser)
    add_shop(parser)
    add_output(parser)
