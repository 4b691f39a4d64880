"""Whether the kernel goes on driving an output when the program that held it is gone."""

from __future__ import annotations

from pathlib import Path

from hal.board.chips import Place
from hal.board.claims import claim_outputs, look_at, release_all

SETTINGS = Path("/sys/module")
# Some kernels say it themselves: the driver's own setting of this name, Y or N.
_SETTING = "*/parameters/persist_gpio_outputs"


def driver_says() -> bool | None:
    """Whether the driver says that it keeps outputs; None where it says nothing."""
    for setting in SETTINGS.glob(_SETTING):
        return setting.read_text().strip() in ("Y", "1")
    return None


def keeps_outputs(place: Place, safe: int) -> bool:
    """Whether an output stays driven after it is let go of; told by the driver, else tried at its safe level."""
    told = driver_says()
    if told is not None:
        return told
    release_all(claim_outputs({place: safe}))
    return look_at(place).is_output
