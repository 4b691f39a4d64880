"""The 40-pin header: which line comes out at which place, as gpiozero wants to know it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from gpiozero.compat import frozendict
from gpiozero.pins import BoardInfo, HeaderInfo, PinInfo

from wiring.header import HeaderPin, has_fixed_pull_up, header_pins

HEADER = "J8"


@lru_cache
def board_info(what: str) -> BoardInfo:
    """Describe a board with this header and nothing else; `what` it is stands in every other fact."""
    pins = {pin.number: _pin_info(pin) for pin in header_pins() if pin.carries.startswith("GPIO")}
    header = HeaderInfo(name=HEADER, rows=20, columns=2, pins=pins)
    facts: dict[str, Any] = dict.fromkeys(BoardInfo._fields, what)
    facts |= {"memory": 0, "usb": 0, "usb3": 0, "ethernet": 0, "eth_speed": 0, "csi": 0, "dsi": 0}
    facts |= {"wifi": False, "bluetooth": False, "headers": {HEADER: header}, "board": ""}
    return BoardInfo(**facts)


def _pin_info(pin: HeaderPin) -> PinInfo:
    line = int(pin.carries.removeprefix("GPIO"))
    return PinInfo(
        number=pin.number,
        name=pin.carries,
        names=frozenset({pin.carries, line, str(line)}),
        pull="up" if has_fixed_pull_up(pin.carries) else "",
        row=(pin.number + 1) // 2,
        col=2 - pin.number % 2,
        interfaces=frozendict({"gpio": pin.carries}),
    )
