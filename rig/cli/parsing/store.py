"""Arguments of the commands that keep the record: proof, copies."""

from __future__ import annotations

from pathlib import Path

from rig.cli.parsing.common import Commands, add, add_output, whole_number

TITLE = "keep the record"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_audit(commands)
    _add_backup(commands)
    _add_restore(commands)
    _add_forward(commands)
    _add_correct(commands)


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
    parser.add_argument(
        "--against",
        action="append",
        default=[],
        metavar="WHAT",
        help="also show that nothing is missing at its end: against a seal as a certificate has it, a copy made by "
        "backup, or the word shop; may be given again",
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
        "put a copy of the record back, after proof, even while a bench works; the record that is there is never lost",
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


def _add_correct(commands: Commands) -> None:
    parser = add(
        commands,
        "correct",
        "say of an entry of the record what is wrong with it, by whom and why; the entry itself stays",
        'teachrig correct 1841 --person Anna --why "unit was mixed up with QOC18-0042 at the nest"',
    )
    parser.add_argument(
        "entry", type=_entry, metavar="ENTRY", help="number of the entry, as audit and unit name it"
    )
    parser.add_argument(
        "--field", default="", metavar="NAME", help="which of its fields (default: none, a remark)"
    )
    parser.add_argument("--right", default="", metavar="VALUE", help="what would be right there")
    parser.add_argument("--person", required=True, metavar="NAME", help="who says so")
    parser.add_argument("--why", required=True, metavar="WORDS", help="why")
    add_output(parser)


def _entry(text: str) -> int:
    return whole_number(text, 1, 2**62)
