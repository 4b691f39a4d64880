"""Arguments of the commands that keep the record: proof, copies."""

from __future__ import annotations

from pathlib import Path

from rig.cli.parsing.common import Commands, add, add_output


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_audit(commands)
    _add_backup(commands)
    _add_restore(commands)


def _add_audit(commands: Commands) -> None:
    parser = add(
        commands,
        "audit",
        "prove that the record is what it was when it was sealed, or name the first place where it is not",
        "teachrig audit",
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
