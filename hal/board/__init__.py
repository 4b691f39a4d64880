"""The GPIO of the board that the program runs on."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING

from hal.board.errors import BoardMissing, LinesMissing

if TYPE_CHECKING:
    from gpiozero.pins import Factory

    from hal.bench import Bench
    from wiring.profile import RigProfile

__all__ = ["BoardMissing", "LinesMissing", "need_bindings", "open_board_bench"]


async def open_board_bench(
    profile: RigProfile, tell: Callable[[str], object], *, wake_early_s: float = 0.0
) -> Bench:
    """Open the bench that `profile` describes on this board; `tell` is told what was found.

    Raises as `hal.bench.open_bench`; `BoardMissing` where there is no GPIO, or it may not be used.
    """
    from hal.bench import open_bench
    from hal.instruments.lasting import open_wires
    from hal.interlock import causes

    loop = asyncio.get_running_loop()
    pins = _pins(profile, loop, tell)
    try:
        wires = open_wires(profile)
    except BaseException:
        pins.close()
        raise
    bench = await open_bench(profile, pins, wires, wake_early_s=wake_early_s)
    if profile.gpio.library == "gpiod":
        pins.on_lost.append(lambda error: bench.interlock.trip(causes.board_lost(error)))
    return bench


def need_bindings() -> None:
    """Make sure that the kernel's GPIO devices can be spoken to; raises `BoardMissing` if not.

    Call it before anything else of this package is imported.
    """
    try:
        import gpiod  # noqa: F401
    except ImportError as missing:
        raise BoardMissing(
            f"the GPIO library gpiod is not installed ({missing})", check="pip install 'teachrig[board]'"
        ) from missing


def _pins(profile: RigProfile, loop: asyncio.AbstractEventLoop, tell: Callable[[str], object]) -> Factory:
    if profile.gpio.library == "lgpio":
        tell("GPIO: through lgpio, without the watcher; its traps stand in the guide to the board")
        return _lgpio_pins()
    need_bindings()
    from hal.board.opening import open_pins

    return open_pins(profile, loop, tell)


def _lgpio_pins() -> Factory:
    try:
        from gpiozero.pins.lgpio import LGPIOFactory

        return LGPIOFactory()
    except Exception as failure:  # the back end raises its own kinds, and ImportError without its library
        raise BoardMissing(f"this machine has no GPIO to drive ({failure})") from failure
