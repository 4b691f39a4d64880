"""Real gpiozero devices on the pins of a board, above the stand-in kernel."""

from __future__ import annotations

from tests.hal.board.boards import opened
from tests.hal.pincontract import InputContract, OutputContract


class TestOutputs(OutputContract):
    opened = staticmethod(opened)


class TestInputs(InputContract):
    opened = staticmethod(opened)
