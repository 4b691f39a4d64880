"""Puts every output of a rig to off and lets go, from whatever state; a program of ours that holds one is ended."""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from gpiozero.exc import GPIOPinInUse

from hal.board.chips import Place, find_chips, look_for_places
from hal.board.claims import Claim, claim_outputs, held_by
from hal.board.opening import safe_levels
from hal.errors import BenchError
from wiring.profile import RigLine, RigProfile

Tell = Callable[[str], object]

_OURS = re.compile(r"teachrig (?:(\d+)|watcher)")
_HOLDS_LINES = "gpio-line"
# Who only looks at a line has it for a moment; who works ends in order after SIGTERM; then it is killed.
_A_LOOK_S = 0.3
_PATIENCE_S = 4.0
_KILLED_S = 2.0
_AGAIN_S = 0.01


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one output; `trouble` is empty where it is off."""

    line: RigLine
    trouble: str = ""


def all_off(profile: RigProfile, tell: Tell) -> tuple[Outcome, ...]:
    """Switch every output of the profile off, in order, and let go; one that fails does not keep the others.

    `tell` is told of programs that are ended. Raises `BoardMissing` where there is no GPIO at all.
    """
    places, _ = look_for_places(profile, find_chips())
    lines = {line.line: line for line in profile.lines()}
    claims: list[Claim] = []
    try:
        return tuple(
            Outcome(lines[name], _switch_off(places.get(name), level, claims, tell))
            for name, level in safe_levels(profile).items()
        )
    finally:
        for claim in claims:
            claim.release()


def _switch_off(place: Place | None, level: int, claims: list[Claim], tell: Tell) -> str:
    if place is None:
        return "not found on this board"
    trouble = ""
    for number in _steps():
        try:
            claims.append(claim_outputs({place: level})[place])
            return ""
        except GPIOPinInUse as busy:
            trouble = str(busy)
            if _OURS.fullmatch(held_by(place) or "teachrig watcher") is None:
                return trouble
        except (BenchError, OSError) as fault:
            return str(fault)
        if number is None:
            time.sleep(_AGAIN_S)
        else:
            _end_holder(place, number, tell)
    return trouble


def _steps() -> Iterator[signal.Signals | None]:
    """What to do, one after the other, while one of our programs still holds a line: wait (None), or end it."""
    for patience_s, number in ((_A_LOOK_S, signal.SIGTERM), (_PATIENCE_S, signal.SIGKILL), (_KILLED_S, None)):
        end_s = time.monotonic() + patience_s
        while time.monotonic() < end_s:
            yield None
        yield number


def _end_holder(place: Place, number: signal.Signals, tell: Tell) -> None:
    match = _OURS.fullmatch(held_by(place) or "")
    if match is None or match[1] is None or not holds_lines(int(match[1])):
        return
    with suppress(ProcessLookupError):
        try:
            os.kill(int(match[1]), number)
            tell(f"{match[0]} holds the outputs: sent {number.name}")
        except PermissionError:
            tell(f"{match[0]} holds the outputs and belongs to another user")


def holds_lines(process: int) -> bool:
    """Whether a process has GPIO lines open; the number in a name may be another's by now."""
    with suppress(OSError):
        return any(_HOLDS_LINES in os.readlink(link) for link in Path(f"/proc/{process}/fd").iterdir())
    return False
