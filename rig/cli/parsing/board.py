"""Arguments of the commands about the board and its lines."""

from __future__ import annotations

from rig.cli.parsing.common import Commands, add, add_json, add_rig


def add_commands(commands: Commands) -> None:
    """Add them to the command line."""
    _add_rig(commands)
    _add_release(commands)


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
