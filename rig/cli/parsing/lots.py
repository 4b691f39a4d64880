"""Arguments of `teachrig lot`."""

from __future__ import annotations

from argparse import ArgumentParser

from rig.cli.parsing.common import (
    Commands,
    add,
    add_acts,
    add_bench_file,
    add_data,
    add_json,
    add_rig,
    add_where_papers_go,
    whole_number,
)
from rig.cli.parsing.finding import add_shop

_LARGEST_LOT = 100_000


TITLE = "receive lots"


def add_commands(commands: Commands) -> None:
    """Add it to the command line."""
    parser = add(
        commands,
        "lot",
        "receive a lot: draw units at random, test them, decide with what the decision proves, keep the supplier's "
        "history",
        "teachrig lot open LOT-0007 --supplier Hazelbourne --note DN-4471 --type barrel-18-rail --quantity 120",
    )
    add_acts(parser, _open, _run, _close, _show, _papers, _change, _reopen, _aside, _supplier)


def _act(acts: Commands, name: str, words: str, example: str, *, lot: bool = True) -> ArgumentParser:
    parser = add(acts, name, words, f"teachrig lot {example}")
    if lot:
        parser.add_argument("lot", metavar="LOT", help="number of the lot")
    add_json(parser)
    add_data(parser)
    return parser


def _open(acts: Commands) -> None:
    parser = _act(
        acts,
        "open",
        "enter a lot, and say which places of the box are to be tested",
        "open LOT-0007 --supplier 'Hazelbourne Supplies' --note DN-4471 --type barrel-18-rail --quantity 120",
    )
    parser.add_argument("--supplier", required=True, metavar="NAME", help="whom it comes from")
    parser.add_argument("--note", required=True, metavar="TEXT", help="number of the delivery note")
    parser.add_argument(
        "--type",
        required=True,
        metavar="TYPE",
        help="sensor type; its receiving plan is the one of the same name",
    )
    parser.add_argument(
        "--quantity", required=True, type=_lot_size, metavar="N", help="units in the box, counted"
    )
    parser.add_argument("--plan", metavar="PLAN", help="another receiving plan, file or name")
    parser.add_argument(
        "--resubmits", metavar="LOT", help="this is that lot, which was not accepted, sorted and sent again"
    )
    parser.add_argument(
        "--mended", metavar="WORDS", help="what the supplier has mended, where inspection had been stopped"
    )
    parser.add_argument(
        "--seed", type=_draw_seed, metavar="N", help="seed of the draw, for practice (default: by chance)"
    )
    _add_by(parser)
    add_shop(parser)


def _run(acts: Commands) -> None:
    parser = _act(
        acts,
        "run",
        "test the units of a lot that were drawn, from where it stands",
        "run LOT-0007 --bench delivery --by Maren",
    )
    add_rig(parser)
    add_bench_file(parser)
    parser.add_argument(
        "--real-time", action="store_true", help="let the simulated bench take as long as a real one"
    )
    _add_by(parser)


def _close(acts: Commands) -> None:
    parser = _act(
        acts,
        "close",
        "decide about a lot, once its sample is tested, and write its papers",
        "close LOT-0007 --by Maren",
    )
    add_where_papers_go(parser, "none are written")
    _add_by(parser)


def _show(acts: Commands) -> None:
    parser = _act(
        acts, "show", "show a lot: draw, units, how it stands; without a number, all lots", "show", lot=False
    )
    parser.add_argument("lot", nargs="?", metavar="LOT", help="number of the lot (default: a list of all)")
    add_shop(parser)


def _papers(acts: Commands) -> None:
    parser = _act(
        acts,
        "papers",
        "write the report on a lot, and the complaint to its supplier where units have a defect",
        "papers LOT-0007 --out papers",
    )
    add_where_papers_go(parser, "this one; with --json or --print: no file")


def _change(acts: Commands) -> None:
    parser = _act(
        acts,
        "change",
        "correct the number of units of an open lot, or test it by another plan; what was tested stays",
        "change LOT-0007 --quantity 118 --why 'counted again, two are missing' --by Maren",
    )
    parser.add_argument("--quantity", type=_lot_size, metavar="N", help="units that are really in the box")
    parser.add_argument("--plan", metavar="PLAN", help="receiving plan, file or name, as it is now")
    parser.add_argument("--why", required=True, metavar="WORDS", help="why")
    _add_by(parser)


def _reopen(acts: Commands) -> None:
    parser = _act(
        acts,
        "reopen",
        "take back the decision on a lot",
        "reopen LOT-0007 --why 'plug of nest A was loose' --by Maren",
    )
    parser.add_argument("--why", required=True, metavar="WORDS", help="why")
    _add_by(parser)


def _aside(acts: Commands) -> None:
    parser = _act(
        acts,
        "aside",
        "say that units which are not sound have been put aside",
        "aside LOT-0007 42 98 --by Maren",
    )
    parser.add_argument("places", nargs="+", type=_lot_size, metavar="PLACE", help="their places in the box")
    _add_by(parser)


def _supplier(acts: Commands) -> None:
    parser = _act(
        acts,
        "supplier",
        "show the history of a supplier: lots, share of defective units, faults ranked, inspection of the next lot",
        "supplier 'Hazelbourne Supplies'",
        lot=False,
    )
    parser.add_argument("supplier", nargs="?", metavar="NAME", help="name of the supplier (default: all)")
    parser.add_argument("--type", metavar="TYPE", help="only this sensor type")
    add_shop(parser)


def _add_by(parser: ArgumentParser) -> None:
    parser.add_argument("--by", metavar="NAME", help="who does it: a name, or what a badge holds")


def _lot_size(text: str) -> int:
    return whole_number(text, 1, _LARGEST_LOT)


def _draw_seed(text: str) -> int:
    return whole_number(text, 0, 2**63 - 1)
