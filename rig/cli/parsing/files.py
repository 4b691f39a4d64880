"""Arguments of the commands about data files."""

from __future__ import annotations

from pathlib import Path

from rig.cli.parsing.common import Commands, add, add_json
from rig.schemas import SCHEMAS

TITLE = "data files and drawings"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_new(commands)
    _add_validate(commands)
    _add_types(commands)
    _add_schema(commands)
    _add_wiring(commands)


def _add_validate(commands: Commands) -> None:
    parser = add(
        commands,
        "validate",
        "check data files: orders, sensor types, rig profiles, simulated benches, label templates",
        "teachrig validate my-order.toml my-rig.toml",
    )
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="a TOML file of ours")
    add_json(parser)


def _add_types(commands: Commands) -> None:
    parser = add(
        commands,
        "types",
        "list the sensor types that are known, or show one of them in full",
        "teachrig types barrel-18-rail",
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help="a sensor type, or its file")
    add_json(parser)


def _add_new(commands: Commands) -> None:
    parser = add(
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


def _add_schema(commands: Commands) -> None:
    parser = add(
        commands,
        "schema",
        "print the JSON Schema of a kind of data file, for an editor that completes and checks TOML",
        "teachrig schema order > order.schema.json",
    )
    parser.add_argument("kind", choices=SCHEMAS, help="which kind of data file: %(choices)s", metavar="KIND")


def _add_wiring(commands: Commands) -> None:
    parser = add(
        commands,
        "wiring",
        "draw and work out the papers from which a rig is built: diagrams, wires, terminals, parts, calculation",
        "teachrig wiring single-nest --out single-nest-papers",
    )
    parser.add_argument("rig", metavar="PROFILE", help="rig profile: name, or file")
    parser.add_argument("--out", type=Path, metavar="DIR", help="folder to write (default: wiring-NAME)")
    parser.add_argument("--force", action="store_true", help="replace files that are there already")
    add_json(parser)
