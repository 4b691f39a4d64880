"""The 40-pin header: which line comes out at which place, as gpiozero wants to know it."""

from __future__ import annotations

from typing import Any

from gpiozero.compat import frozendict
from gpiozero.pins import BoardInfo, HeaderInfo, PinInfo

HEADER = "J8"
# Line number to header position of the 40-pin header (published pin-out of the header).
PLACES = {
    2: 3, 3: 5, 4: 7, 5: 29, 6: 31, 7: 26, 8: 24, 9: 21, 10: 19, 11: 23, 12: 32, 13: 33, 14: 8, 15: 10,
    16: 36, 17: 11, 18: 12, 19: 35, 20: 38, 21: 40, 22: 15, 23: 16, 24: 18, 25: 22, 26: 37, 27: 13,
}  # fmt: skip


def board_info(what: str) -> BoardInfo:
    """Describe a board with this header and nothing else; `what` it is stands in every other fact."""
    pins = {place: _pin_info(line, place) for line, place in PLACES.items()}
    header = HeaderInfo(name=HEADER, rows=20, columns=2, pins=pins)
    facts: dict[str, Any] = dict.fromkeys(BoardInfo._fields, what)
    facts |= {"memory": 0, "usb": 0, "usb3": 0, "ethernet": 0, "eth_speed": 0, "csi": 0, "dsi": 0}
    facts |= {"wifi": False, "bluetooth": False, "headers": {HEADER: header}, "board": ""}
    return BoardInfo(**facts)


def _pin_info(line: int, place: int) -> PinInfo:
    name = f"GPIO{line}"
    return PinInfo(
        number=place,
        name=name,
        names=frozenset({name, line, str(line)}),
        pull="up" if line in (2, 3) else "",
        row=(place + 1) // 2,
        col=2 - place % 2,
        interfaces=frozendict({"gpio": name}),
    )
