"""Opens the board's GPIO for a bench: finds the lines, sets the watcher beside them, claims the outputs off."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping

from gpiozero.exc import GPIOPinInUse

from hal.board.chips import Place, find_places
from hal.board.kept import keeps_outputs
from hal.board.pins import BoardPins
from hal.board.watching import Watcher
from hal.errors import BenchInUse
from hal.interlock.outputs import output_lines
from wiring.lines import Level
from wiring.profile import RigProfile
from wiring.saying import say

Tell = Callable[[str], object]

_KEPT = (
    "this kernel keeps outputs driven after the program dies: only the heartbeat's monostable and the watcher "
    "drop the relays then"
)


def open_pins(profile: RigProfile, loop: asyncio.AbstractEventLoop, tell: Tell) -> BoardPins:
    """The pin factory of the board, every output of the profile claimed and off; `tell` is told what was found.

    Raises `BoardMissing` and `LinesMissing` for what is not there, `BenchInUse` for a line that somebody holds.
    """
    places = find_places(profile)
    safe = safe_levels(profile)
    tell(_found(places))
    try:
        first = next(iter(safe))
        if keeps_outputs(places[first], safe[first]):
            tell(_KEPT)
        return _watched(places, safe, loop)
    except GPIOPinInUse as fault:
        raise BenchInUse(say("a GPIO line is in use: {fault}", fault=fault)) from fault


def safe_levels(profile: RigProfile) -> dict[str, int]:
    """The level at which each output is off, in the order in which they are switched off."""
    return {line.line: int(line.active is Level.LOW) for _, line in output_lines(profile)}


def _watched(
    places: Mapping[str, Place], safe: Mapping[str, int], loop: asyncio.AbstractEventLoop
) -> BoardPins:
    watcher = Watcher({places[line]: level for line, level in safe.items()})
    pins = BoardPins(places, loop)
    pins.goodbye = watcher.goodbye
    try:
        pins.claim(safe)
        watcher.wait_until_ready()
        watcher.tell_loss(loop, pins.lose)
    except BaseException:
        pins.close()
        raise
    return pins


def _found(places: Mapping[str, Place]) -> str:
    chips = dict.fromkeys(place.chip for place in places.values())
    return f"GPIO: {len(places)} lines on {', '.join(map(str, chips))}"
