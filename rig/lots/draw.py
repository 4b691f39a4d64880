"""The random draw: which places of the box are tested, from a seed that is recorded.

Places are taken in the order of the SHA-256 of `seed/place`, both as decimal numbers: anybody can check it with any
program, and a larger sample begins with the same units as a smaller one.
"""

from __future__ import annotations

import hashlib

_FEWEST_DIGITS = 4


def drawn(quantity: int, seed: int) -> tuple[int, ...]:
    """Every place of a box, from 1, in the order in which they are drawn."""
    return tuple(sorted(range(1, quantity + 1), key=lambda place: _lot_of_chance(seed, place)))


def _lot_of_chance(seed: int, place: int) -> bytes:
    return hashlib.sha256(f"{seed}/{place}".encode("ascii")).digest()


def unit_serial(lot: str, place: int) -> str:
    """Under what a unit of a lot is recorded."""
    return f"{lot}-{place:0{_FEWEST_DIGITS}d}"


def place_of(serial: str) -> int:
    """The place of a unit in its box, by its serial in the record."""
    return int(serial.rpartition("-")[2])
