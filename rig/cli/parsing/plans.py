"""Arguments of the commands that look ahead: what would be done, and how far it can be trusted."""

from __future__ import annotations

from pathlib import Path

from rig.cli.parsing.common import (
    Commands,
    add,
    add_force,
    add_json,
    add_order,
    add_output,
    seed,
    whole_number,
)

TITLE = "look ahead"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_plan(commands)
    _add_card(commands)
    _add_risk(commands)


def _add_plan(commands: Commands) -> None:
    parser = add(
        commands,
        "plan",
        "show every step, target position and check of an order, before anything moves",
        "teachrig plan cold-store-need --sweep temperature=-10:40",
    )
    add_order(parser)
    add_output(parser)
    parser.add_argument(
        "--air-now", action="store_true", help="in the air that the rig's probe measures now, as `run` does"
    )
    more = parser.add_mutually_exclusive_group()
    more.add_argument(
        "--explain", action="store_true", help="also work out every figure, with its formula and its sources"
    )
    more.add_argument(
        "--sweep",
        metavar="QUANTITY=FROM:TO[:STEP]",
        help="instead: where each set point goes while a quantity runs through a range: temperature, humidity, "
        "pressure or altitude at the machine, set-point, near, far or tolerance",
    )
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write the table of the sweep as CSV")
    parser.add_argument("--force", action="store_true", help="replace the CSV file if it is there already")


def _add_card(commands: Commands) -> None:
    parser = add(
        commands,
        "card",
        "write the hand card of an order: how to set the unit at the machine by hand",
        "teachrig card tipper-point-no --out tipper.pdf",
    )
    add_order(parser)
    parser.add_argument("--out", type=Path, metavar="FILE", help="PDF file (default: hand-card-NUMBER.pdf)")
    add_force(parser)


def _add_risk(commands: Commands) -> None:
    parser = add(
        commands,
        "risk",
        "work out how often a bad unit would pass and a sound one fail, and try it on simulated benches",
        "teachrig risk tipper-point-no --units 200 --state tipper.study",
    )
    add_order(parser)
    parser.add_argument(
        "--units", type=_many, default=1000, metavar="N", help="how many units are tried (default 1000)"
    )
    parser.add_argument("--seed", type=seed, default=1, metavar="S", help="same seed, same units (default 1)")
    parser.add_argument("--cores", type=_cores, metavar="N", help="processor cores to use (default: all)")
    parser.add_argument(
        "--state",
        type=Path,
        metavar="FILE",
        help="keep what is done in FILE, and go on from there another time",
    )
    parser.add_argument(
        "--rates",
        metavar="FILE",
        help="how often which fault comes, file or shipped name (default: realistic)",
    )
    parser.add_argument("--replay", type=_unit_seed, metavar="SEED", help="instead: play one unit again")
    add_json(parser)


def _many(text: str) -> int:
    return whole_number(text, 1, 10_000_000)


def _cores(text: str) -> int:
    return whole_number(text, 1, 1024)


def _unit_seed(text: str) -> int:
    return whole_number(text, 0, 2**48 - 1)
