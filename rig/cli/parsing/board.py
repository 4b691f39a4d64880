"""Arguments of the commands about the board and its lines."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path

from rig.cli.parsing.common import (
    Commands,
    add,
    add_bench_file,
    add_force,
    add_json,
    add_output,
    add_rig,
    whole_number,
)

TITLE = "the rig itself"


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_rig(commands)
    _add_release(commands)
    _add_service(commands)
    _add_doctor(commands)
    _add_selfcheck(commands)
    _add_calibrate(commands)
    _add_commission(commands)


def _add_rig(commands: Commands) -> None:
    parser = add(
        commands,
        "rig",
        "show the lines of a rig one by one as they are, and which program holds them; switches nothing",
        "teachrig rig --rig single-nest",
    )
    add_rig(parser)
    add_json(parser)


def _add_release(commands: Commands) -> None:
    parser = add(
        commands,
        "release",
        "put every output of a rig to off and leave, from whatever state; ends a run of ours that holds them",
        "teachrig release --rig single-nest",
    )
    add_rig(parser)


def _add_service(commands: Commands) -> None:
    parser = add(
        commands,
        "service",
        "print a systemd unit that runs the bench screen on the board's own screen, and how to install it",
        "teachrig service --rig single-nest > teachrig.service",
    )
    add_rig(parser)
    parser.add_argument(
        "--user", default="teachrig", metavar="NAME", help="the user that it runs as (default: teachrig)"
    )
    parser.add_argument("--tty", default="tty1", metavar="NAME", help="where the screen is (default: tty1)")


def _add_doctor(commands: Commands) -> None:
    parser = add(
        commands,
        "doctor",
        "say what this computer lacks for a rig, and how to mend it; switches nothing",
        "teachrig doctor --rig single-nest",
    )
    add_rig(parser)
    add_output(parser)


def _add_selfcheck(commands: Commands) -> None:
    parser = add(
        commands,
        "selfcheck",
        "check the rig before the day's work, about a minute: relays, read-back, heartbeat, stop button, target",
        "teachrig selfcheck --bench sound",
    )
    _add_work_on_the_rig(parser)


def _add_calibrate(commands: Commands) -> None:
    parser = add(
        commands,
        "calibrate",
        "measure the target's places by a reference, fit zero and scale with uncertainty, and keep it",
        'teachrig calibrate --reference "gauge blocks, set 2" --reference-error 0.05',
    )
    parser.add_argument(
        "--reference", required=True, metavar="WORDS", help="with what the distances are measured"
    )
    parser.add_argument(
        "--reference-error",
        required=True,
        type=_error_mm,
        metavar="MM",
        help="the reference is right within this, in mm",
    )
    parser.add_argument(
        "--places", type=_places, default=11, metavar="N", help="how many places (default: 11; slots: all)"
    )
    parser.add_argument(
        "--valid-days", type=_days, default=365, metavar="N", help="how long it holds (default: 365 days)"
    )
    parser.add_argument("--nest", metavar="NAME", help="of which nest (default: the first)")
    parser.add_argument("--by", metavar="NAME", help="who measures, for the record")
    _add_work_on_the_rig(parser)


def _add_commission(commands: Commands) -> None:
    parser = add(
        commands,
        "commission",
        "build a new rig wire by wire, meter in hand, then self-check it and sign; goes on where it was left",
        "teachrig commission --rig single-nest",
    )
    parser.add_argument("--record", action="store_true", help="show the signed record, ask nothing")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="also write it as a paper: PDF to sign, HTML for a browser"
    )
    add_force(parser)
    _add_work_on_the_rig(parser)


def _add_work_on_the_rig(parser: ArgumentParser) -> None:
    add_rig(parser)
    add_bench_file(parser)
    parser.add_argument("--real-time", action="store_true", help="run the simulated bench in real time")
    add_output(parser)


def _places(text: str) -> int:
    return whole_number(text, 4, 100)


def _days(text: str) -> int:
    return whole_number(text, 1, 3650)


def _error_mm(text: str) -> float:
    try:
        error_mm = float(text)
    except ValueError:
        error_mm = -1.0
    if not 0.0 < error_mm <= 20.0:
        raise ArgumentTypeError(f"given {text!r}; allowed: a number of mm above 0, up to 20")
    return error_mm
