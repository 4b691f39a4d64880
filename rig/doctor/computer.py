"""The computer itself: Python, disk, memory, heat, clock, words."""

from __future__ import annotations

import codecs
import os
import shutil
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from rig.doctor.found import Found, bad, good, note
from rig.strain import HOT_C, WARM_C, free_mb, hottest_c

_LEAST_PYTHON = (3, 11)
# A unit's record is some ten kilobytes: this is for years (own measurement of the demo's journal).
_LEAST_DISK_MB, _GOOD_DISK_MB = 50, 500
_GOOD_MEMORY_MB = 150
_BEFORE_THIS_PROGRAM = datetime(2026, 1, 1, tzinfo=UTC)


def look_at_computer(root: Path, records: Path, encoding: str, now: datetime) -> Iterator[Found]:
    """Look at everything that any rig needs; `root` is where /proc and /sys are."""
    yield _python()
    yield _records(records)
    yield _disk(records)
    yield _memory(root)
    yield from _heat(root)
    yield _clock(root, now)
    yield _locale(encoding)


def _python() -> Found:
    version = ".".join(map(str, sys.version_info[:3]))
    if sys.version_info[:2] < _LEAST_PYTHON:
        return bad("Python", f"{version} is too old", "install Python 3.11 or newer")
    return good("Python", version)


def _records(folder: Path) -> Found:
    there = _nearest(folder)
    if there.is_dir() and os.access(there, os.W_OK | os.X_OK):
        return good("records", f"go to {folder}")
    return bad(
        "records",
        f"cannot be written to {folder}",
        "name another folder with --data or TEACHRIG_DATA, or mend its owner",
    )


def _disk(folder: Path) -> Found:
    free_mb = shutil.disk_usage(_nearest(folder)).free // 10**6
    words = f"{_size(free_mb)} free where the records go"
    mend = "make room, or name another disk with --data or TEACHRIG_DATA"
    if free_mb < _LEAST_DISK_MB:
        return bad("disk", words, mend)
    return note("disk", words, mend) if free_mb < _GOOD_DISK_MB else good("disk", words)


def _size(megabytes: int) -> str:
    return f"{megabytes} MB" if megabytes < 10_000 else f"{megabytes // 1000} GB"


def _nearest(folder: Path) -> Path:
    """The folder itself, or the one above it in which it would be made."""
    return next(one for one in (folder.absolute(), *folder.absolute().parents) if one.exists())


def _memory(root: Path) -> Found:
    free = free_mb(root)
    if free is None:
        return note("memory", "cannot be read here", "look with `free -m`")
    words = f"{_size(free)} free"
    if free < _GOOD_MEMORY_MB:
        return note("memory", words, "end other programs: when memory runs out, the kernel kills one")
    return good("memory", words)


def _heat(root: Path) -> Iterator[Found]:
    at_c = hottest_c(root)
    if at_c is None:
        return
    words = f"{at_c:.0f} degrees C"
    mend = "give the board air, or a heat sink: a hot processor runs slower, and contacts get less exact"
    if at_c >= HOT_C:
        yield bad("processor", words, mend)
    else:
        yield note("processor", words, mend) if at_c >= WARM_C else good("processor", words)


def _clock(root: Path, now: datetime) -> Found:
    shown = now.strftime("%Y-%m-%d %H:%M UTC")
    if now < _BEFORE_THIS_PROGRAM:
        return bad("clock", f"{shown} is before this program was made", _set_clock())
    if (root / "run/systemd/timesync/synchronized").exists():
        return good("clock", f"{shown}, set over the network")
    if any(root.glob("dev/rtc*")):
        return good("clock", f"{shown}, kept by the board's own clock; compare it with a watch")
    return note("clock", f"{shown}; after a power cut without network it will be wrong", _set_clock())


def _set_clock() -> str:
    return "fit a clock module with a battery, or set it at each start: sudo date -s 'YYYY-MM-DD HH:MM'"


def _locale(encoding: str) -> Found:
    if codecs.lookup(encoding).name == "utf-8":
        return good("characters", encoding)
    mend = "set a UTF-8 locale, for example LC_ALL=C.UTF-8, or PYTHONUTF8=1"
    return bad("characters", f"{encoding} lacks signs that names and screens need", mend)
