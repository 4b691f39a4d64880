"""The board that the program runs on: its GPIO as a gpiozero pin factory."""

from __future__ import annotations

from gpiozero.pins import Factory

from hal.errors import BenchError


class BoardMissing(BenchError, OSError):
    """This machine has no GPIO that the program can drive."""

    check = (
        "Run on a board with a 40-pin header, with its GPIO library installed and your user in the group that "
        "owns it; or name the simulated bench with --rig simulated."
    )


def board_pins() -> Factory:
    """A pin factory for the board's own header; the caller closes it.

    Raises:
        BoardMissing: when there is no GPIO here, or it may not be used.

    """
    try:
        from gpiozero.pins.lgpio import LGPIOFactory

        return LGPIOFactory()
    except Exception as failure:  # the back end raises its own kinds, and ImportError without its library
        raise BoardMissing(f"this machine has no GPIO to drive ({failure})") from failure
