"""`teachrig orders`: orders of the record with their state, counts and yield, the last one worked on first."""

from __future__ import annotations

from argparse import Namespace
from functools import partial

from rig.cli.asking import tell_list
from rig.finding.columns import ORDERS
from rig.finding.orders import OrderState, orders


def command(options: Namespace) -> int:
    """List them."""
    state = None if options.state is None else OrderState(options.state.replace("-", " "))
    return tell_list(options, "orders", ORDERS, partial(orders, state=state))
