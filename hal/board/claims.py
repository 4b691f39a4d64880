"""Lines claimed from the kernel: held by this program alone, read, written, and let go of."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from threading import RLock

import gpiod
from gpiod.line import Bias, Direction, Edge, Value
from gpiozero.exc import GPIOPinInUse

from hal.board.chips import GpioChip, Place
from hal.board.errors import os_words
from hal.errors import BenchError

EVENTS_KEPT = 1024
"""So many edges the kernel keeps for us, its most: a pick-up under lamps fills the usual 16 in a tenth of a second."""

PULLS = {"up": Bias.PULL_UP, "down": Bias.PULL_DOWN, "floating": Bias.DISABLED}
_LEVELS = (Value.INACTIVE, Value.ACTIVE)
# As the bindings want it to the letter.
_Settings = dict[Iterable[int | str] | int | str, gpiod.LineSettings | None]


def consumer_name(process: int) -> str:
    """What the kernel says of who holds a line."""
    return f"teachrig {process}"


def _me() -> str:
    return consumer_name(os.getpid())


class Claim:
    """Lines of one chip, held together; safe to use from any thread.

    The bindings keep their working memory in the request, so two threads must not be inside at once.
    """

    def __init__(self, request: gpiod.LineRequest) -> None:
        self._request = request
        self._lock = RLock()

    @property
    def fd(self) -> int:
        """What becomes readable when there are edges."""
        return self._request.fd

    def read(self, number: int) -> int:
        """The level of a line now."""
        with self._lock:
            return int(bool(self._request.get_value(number)))

    def write(self, number: int, level: int) -> None:
        """Drive a line."""
        with self._lock:
            self._request.set_value(number, _LEVELS[level])

    def watch(self, number: int, pull: str, edges: Edge) -> None:
        """Change pull and edges of the one input of this claim."""
        with self._lock:
            self._request.reconfigure_lines({number: _input(pull, edges)})

    def edges(self) -> list[gpiod.EdgeEvent]:
        """The edges that have come; waits for one if there is none."""
        with self._lock:
            return self._request.read_edge_events(EVENTS_KEPT)

    def release(self) -> None:
        """Let go; safe to call twice."""
        with self._lock:
            self._request.release()


def claim_outputs(levels: Mapping[Place, int]) -> dict[Place, Claim]:
    """Claim outputs at their levels, those of one chip in one step and without another level in between.

    All or none. Raises `GPIOPinInUse` for lines that somebody holds, `BenchError` for what the kernel refuses.
    """
    claims: dict[Place, Claim] = {}
    try:
        for chip, group in groupby(
            sorted(levels, key=lambda place: place.chip.path), lambda place: place.chip
        ):
            places = list(group)
            settings: _Settings = {
                place.number: gpiod.LineSettings(
                    direction=Direction.OUTPUT, output_value=_LEVELS[levels[place]]
                )
                for place in places
            }
            claims |= dict.fromkeys(places, _claim(chip, settings))
    except BaseException:
        release_all(claims)
        raise
    return claims


def claim_input(place: Place, pull: str) -> Claim:
    """Claim one input; raises as `claim_outputs`."""
    return _claim(place.chip, {place.number: _input(pull, Edge.NONE)})


def release_all(claims: Mapping[Place, Claim]) -> None:
    """Let go of every line; nothing is written."""
    for claim in dict.fromkeys(claims.values()):
        claim.release()


@dataclass(frozen=True, slots=True)
class Seen:
    """A line as it is; `level` is None where somebody holds it, since only the holder may read it."""

    is_output: bool
    level: int | None
    holder: str | None


def look_at(place: Place) -> Seen:
    """Look at a line and change nothing.

    A free one is claimed as it is for a moment: the kernel looks at the copper only then, and shows the direction
    that the line had when it was last held until it does.
    """
    with gpiod.Chip(place.chip.path) as chip:
        info, level = chip.get_line_info(place.number), None
        if not info.used:
            with suppress(OSError), chip.request_lines({place.number: None}, consumer=_me()) as request:
                level = int(bool(request.get_value(place.number)))
                info = chip.get_line_info(place.number)
    holder = None if level is not None else info.consumer or "the kernel"
    return Seen(info.direction is Direction.OUTPUT, level, holder)


def held_by(place: Place) -> str | None:
    """Who holds a line, in the kernel's words; None if nobody does."""
    with gpiod.Chip(place.chip.path) as chip:
        info = chip.get_line_info(place.number)
    return (info.consumer or "the kernel") if info.used else None


def _input(pull: str, edges: Edge) -> gpiod.LineSettings:
    return gpiod.LineSettings(direction=Direction.INPUT, bias=PULLS[pull], edge_detection=edges)


def _claim(chip: GpioChip, settings: _Settings) -> Claim:
    try:
        with gpiod.Chip(chip.path) as opened:
            request = opened.request_lines(settings, consumer=_me(), event_buffer_size=EVENTS_KEPT)
    except OSError as fault:
        places = [Place(chip, number) for number in settings if isinstance(number, int)]
        raise _refused(places, fault) from fault
    return Claim(request)


def _refused(places: list[Place], fault: OSError) -> Exception:
    if fault.errno == errno.EBUSY:
        holders = {place: holder for place in places if (holder := held_by(place)) is not None}
        words = [f"{_named(place)} is held by {holder}" for place, holder in holders.items()]
        in_use: Exception = GPIOPinInUse(", ".join(words) or f"{_named(places[0])} was held a moment ago")
        return in_use
    return BenchError(
        f"the kernel refuses {', '.join(map(str, places))}: {os_words(fault)}",
        check="Look whether these lines are free for GPIO on this board (teachrig rig).",
    )


def _named(place: Place) -> str:
    name = place.chip.names[place.number]
    return f"{name} ({place})" if name else str(place)
