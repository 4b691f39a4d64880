"""Why an order cannot be done: every reason with its limit, and the sensor types that would do."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rig.planning.planned import spoken
from rig.planning.refusal import Fit, PlanRefused, Refusal
from sequences.order import Order
from wiring.profile import RigProfile

_WIDEST = 100


def refusal_text(order: Order, rig: RigProfile, refused: PlanRefused) -> str:
    """Every reason with the value given and the nearest that would do, then which known types fit."""
    lines = [f"order {order.number} cannot be done with {order.sensor_type} on rig {rig.name}"]
    for number, refusal in enumerate(refused.refusals, start=1):
        lines += _reason(number, refusal)
    if refused.fits is not None:
        lines += _fits(refused.fits)
    return "\n".join(lines)


def refusals_as_dict(order: Order, rig: RigProfile, refused: PlanRefused) -> dict[str, Any]:
    """The same for a program."""
    return {
        "order": order.number,
        "sensor_type": order.sensor_type,
        "rig": rig.name,
        "refusals": [asdict(refusal) for refusal in refused.refusals],
        "fits": None if refused.fits is None else [asdict(fit) for fit in refused.fits],
    }


def _reason(number: int, refusal: Refusal) -> Iterator[str]:
    yield from _wrapped(f"{number}. {spoken(refusal.what)}", "  ", "     ")
    key = f"   ({refusal.key})" if refusal.key else ""
    yield from _wrapped(f"given     {refusal.given}{key}", "     ", "               ")
    yield from _wrapped(f"possible  {spoken(refusal.nearest)}", "     ", "               ")


def _fits(fits: tuple[Fit, ...]) -> Iterator[str]:
    if not fits:
        yield "no known sensor type would do what the order asks for"
        return
    yield "sensor types that would do what the order asks for:"
    for fit in fits:
        yield from _wrapped(f"{fit.sensor_type}: {fit.title}", "  ", "     ")
        proposed = [f"{spoken(one.choice)} {one.value}" for one in fit.reasons if one.proposed]
        if proposed:
            yield from _wrapped(f"would be set to {', '.join(proposed)}", "     ", "     ")


def _wrapped(words: str, first: str, rest: str) -> list[str]:
    width = min(shutil.get_terminal_size().columns, _WIDEST)
    return textwrap.wrap(words, width, initial_indent=first, subsequent_indent=rest)
