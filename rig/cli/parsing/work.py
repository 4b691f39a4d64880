"""Arguments of the commands that work on units."""

from __future__ import annotations

import argparse

from rig.cli.parsing.common import (
    Commands,
    add,
    add_bench_file,
    add_data,
    add_order,
    add_output,
    add_rig,
    quantity,
    seed,
    whole_number,
)

TITLE = "work on units"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_demo(commands)
    _add_run(commands)
    _add_bench(commands)
    _add_survey(commands)
    _add_verify(commands)


def _add_demo(commands: Commands) -> None:
    parser = add(
        commands,
        "demo",
        "set and check a mixed batch on the simulated bench, sound and faulty units of three types",
        "teachrig demo --units 24 --seed 7",
    )
    parser.add_argument(
        "--units",
        type=quantity,
        default=18,
        metavar="N",
        help="how many units (default 18: every fault once)",
    )
    parser.add_argument("--seed", type=seed, default=1, metavar="S", help="same seed, same batch (default 1)")
    add_output(parser)


def _add_run(commands: Commands) -> None:
    parser = add(
        commands,
        "run",
        "set and check every unit of an order",
        "teachrig run hopper-window-no --bench demo",
    )
    _add_order_on_bench(parser)


def _add_verify(commands: Commands) -> None:
    parser = add(
        commands,
        "verify",
        "check every unit of an order without teaching it, and how far it has moved since its own earlier record",
        "teachrig verify tipper-point-no",
    )
    _add_order_on_bench(parser)


def _add_order_on_bench(parser: argparse.ArgumentParser) -> None:
    add_order(parser)
    add_bench_file(parser)
    parser.add_argument("--real-time", action="store_true", help="simulated bench in real time")
    parser.add_argument(
        "--anew",
        action="store_true",
        help="do every unit, also of an order that was begun before (default: those that are left)",
    )
    _add_by(parser)
    add_output(parser)


def _add_bench(commands: Commands) -> None:
    parser = add(
        commands,
        "bench",
        "work through an order on the bench screen, unit by unit as they are scanned",
        "teachrig bench --practice",
    )
    parser.add_argument(
        "order",
        nargs="?",
        metavar="ORDER",
        help="order file, or name of a shipped example (default: pick one on the screen)",
    )
    parser.add_argument(
        "--practice", action="store_true", help="a first order on a simulated bench, led through"
    )
    parser.add_argument(
        "--study",
        nargs="?",
        const="",
        metavar="NUMBER",
        help="the trials of a gauge study instead, the one opened last or of this number",
    )
    parser.add_argument("--lot", metavar="LOT", help="receive a lot that was opened, instead of an order")
    add_rig(parser)
    add_bench_file(parser)
    parser.add_argument(
        "--speed",
        type=_speed,
        default=None,
        metavar="N",
        help="simulated bench: N times as fast as real time, up to 20",
    )
    parser.add_argument(
        "--look", choices=("dark", "light", "plain"), default=None, help="colours, or none (default: dark)"
    )
    parser.add_argument("--language", choices=("en", "de"), default=None, help="default: as the terminal's")
    parser.add_argument("--bell", action="store_true", help="ring at every verdict")
    parser.add_argument("--flash", action="store_true", help="let the large word flash at every verdict")
    _add_by(parser)
    add_data(parser)


def _add_survey(commands: Commands) -> None:
    parser = add(
        commands,
        "survey",
        "measure a unit that is already set, without teaching it, and write the order that sets others alike",
        "teachrig survey barrel-18-rail --bench hopper-unit",
    )
    parser.add_argument("type", metavar="TYPE", help="sensor type of the unit: name, or file")
    parser.add_argument("--serial", metavar="S", help="serial of the unit (default: the date and time)")
    add_rig(parser)
    add_bench_file(parser)
    parser.add_argument(
        "--out", metavar="ORDER.toml", help="where to write the order (default: your own folder of orders)"
    )
    parser.add_argument(
        "--tolerance",
        type=_millimetres,
        metavar="MM",
        help="tolerance of the order, in mm (default: proposed from the measured uncertainty and the type)",
    )
    parser.add_argument(
        "--quantity",
        type=quantity,
        default=1,
        metavar="N",
        help="how many units the order is for (default 1)",
    )
    parser.add_argument("--real-time", action="store_true", help="simulated bench in real time")
    _add_by(parser)
    add_output(parser)


def _add_by(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--by", metavar="NAME", help="who works at the bench, for the record: a name, or a badge"
    )


def _speed(text: str) -> int:
    return whole_number(text, 1, 20)


def _millimetres(text: str) -> float:
    allowed = "allowed: a number above 0, up to 500"
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"given {text!r}; {allowed}") from None
    if not 0 < value <= 500:
        raise argparse.ArgumentTypeError(f"given {text!r}; {allowed}")
    return value
