"""The `teachrig` command: words in, exit code out. Commands import what they need when they are called."""

from __future__ import annotations

import argparse
import textwrap
import traceback
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import TypeAlias

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.schemas import SCHEMAS

CAUTIONS = """\
cautions:
  PELV only, current-limited and fused. Never on a sensor still wired to a machine, and never to set a sensor \
that is part of a safety function outside its own instructions. Keep fingers clear of a moving target. The stop \
button must work in hardware, without this program. Have the wiring checked by a qualified person under local \
codes. The rig is not a safety function."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    options = _parser().parse_args(arguments)
    code: int = Exit.DONE
    try:
        with reader_may_leave(only_printing=False):
            code = import_module(f"rig.cli.{options.command}").command(options)
    except GiveUp as end:
        narrate(f"teachrig: {end}")
        code = end.code
    except KeyboardInterrupt:
        code = Exit.INTERRUPTED
    except Exception as fault:
        narrate(traceback.format_exc().rstrip())
        narrate(
            f"teachrig: a fault of the program ({fault!r}); everything is off. Report it with the lines above."
        )
        code = Exit.PROGRAM_FAULT
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="teachrig",
        description="Teach sensors through their teach wire, prove by measurement where each one switches, record it.",
        epilog=CAUTIONS,
        formatter_class=_Help,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and leave")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_demo(commands)
    _add_run(commands)
    _add_bench(commands)
    _add_survey(commands)
    _add_plan(commands)
    _add_verify(commands)
    _add_explain(commands)
    _add_risk(commands)
    _add_card(commands)
    _add_label(commands)
    _add_validate(commands)
    _add_types(commands)
    _add_new(commands)
    _add_schema(commands)
    return parser


_Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def _add(commands: _Commands, name: str, words: str, example: str) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=words,
        description=words[0].upper() + words[1:] + ".",
        epilog=f"example: {example}",
        formatter_class=_Help,
    )


class _Help(argparse.HelpFormatter):
    """Keeps the lines of a text, and breaks those that the terminal is too narrow for."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines = []
        for line in text.splitlines():
            words = line.lstrip()
            margin = indent + line.removesuffix(words)
            lines += textwrap.wrap(
                words, width, initial_indent=margin, subsequent_indent=margin, break_on_hyphens=False
            )
        return "\n".join(lines)


