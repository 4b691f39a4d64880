"""Arguments of the commands that keep the record: proof, copies."""

from __future__ import annotations

from pathlib import Path

from rig.cli.parsing.common import Commands, add, add_output


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_audit(commands)
    _add_backup(commands)
    _add_restore(commands)
    _add_forward(commands)


def _add_audit(commands: Commands) -> None:
    parser = add(
        commands,
        "audit",
        "prove that the record is what it was when it was sealed, or name the first place where it is not",
        "teachrig audit",
    )
    parser.add_argument(
        "--shop",
        action="store_true",
        help="instead: the shop's database, with the accounts of all its benches",
    )
    add_output(parser)


def _add_backup(commands: Commands) -> None:
    parser = add(
        commands,
        "backup",
        "write a proven copy of the record into a new file, while benches work",
        "teachrig backup /media/stick/record-monday.sqlite3",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the new file")
    add_output(parser)


def _add_restore(commands: Commands) -> None:
    parser = add(
        commands,
        "restore",
        "put a copy of the record back, after proof; the record that is there is moved aside, never lost",
        "teachrig restore /media/stick/record-monday.sqlite3",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a copy made by teachrig backup")
    add_output(parser)


def _add_forward(commands: Commands) -> None:
    parser = add(
        commands,
        "forward",
        "send what waits here to the shop's database now; a bench at work does so by itself",
        "TEACHRIG_SHOP_URL=postgresql://... teachrig forward",
    )
    add_output(parser)
