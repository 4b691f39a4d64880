"""The `teachrig` command: words in, exit code out. Commands import what they need when they are called."""

from __future__ import annotations

import argparse
import os
import traceback
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from importlib import import_module

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave, show_what_can_be_shown
from rig.cli.parsing import board, control, files, finding, lots, plans, records, sampling, store, study, work
from rig.cli.parsing.common import HelpLines, Parser, list_commands

GROUPS = (work, lots, sampling, plans, records, finding, control, study, store, files, board)
PURPOSE = """\
Teach sensors through their teach wire, prove by measurement where each one switches, record it.
"teachrig COMMAND --help" says what a command takes.
"""
CAUTIONS = """\
cautions:
  PELV only, current-limited and fused. Never on a sensor still wired to a machine, and never to set a sensor \
that is part of a safety function outside its own instructions. Keep fingers clear of a moving target. The stop \
button must work in hardware, without this program. Have the wiring checked by a qualified person under local \
codes. The rig is not a safety function."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    show_what_can_be_shown()
    options = _parser().parse_args(arguments)
    code: int = Exit.DONE
    try:
        with reader_may_leave(only_printing=False), _service():
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


def _service() -> AbstractContextManager[None]:
    """Tell the service manager how it goes, where one has started this."""
    if "NOTIFY_SOCKET" not in os.environ:
        return nullcontext()
    from rig.service import under_service_manager

    return under_service_manager()


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="teachrig",
        usage="teachrig [-h] [--version] COMMAND ...",
        epilog=CAUTIONS,
        formatter_class=HelpLines,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version and leave")
    commands = parser.add_subparsers(
        dest="command", required=True, metavar="COMMAND", prog="teachrig", help=argparse.SUPPRESS
    )
    parser.description = PURPOSE + list_commands(commands, GROUPS)
    return parser


class _Version(argparse.Action):
    """Looks the version up only when it is asked for: reading package metadata costs a quarter of `--help`."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from rig.software import software_version

        parser.exit(message=f"teachrig {software_version()}\n")
