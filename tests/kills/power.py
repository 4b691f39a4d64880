"""What a cut of the power leaves of a store: what was synchronised, and of what was written since any sectors.

The process is gone, as after a kill, but so is what the system had not yet put on the disk. SQLite's index of its log
says how many frames of the log are committed, which it writes only once they are synchronised (sqlite.org/wal.html,
with `synchronous = FULL`). Frames behind those are left whole, in part or not at all; pages that a checkpoint may have
been carrying over are left as a mix of their old and new sectors.
"""

from __future__ import annotations

import random
import struct
from dataclasses import dataclass
from pathlib import Path

_SECTOR = 512
_LOG_HEAD, _FRAME_HEAD = 32, 24
_HEAD_SALT, _FRAME_SALT = slice(16, 24), slice(8, 16)
# In the index: committed frames, and the salt of the log that they stand in.
_INDEX_FRAMES, _INDEX_SALT = 16, slice(32, 40)
_CARRIED_OVER = 0.3


@dataclass(frozen=True, slots=True)
class Lost:
    """How many frames of the log and pages of the file were left torn."""

    frames: int = 0
    pages: int = 0


def cut_power(store: Path, draw: random.Random, *, acknowledged: bool) -> Lost:
    """Leave the files of a store as a cut of the power may; its process must be gone.

    Where nothing was ever acknowledged, the file itself may never have come to the disk.
    """
    log, index = (store.with_name(store.name + end) for end in ("-wal", "-shm"))
    if not acknowledged and draw.random() < 0.5:
        for file in (store, log, index):
            file.unlink(missing_ok=True)
        return Lost()
    lost = _tear(store, log, index, draw) if index.is_file() and log.is_file() else Lost()
    if draw.random() < 0.5:
        index.unlink(missing_ok=True)  # else it is there, as stale as it is
    return lost


def _tear(store: Path, log: Path, index: Path, draw: random.Random) -> Lost:
    told = index.read_bytes()
    written = bytearray(log.read_bytes())
    if len(told) < _INDEX_SALT.stop or len(written) < _LOG_HEAD or written[_HEAD_SALT] != told[_INDEX_SALT]:
        return (
            Lost()
        )  # the log was about to begin anew: what stands in it is carried over, and no longer written to
    (page_size,) = struct.unpack(">I", written[8:12])
    (committed,) = struct.unpack("=I", told[_INDEX_FRAMES : _INDEX_FRAMES + 4])
    size = _FRAME_HEAD + page_size
    places = range(_LOG_HEAD, len(written) - size + 1, size)
    frames = [place for place in places if written[place:][_FRAME_SALT] == told[_INDEX_SALT]]
    for place in frames[committed:]:
        _tear_frame(written, place, size, draw)
    log.write_bytes(written)
    pages = {struct.unpack(">I", written[place : place + 4])[0]: place for place in frames[:committed]}
    chosen = [number for number in pages if draw.random() < _CARRIED_OVER]
    for number in chosen:
        new = bytes(written[pages[number] + _FRAME_HEAD : pages[number] + size])
        _tear_page(store, number, new, draw)
    return Lost(len(frames[committed:]), len(chosen))


def _tear_frame(written: bytearray, place: int, size: int, draw: random.Random) -> None:
    for start in range(place, place + size, _SECTOR):
        end = min(start + _SECTOR, place + size)
        if draw.random() < 0.5:
            written[start:end] = draw.choice((bytes(end - start), draw.randbytes(end - start)))


def _tear_page(store: Path, number: int, new: bytes, draw: random.Random) -> None:
    with store.open("r+b") as file:
        for start in range(0, len(new), _SECTOR):
            if draw.random() < 0.5:
                file.seek((number - 1) * len(new) + start)
                file.write(new[start : start + _SECTOR])
