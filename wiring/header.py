"""The 40-pin header of small Linux boards: which pin carries which line, as gpiozero has it too."""

from __future__ import annotations

from dataclasses import dataclass

_GPIO_PINS = {
    2: 3, 3: 5, 4: 7, 5: 29, 6: 31, 7: 26, 8: 24, 9: 21, 10: 19, 11: 23, 12: 32, 13: 33, 14: 8, 15: 10,
    16: 36, 17: 11, 18: 12, 19: 35, 20: 38, 21: 40, 22: 15, 23: 16, 24: 18, 25: 22, 26: 37, 27: 13,
}  # fmt: skip
_OTHER_PINS = {
    "3V3": (1, 17),
    "5V": (2, 4),
    "GND": (6, 9, 14, 20, 25, 30, 34, 39),
    "not for use": (27, 28),
}
PINS = 40
# Fixed pull-up resistors on the board, of the lines that double as its I2C bus (the value from memory).
BUS_PULL_UP_OHM = 1800.0
_BUS_LINES = ("GPIO2", "GPIO3")
# After a reset GPIO2 to 8 are pulled up and the others down, by some 50 kOhm inside the chip; the first serial port
# on 14 and 15 idles high (from memory).
_HIGH_AT_RESET = frozenset(f"GPIO{number}" for number in (2, 3, 4, 5, 6, 7, 8, 14, 15))


@dataclass(frozen=True, slots=True)
class HeaderPin:
    """One pin of the header and what the board has on it."""

    number: int
    carries: str


def header_pin(line: str) -> int | None:
    """The header pin of a line, None for a line that the usual header does not have."""
    number = line.removeprefix("GPIO")
    return _GPIO_PINS.get(int(number)) if number.isdigit() else None


def header_pins() -> tuple[HeaderPin, ...]:
    """All pins in order."""
    carried = {pin: f"GPIO{line}" for line, pin in _GPIO_PINS.items()}
    carried |= {pin: name for name, pins in _OTHER_PINS.items() for pin in pins}
    return tuple(HeaderPin(number, carried[number]) for number in range(1, PINS + 1))


def has_fixed_pull_up(line: str) -> bool:
    """Whether the board itself pulls this line up, whatever the program asks for."""
    return line in _BUS_LINES


def is_high_at_reset(line: str) -> bool:
    """Whether a board that has just been reset pulls this line up, or drives it high."""
    return line in _HIGH_AT_RESET
