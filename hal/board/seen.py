"""The lines of a rig as they are, one by one; looking at them changes nothing."""

from __future__ import annotations

from dataclasses import dataclass

from hal.board.chips import Place
from hal.board.claims import Seen, look_at
from wiring.lines import Level
from wiring.profile import RigLine, RigProfile


@dataclass(frozen=True, slots=True)
class LineSeen:
    """One line of a rig, where it is on the board, and how it is."""

    line: RigLine
    place: Place
    seen: Seen

    @property
    def on(self) -> bool | None:
        """Whether its level means 'on'; None where only its holder may read it."""
        return None if self.seen.level is None else bool(self.seen.level) is (self.line.active is Level.HIGH)

    @property
    def left_on(self) -> bool:
        """Whether it is an output that is driven to 'on' though no program holds it."""
        return self.line.is_output and self.seen.is_output and bool(self.on)


def look(profile: RigProfile, places: dict[str, Place]) -> tuple[LineSeen, ...]:
    """Look at every line that was found."""
    return tuple(
        LineSeen(line, places[line.line], look_at(places[line.line]))
        for line in profile.lines()
        if line.line in places
    )
