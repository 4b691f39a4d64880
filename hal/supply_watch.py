"""Looks at what the bench supply gives, again and again, while a unit is worked on."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Final

from hal.errors import InstrumentError
from hal.instruments.supply import BenchSupply
from hal.interlock import causes
from hal.interlock.interlock import Interlock

LOOK_S: Final = 2.0
"""From one look to the next. What a short does at once is seen at once, by the input that watches L+."""
AT_LIMIT: Final = 0.98
"""From this share of its limit on, a supply limits: its own reading errs (common practice, no source)."""

_AGAIN_S = 0.1  # a unit that is just being switched on draws more for a moment


@asynccontextmanager
async def watched(supply: BenchSupply, limit_a: float, interlock: Interlock) -> AsyncIterator[None]:
    """Trip the interlock when the supply is at its limit twice in a row, or does not answer, while the block runs."""
    watching = asyncio.ensure_future(_watch(supply, limit_a, interlock))
    try:
        yield
    finally:
        watching.cancel()
        with suppress(asyncio.CancelledError):
            await watching


async def _watch(supply: BenchSupply, limit_a: float, interlock: Interlock) -> None:
    try:
        while not interlock.causes:
            await asyncio.sleep(LOOK_S)
            current_a = await _limited(supply, limit_a)
            if current_a is not None:
                interlock.trip(causes.over_current(current_a, limit_a))
    except InstrumentError as silence:
        interlock.trip(causes.instrument_lost(silence))
    except Exception as error:
        interlock.fault(error)


async def _limited(supply: BenchSupply, limit_a: float) -> float | None:
    """What the supply gives if it is at its limit and stays there, else None."""
    for wait_s in (_AGAIN_S, 0.0):
        current_a = await supply.current_a()
        if current_a is None or current_a < AT_LIMIT * limit_a:
            return None
        await asyncio.sleep(wait_s)
    return current_a
