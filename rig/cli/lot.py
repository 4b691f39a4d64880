"""`teachrig lot`: receives lots; each of its acts is a file in `rig/cli/lots/`."""

from __future__ import annotations

from argparse import Namespace
from importlib import import_module


def command(options: Namespace) -> int:
    """Do one act."""
    code: int = import_module(f"rig.cli.lots.{options.act}").command(options)
    return code