class _Version(argparse.Action):
    """Looks the version up only when it is asked for: reading package metadata costs a quarter of `--help`."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from rig.software import software_version

        parser.exit(message=f"teachrig {software_version()}\n")


def _add_demo(commands: _Commands) -> None:
    parser = _add(
        commands,
        "demo",
        "set and check a mixed batch on the simulated bench, sound and faulty units of three types",
        "teachrig demo --units 24 --seed 7",
    )
    parser.add_argument(
        "--units",
        type=_quantity,
        default=18,
        metavar="N",
        help="how many units (default 18: every fault once)",
    )
    parser.add_argument(
        "--seed", type=_seed, default=1, metavar="S", help="same seed, same batch (default 1)"
    )
    _add_output(parser)


def _add_run(commands: _Commands) -> None:
    parser = _add(
        commands,
        "run",
        "set and check every unit of an order",
        "teachrig run hopper-window-no --bench demo",
    )
    _add_order_on_bench(parser)


def _add_verify(commands: _Commands) -> None:
    parser = _add(
        commands,
        "verify",
        "check every unit of an order without teaching it, and how far it has moved since its own earlier record",
        "teachrig verify tipper-point-no",
    )
    _add_order_on_bench(parser)


def _add_order_on_bench(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("order", metavar="ORDER", help="order file, or name of a shipped example")
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument(
        "--bench", metavar="FILE", help="what the simulated bench holds: file or shipped name"
    )
    parser.add_argument("--real-time", action="store_true", help="simulated bench in real time")
    _add_output(parser)


def _add_bench(commands: _Commands) -> None:
    parser = _add(
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
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument(
        "--bench", metavar="FILE", help="what the simulated bench holds: file or shipped name"
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        default=None,
        metavar="N",
        help="simulated bench: N times as fast as real time",
    )
    parser.add_argument(
        "--look", choices=("dark", "light", "plain"), default=None, help="colours, or none (default: dark)"
    )
    parser.add_argument("--language", choices=("en", "de"), default=None, help="default: as the terminal's")
    parser.add_argument("--bell", action="store_true", help="ring at every verdict")
    _add_data(parser)


def _add_survey(commands: _Commands) -> None:
    parser = _add(
        commands,
        "survey",
        "measure a unit that is already set, without teaching it, and write the order that sets others alike",
        "teachrig survey barrel-18-rail --bench hopper-unit",
    )
    parser.add_argument("type", metavar="TYPE", help="sensor type of the unit: name, or file")
    parser.add_argument("--serial", metavar="S", help="serial of the unit (default: the date and time)")
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument(
        "--bench", metavar="FILE", help="what the simulated bench holds: file or shipped name"
    )
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
        type=_quantity,
        default=1,
        metavar="N",
        help="how many units the order is for (default 1)",
    )
    parser.add_argument("--real-time", action="store_true", help="simulated bench in real time")
    _add_output(parser)


def _add_plan(commands: _Commands) -> None:
    parser = _add(
        commands,
        "plan",
        "show every step, target position and check of an order, before anything moves",
        "teachrig plan cold-store-need --sweep temperature=-10:40",
    )
    parser.add_argument("order", metavar="ORDER", help="order file, or name of a shipped example")
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument("--json", action="store_true", help="print JSON")
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


def _add_explain(commands: _Commands) -> None:
    parser = _add(
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
    which.add_argument("--run", type=_quantity, metavar="N", help="its Nth run, as listed at the end")
    parser.add_argument(
        "--full", action="store_true", help="also work out the guard, from every source of doubt"
    )
    _add_output(parser)


def _add_risk(commands: _Commands) -> None:
    parser = _add(
        commands,
        "risk",
        "work out how often a bad unit would pass and a sound one fail, and try it on simulated benches",
        "teachrig risk tipper-point-no --units 200 --state tipper.study",
    )
    parser.add_argument("order", metavar="ORDER", help="order file, or name of a shipped example")
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument(
        "--units", type=_many, default=1000, metavar="N", help="how many units are tried (default 1000)"
    )
    parser.add_argument(
        "--seed", type=_seed, default=1, metavar="S", help="same seed, same units (default 1)"
    )
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
    parser.add_argument("--json", action="store_true", help="print JSON")


def _add_card(commands: _Commands) -> None:
    parser = _add(
        commands,
        "card",
        "write the hand card of an order: how to set the unit at the machine by hand",
        "teachrig card tipper-point-no --out tipper.pdf",
    )
    parser.add_argument("order", metavar="ORDER", help="order file, or name of a shipped example")
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="PDF file (default: hand-card-NUMBER.pdf)")
    parser.add_argument("--force", action="store_true", help="replace the file if it is there already")


def _add_label(commands: _Commands) -> None:
    parser = _add(
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
    parser.add_argument("--force", action="store_true", help="replace a file that is there already")
    parser.add_argument(
        "--print",
        nargs="?",
        const="",
        metavar="PRINTER",
        help="send it to a printer (default: the system's default printer), besides or instead of a file",
    )
    _add_output(parser)


def _add_validate(commands: _Commands) -> None:
    parser = _add(
        commands,
        "validate",
        "check data files: orders, sensor types, rig profiles, simulated benches, label templates",
        "teachrig validate my-order.toml my-rig.toml",
    )
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="a TOML file of ours")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _add_types(commands: _Commands) -> None:
    parser = _add(
        commands,
        "types",
        "list the sensor types that are known, or show one of them in full",
        "teachrig types barrel-18-rail",
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help="a sensor type, or its file")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _add_new(commands: _Commands) -> None:
    parser = _add(
        commands,
        "new",
        "ask for an order, a sensor type or a rig profile, and write its file",
        "teachrig new order",
    )
    parser.add_argument("kind", choices=("order", "type", "rig"), metavar="KIND", help="%(choices)s")
    parser.add_argument(
        "--out", metavar="FILE", help="where to write it, - for standard output (default: your own folder)"
    )
    parser.add_argument(
        "--rig", metavar="PROFILE", help="order: rig to plan it on (default: the simulated bench)"
    )


def _add_schema(commands: _Commands) -> None:
    parser = _add(
        commands,
        "schema",
        "print the JSON Schema of a kind of data file, for an editor that completes and checks TOML",
        "teachrig schema order > order.schema.json",
    )
    parser.add_argument("kind", choices=SCHEMAS, help="which kind of data file: %(choices)s", metavar="KIND")


def _add_output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")
    _add_data(parser)


def _add_data(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        help="folder of the records (default: $TEACHRIG_DATA, else the user's data folder)",
    )


def _quantity(text: str) -> int:
    return _whole_number(text, 1, 10_000)


def _skipped(text: str) -> int:
    return _whole_number(text, 0, 1000)


def _speed(text: str) -> int:
    return _whole_number(text, 1, 20)


def _many(text: str) -> int:
    return _whole_number(text, 1, 10_000_000)


def _cores(text: str) -> int:
    return _whole_number(text, 1, 1024)


def _unit_seed(text: str) -> int:
    return _whole_number(text, 0, 2**48 - 1)


def _seed(text: str) -> int:
    return _whole_number(text, 0, 2**32 - 1)


def _millimetres(text: str) -> float:
    allowed = "allowed: a number above 0, up to 500"
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"given {text!r}; {allowed}") from None
    if not 0 < value <= 500:
        raise argparse.ArgumentTypeError(f"given {text!r}; {allowed}")
    return value


def _whole_number(text: str, least: int, most: int) -> int:
    if not text.isascii() or not text.isdigit() or not least <= int(text[:20]) <= most:
        raise argparse.ArgumentTypeError(f"given {text!r}; allowed: a whole number from {least} to {most}")
    return int(text)
