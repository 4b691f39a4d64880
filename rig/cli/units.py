"""`teachrig units`: units of the record that were asked for, the newest first."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.asking import tell_list
from rig.finding.columns import UNITS
from rig.finding.units import units


def command(options: Namespace) -> int:
    """List them."""
    return tell_list(options, "units", UNITS, units)
