"""Arguments of the studies of the rig."""

from __future__ import annotations

import argparse
from pathlib import Path

from rig.cli.parsing.common import (
    Commands,
    add,
    add_acts,
    add_bench_file,
    add_data,
    add_force,
    add_json,
    add_order,
    add_output,
    add_rig,
    seed,
    whole_number,
)

TITLE = "stay in control"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    parser = add(
        commands,
        "study",
        "find out how good the rig itself is at measuring units",
        "teachrig study gauge open spares-window-measured",
    )
    add_acts(parser, _add_gauge, dest="study_kind", metavar="STUDY", title="studies")


def _add_gauge(studies: Commands) -> None:
    parser = add(
        studies,
        "gauge",
        "units measured by several people, or in several settings of the rig: how much of it is the unit",
        "teachrig study gauge open spares-window-measured\nteachrig study gauge run",
    )
    add_acts(parser, _add_open, _add_run, _add_show, _add_repeat, dest="action")


def _add_open(actions: Commands) -> None:
    parser = add(
        actions,
        "open",
        "lay a study out: which units of an order, by whom, how often, in an order drawn by lot",
        "teachrig study gauge open spares-window-measured --units A-1,A-2,A-3 --people Maren,Tobias",
    )
    add_order(parser)
    parser.add_argument(
        "--units",
        type=_names,
        metavar="SERIAL,...",
        help="the units, set already; ten that differ are usual (default on the simulated bench: ten made-up ones)",
    )
    who = parser.add_mutually_exclusive_group()
    who.add_argument(
        "--people", type=_names, metavar="NAME,...", help="who measures, as their badges say; three are usual"
    )
    who.add_argument(
        "--settings", type=_names, metavar="NAME,...", help="instead: settings of the rig that are compared"
    )
    parser.add_argument(
        "--repeats", type=_repeats, default=3, metavar="N", help="how often each unit by each (default 3)"
    )
    parser.add_argument(
        "--edge", choices=("outer", "inner"), default="outer", help="which end of the zone (default outer)"
    )
    parser.add_argument(
        "--seed", type=seed, metavar="S", help="what the order is drawn from (default: drawn, and recorded)"
    )
    parser.add_argument(
        "--number", metavar="N", help="number of the study (default: GAUGE- and date and time)"
    )
    add_output(parser)


def _add_run(actions: Commands) -> None:
    parser = add(
        actions,
        "run",
        "do the trials that are left, one after the other; leave whenever you like, it goes on from there",
        "teachrig study gauge run",
    )
    _add_which(parser)
    add_rig(parser)
    add_bench_file(parser)
    parser.add_argument(
        "--real-time",
        action="store_true",
        help="simulated bench in real time: people and units are typed as on a board",
    )
    parser.add_argument(
        "--by", metavar="NAME", help="who works at the bench, where settings are compared: a name, or a badge"
    )
    add_output(parser)


def _add_show(actions: Commands) -> None:
    parser = add(
        actions,
        "show",
        "work a study out from its record: components, intervals, bias, verdict, plots; also as a paper",
        "teachrig study gauge show --out papers",
    )
    _add_which(parser)
    parser.add_argument(
        "--out", type=Path, metavar="FOLDER", help="also write it as a paper: one PDF and one HTML file"
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="also write every trial as CSV")
    add_force(parser)
    add_json(parser)
    add_data(parser)


def _add_repeat(actions: Commands) -> None:
    parser = add(
        actions,
        "repeat",
        "set the value of a trial aside, by name and with the reason; `run` does it again, the value stays on record",
        "teachrig study gauge repeat --trial 17 --by Maren --why 'the plug was loose'",
    )
    _add_which(parser)
    parser.add_argument("--trial", type=_trial, required=True, metavar="N", help="which one, by its number")
    parser.add_argument("--by", required=True, metavar="NAME", help="who says so: a name, or a badge")
    parser.add_argument("--why", required=True, metavar="WORDS", help="what was wrong with the value")
    add_data(parser)


def _trial(text: str) -> int:
    return whole_number(text, 1, 10_000)


def _add_which(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "number", nargs="?", metavar="NUMBER", help="number of the study (default: the one opened last)"
    )


def _names(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(","))
    if not all(names):
        raise argparse.ArgumentTypeError(f"given {text!r}; allowed: names with a comma between them")
    return names


def _repeats(text: str) -> int:
    return whole_number(text, 2, 10)
