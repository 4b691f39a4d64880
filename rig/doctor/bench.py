"""What a board's rig needs beyond its computer: GPIO chip and lines, serial ports, and rights to both."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hal.board import BoardMissing, need_bindings
from rig.doctor.found import Found, bad, good, note
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.board.seen import LineSeen

_STABLE = "/dev/serial/"


def look_at_bench(profile: RigProfile) -> Iterator[Found]:
    """Look at what the profile names."""
    if profile.back_end == "simulated":
        yield good("bench", f"rig {profile.name} is simulated: it needs no GPIO and no port")
        return
    if os.geteuid() == 0:
        yield note(
            "user", "this is root", "run as a user in the groups gpio and dialout; root is never needed"
        )
    yield from _gpio(profile)
    for port in profile.ports():
        yield _port(port.name)


def _gpio(profile: RigProfile) -> Iterator[Found]:
    try:
        need_bindings()
        from hal.board.chips import find_chips, look_for_places

        chips = find_chips()
    except BoardMissing as missing:
        yield bad("GPIO", str(missing), missing.check)
        return
    yield good("GPIO", ", ".join(f"{chip} with {len(chip.names)} lines" for chip in chips))
    places, problems = look_for_places(profile, chips)
    for problem in problems:
        yield bad("line", problem, "compare [gpio] and the lines of the rig profile with the board")
    from hal.board.seen import look

    seen = look(profile, places)
    for one in seen:
        if one.seen.holder is not None:
            words = f"{one.line.line} ({one.line.job}) is held by {one.seen.holder}"
            yield note(
                "line", words, "end that program, or take the line away from it, before you start an order"
            )
        if one.left_on:
            yield bad("line", f"{one.line.line} ({one.line.job}) was left on", "teachrig release")
    yield from _kept(seen)
    free = sum(one.seen.holder is None for one in seen)
    yield good("lines", f"{free} of {len(profile.lines())} found and free")


def _kept(seen: Sequence[LineSeen]) -> Iterator[Found]:
    """Tell of a kernel that keeps outputs driven: it says so, or an output of ours was left as one."""
    from hal.board.kept import driver_says

    left = any(one.line.is_output and one.seen.is_output and one.seen.holder is None for one in seen)
    if driver_says() or left:
        words = "this kernel keeps outputs driven after a program dies"
        yield note(
            "kernel", words, "test the monostable of the heartbeat: kill -9 the program with a relay on"
        )


def _port(name: str) -> Found:
    path = Path(name)
    try:
        is_port = stat.S_ISCHR(path.stat().st_mode)
    except OSError as fault:
        return bad(
            "port",
            f"{name}: {os.strerror(fault.errno or 0)}",
            "plug the instrument in, and compare with ls -l /dev/serial/by-id",
        )
    if not is_port:
        return bad(
            "port", f"{name} is no serial port", "name one from ls -l /dev/serial/by-id in the rig profile"
        )
    if not os.access(path, os.R_OK | os.W_OK):
        mend = "add this user to the group of the port (often dialout) and log in again"
        return bad("port", f"{name}: no permission", mend)
    if not name.startswith(_STABLE) and "ttyUSB" in str(path.resolve()):
        return note(
            "port", f"{name} may be another instrument after the next start", "name it by /dev/serial/by-id"
        )
    return good("port", name)
