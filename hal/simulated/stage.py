"""The controller of a linear stage at the far end of its serial line, in the words that its rig profile states."""

from __future__ import annotations

import re
from typing import Final, Protocol

from hal.simulated.instrument import LineInstrument
from wiring.profile import StageDialect

_USUAL: Final = StageDialect()


class StagePhysics(Protocol):
    """What the stage does to the target."""

    def position_mm(self) -> float:
        """Where the stage believes that it stands now."""

    def start_move(self, to_mm: float, speed_mm_s: float) -> None:
        """Begin to move."""

    def stop(self) -> None:
        """Stand still where it is."""

    @property
    def late_s(self) -> float:
        """How late its controller answers."""


class SimulatedStage(LineInstrument):
    """A stage that moves only after it was told units, mode and feed form, and was homed; in words of its own."""

    def __init__(
        self, physics: StagePhysics, *, travel_mm: float, speed_mm_s: float, dialect: StageDialect = _USUAL
    ) -> None:
        super().__init__()
        self._physics = physics
        self._dialect = dialect
        self._report, self._home_line = dialect.report.upper(), dialect.home.upper()
        self._modes = frozenset(word for line in dialect.set_up for word in line.upper().split())
        self._move = re.compile(
            re.escape(dialect.move).replace(r"\{mm\}", r"(-?\d+(?:\.\d+)?)"), re.IGNORECASE
        )
        self._travel_mm = travel_mm
        self._speed_mm_s = speed_mm_s
        self._told: set[str] = set()
        self._homed = False

    def receive(self, data: bytes) -> None:
        """Take bytes; what stops the stage does so at once, wherever it stands in the stream."""
        stop = self._dialect.stop.encode("ascii")
        if stop in data:
            self._physics.stop()
            self._homed = False
            data = data.replace(stop, b"")
        super().receive(data)

    def answer(self, text: str, busy_s: float = 0.0) -> None:
        """Send a line, as late as the controller is."""
        super().answer(text, busy_s + self._physics.late_s)

    def obey(self, line: str) -> None:
        """Obey one block."""
        upper = line.upper()
        if move := self._move.fullmatch(line):
            self._rapid(float(move[1]))
        elif upper == self._report:
            position = self._dialect.position.replace("{mm}", f"{self._physics.position_mm():.3f}")
            self.answer(f"{position}\r\n{self._dialect.ok}")
        elif upper == self._home_line:
            self._home()
        elif (words := set(upper.split())) <= self._modes:
            self._told |= words
            self._taken()
        else:
            self._refuse("not understood")

    def _taken(self, busy_s: float = 0.0) -> None:
        self.answer(self._dialect.ok, busy_s)

    def _refuse(self, why: str) -> None:
        self.answer(f"{self._dialect.refusals[0]}: {why}")

    def _home(self) -> None:
        self._homed = True
        home_mm = self._dialect.home_mm
        busy_s = abs(self._physics.position_mm() - home_mm) / self._speed_mm_s
        self._physics.start_move(home_mm, self._speed_mm_s)
        self._taken(busy_s)

    def _rapid(self, position_mm: float) -> None:
        if self._told != self._modes:
            self._refuse(f"{' '.join(sorted(self._modes - self._told))} not told")
        elif not self._homed:
            self._refuse("not homed")
        elif not 0.0 <= position_mm <= self._travel_mm:
            self._refuse("beyond travel")
        else:
            self._physics.start_move(position_mm, self._speed_mm_s)
            self._taken()
