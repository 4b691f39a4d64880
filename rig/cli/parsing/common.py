"""What the arguments of all commands have in common: how help looks, and how numbers are read.

Nothing here or beside it loads what a command needs: `teachrig --help` must be quick on a small board.
"""

from __future__ import annotations

import argparse
import re
import textwrap
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn, Protocol, TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[Parser]"

_WORD = r"""(?:[^\s'"]|'[^']*'|"[^"]*")+"""
_TOGETHER = re.compile(rf"--\S+ (?!-){_WORD}|{_WORD}")
"""What a shell takes for one word, its quotes kept; an option with its value."""
_WORDS_AT = 17
"""The column of what a command does, in the list of all."""


class Group(Protocol):
    """Commands of one kind: a module beside this one."""

    @property
    def TITLE(self) -> str:  # noqa: N802  # a constant of its module
        """What they are for."""

    def add_commands(self, commands: Commands) -> None:
        """Add them to the command line."""


def add(commands: Commands, name: str, words: str, example: str) -> Parser:
    """Add a command: its name, what it does in one line, and examples, one a line."""
    return commands.add_parser(
        name,
        description=words[0].upper() + words[1:] + ".",
        epilog="\n  ".join(("example:", *example.splitlines())),
        formatter_class=HelpLines,
    )


def list_commands(commands: Commands, groups: Iterable[Group]) -> str:
    """Add the commands of all groups, and give the list of them by group, for the help."""
    listed, title = [], ""
    for group in groups:
        before = len(commands.choices)
        group.add_commands(commands)
        if title != group.TITLE:
            title = group.TITLE
            listed.append(f"\n{title}:")
        for name, parser in list(commands.choices.items())[before:]:
            words = (parser.description or "").partition("\n")[0].removesuffix(".")
            listed.append(f"    {name}\t{words[0].lower()}{words[1:]}")
    return "\n".join(listed)


@dataclass(frozen=True)
class _Acts:
    """What can be done within a command, one function to add each."""

    TITLE: str
    adding: tuple[Callable[[Commands], None], ...]

    def add_commands(self, commands: Commands) -> None:
        """Add them."""
        for add_act in self.adding:
            add_act(commands)


def add_acts(
    parser: Parser,
    *adding: Callable[[Commands], None],
    dest: str = "act",
    metavar: str = "ACT",
    title: str = "acts",
) -> None:
    """Give a command commands of its own, listed in its help."""
    acts = parser.add_subparsers(
        dest=dest, required=True, metavar=metavar, prog=parser.prog, help=argparse.SUPPRESS
    )
    parser.usage = f"{parser.prog} [-h] {metavar} ..."
    parser.description = f"{parser.description}\n{list_commands(acts, (_Acts(title, adding),))}"


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, as all messages here do, and where to read on."""

    def error(self, message: str) -> NoReturn:
        """Tell it and leave, 2."""
        message = message.removeprefix("argument ")
        for theirs, ours in _SAID:
            message = message.replace(theirs, ours)
        self.exit(2, f"{self.prog}: {message}\n{self.prog} --help says what it takes\n")

    def _check_value(self, action: argparse.Action, value: object) -> None:
        if action.choices is not None and value not in action.choices:
            from wiring.plainwords import near_miss, printable

            known = [str(one) for one in action.choices]
            instead = near_miss(str(value), known) or f"; allowed: {', '.join(known)}"
            raise argparse.ArgumentError(action, f"given {printable(str(value), 60)!r}{instead}")


_SAID = (
    ("the following arguments are required: ", "missing: "),
    ("unrecognized arguments: ", "not known here: "),
)


class HelpLines(argparse.HelpFormatter):
    """Keeps the lines of a text, and breaks those that the terminal is too narrow for; a tab makes two columns.

    What is to be typed is broken so that a shell takes it as it stands.
    """

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        lines: list[str] = []
        for line in text.splitlines():
            if line.startswith("  teachrig "):
                lines += _typed(line, width)
                continue
            name, tab, words = line.rpartition("\t")
            margin = indent + words.removesuffix(words.lstrip())
            first = f"{indent}{name:<{_WORDS_AT - 2}}  " if tab else margin
            lines += textwrap.wrap(
                words.lstrip(),
                width,
                initial_indent=first,
                subsequent_indent=" " * len(first) if tab else margin,
                break_on_hyphens=False,
            ) or [""]
        return "\n".join(lines)


def _typed(line: str, width: int) -> Iterator[str]:
    so_far = " "
    for word in _TOGETHER.findall(line):
        if len(so_far) + len(word) + len(" \\") >= width:
            yield f"{so_far} \\"
            so_far = "     "
        so_far += f" {word}"
    yield so_far


def add_order(parser: argparse.ArgumentParser) -> None:
    """Add which order, and on which rig."""
    parser.add_argument("order", metavar="ORDER", help="order file, or name of a shipped example")
    add_rig(parser)


def add_rig(parser: argparse.ArgumentParser) -> None:
    """Add which rig."""
    parser.add_argument("--rig", metavar="PROFILE", help="rig profile (default: the simulated bench)")


def add_bench_file(parser: argparse.ArgumentParser) -> None:
    """Add what stands on the simulated bench."""
    parser.add_argument(
        "--bench", metavar="FILE", help="what the simulated bench holds: file or shipped name"
    )


def add_force(parser: argparse.ArgumentParser) -> None:
    """Add the leave to replace a file."""
    parser.add_argument("--force", action="store_true", help="replace a file that is there already")


def add_where_papers_go(parser: argparse.ArgumentParser, default: str) -> None:
    """Add the folder of papers and a printer; `default` says where they go if neither is named."""
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help=f"folder for the PDF and the HTML file (default: {default})"
    )
    add_force(parser)
    add_print(parser)


def add_print(parser: argparse.ArgumentParser) -> None:
    """Add a printer."""
    parser.add_argument(
        "--print",
        nargs="?",
        const="",
        metavar="PRINTER",
        help="send it to a printer (default: the system's default printer), besides or instead of a file",
    )


def add_json(parser: argparse.ArgumentParser, words: str = "print JSON") -> None:
    """Add the choice of JSON."""
    parser.add_argument("--json", action="store_true", help=words)


def add_output(parser: argparse.ArgumentParser) -> None:
    """Add the choice of JSON, and where the records are."""
    add_json(parser)
    add_data(parser)


def add_data(parser: argparse.ArgumentParser) -> None:
    """Add where the records are."""
    parser.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        help="folder of the records (default: $TEACHRIG_DATA, else the user's data folder)",
    )


def quantity(text: str) -> int:
    """How many units."""
    return whole_number(text, 1, 10_000)


def seed(text: str) -> int:
    """What a random draw starts from."""
    return whole_number(text, 0, 2**32 - 1)


def whole_number(text: str, least: int, most: int) -> int:
    """A whole number in these bounds; raises argparse.ArgumentTypeError for anything else."""
    if not text.isascii() or not text.isdigit() or not least <= int(text[:20]) <= most:
        raise argparse.ArgumentTypeError(f"given {text!r}; allowed: a whole number from {least} to {most}")
    return int(text)
