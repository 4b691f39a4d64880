"""How units understand their teach wire: three methods, each a small machine.

A unit looks at nothing but its wire, its echo and its clock. That a person somewhere follows a sequence is
not known here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, Protocol

from hal.simulated.clock import NS
from hal.simulated.kind import TeachMethod, UnitKind
from hal.simulated.led import Led
from hal.simulated.memory import Memory
from hal.simulated.timeline import Event, Timeline
from wiring.terms import OutputFunction, Rail

_NO, _NC = OutputFunction.NO, OutputFunction.NC


class Pupil(Protocol):
    """The unit, as its teaching sees it."""

    timeline: Timeline
    kind: UnitKind
    led: Led
    memory: Memory
    refuses: bool

    def read_mm(self) -> float | None:
        """Take one reading; None without an echo."""

    def store(self, memory: Memory) -> None:
        """Keep this for good."""


class Teaching:
    """What the methods have in common: timers that end with the contact, hearing, refusing."""

    def __init__(self, unit: Pupil) -> None:
        self._unit = unit
        self._timers: list[Event] = []

    def held(self, rail: Rail) -> None:
        """The wire was put on a rail."""
        raise NotImplementedError

    def released(self, rail: Rail, length_s: float) -> None:
        """The wire was taken off again."""
        raise NotImplementedError

    def forget(self) -> None:
        """Lose what is not stored: the supply has gone, or a step was wrong."""
        self._stop_timers()

    def _after(self, seconds: float, do: Callable[[], None]) -> None:
        self._timers.append(self._unit.timeline.after(round(seconds * NS), do))

    def _stop_timers(self) -> None:
        for event in self._timers:
            event.cancel()
        self._timers.clear()

    def _target_mm(self) -> float | None:
        """Read a target that can be taught: neither none nor one within the blind zone."""
        reading_mm = self._unit.read_mm()
        return None if reading_mm is None or self._covers(reading_mm) else reading_mm

    def _covers(self, reading_mm: float) -> bool:
        return reading_mm < self._unit.kind.blind_zone_mm

    def _refuse(self) -> None:
        self._unit.led.flash(8.0, for_s=1.5)


class _Step(NamedTuple):
    rail: Rail
    reading_mm: float | None
    covered: bool
    at_ns: int


class RailOrder(Teaching):
    """Two steps on different rails; which rail comes first carries the meaning.

    Held for a second, a step is looked at: the LED flashes slowly if it was understood, fast if not. It
    counts when the wire is let go within ten seconds.
    """

    HOLD_S = 1.0
    LONGEST_S = 10.0
    AFTERGLOW_S = 0.3

    def __init__(self, unit: Pupil) -> None:
        super().__init__(unit)
        self._first: _Step | None = None
        self._taken: _Step | Memory | None = None

    def held(self, rail: Rail) -> None:
        """Wait for the moment to look, and for the moment when it was too long."""
        self._taken = None
        self._after(self.HOLD_S, lambda: self._look(rail))
        self._after(self.LONGEST_S, self._give_up)

    def released(self, rail: Rail, length_s: float) -> None:  # noqa: ARG002
        """Let the step count, if it was understood."""
        self._stop_timers()
        taken, self._taken = self._taken, None
        if taken is None:
            return
        self._unit.led.end_after(self.AFTERGLOW_S)
        self._first = taken if isinstance(taken, _Step) else None
        if isinstance(taken, Memory):
            self._unit.store(taken)

    def forget(self) -> None:
        """Forget the first step as well."""
        super().forget()
        self._first = self._taken = None

    def _look(self, rail: Rail) -> None:
        unit, first = self._unit, self._first
        reading_mm = unit.read_mm()
        covered = reading_mm is not None and self._covers(reading_mm)
        step = _Step(rail, reading_mm, covered, unit.timeline.now_ns)
        if first is not None and step.at_ns - first.at_ns > unit.kind.teach_timeout_s * NS:
            first = None
        self._taken = self._begin(step) if first is None else self._finish(first, step)
        if self._taken is None or unit.refuses:
            self._give_up()
        else:
            unit.led.flash(2.0)

    def _give_up(self) -> None:
        self.forget()
        self._refuse()

    def _begin(self, step: _Step) -> _Step | None:
        return None if step.covered and step.rail is Rail.PLUS else step

    def _finish(self, first: _Step, step: _Step) -> Memory | None:
        if step.rail is first.rail or step.covered:
            return None
        first_mm, second_mm = first.reading_mm, step.reading_mm
        if first.covered:
            return Memory() if second_mm is None else None
        if second_mm is None:
            return None
        if first_mm is None:
            return Memory(function=_NO if first.rail is Rail.PLUS else _NC).single(second_mm)
        function = _NO if first.rail is Rail.MINUS else _NC
        return Memory(function=function).window(first_mm, second_mm, self._unit.kind)


class ContactLength(Teaching):
    """One contact at a time; its length says what it means, and the LED tells the span it is in.

    On L- the first span (2 s to 5 s) stores the near end or only point, or full range with a clear beam; the
    second (5 s to 8 s) stores the far end. On L+ the spans choose NO and NC. The unit answers afterwards.
    """

    SPANS_S = (2.0, 5.0, 8.0)

    def held(self, rail: Rail) -> None:  # noqa: ARG002
        """Show the spans as they pass."""
        led = self._unit.led
        led.hold(True)
        self._after(self.SPANS_S[0], lambda: led.flash(2.0))
        self._after(self.SPANS_S[1], lambda: led.flash(5.0))
        self._after(self.SPANS_S[2], lambda: led.hold(False))

    def released(self, rail: Rail, length_s: float) -> None:
        """Store what the length asks for, and answer."""
        self._stop_timers()
        begin_s, middle_s, end_s = self.SPANS_S
        if not begin_s <= length_s < end_s:
            self._unit.led.normal()
            return
        memory = self._meant(rail, length_s < middle_s)
        if memory is None or self._unit.refuses:
            self._refuse()
        else:
            self._unit.store(memory)
            self._unit.led.blink(2)

    def _meant(self, rail: Rail, first_span: bool) -> Memory | None:
        kept = self._unit.memory
        if rail is Rail.PLUS:
            return kept.with_function(_NO if first_span else _NC)
        reading_mm = self._unit.read_mm()
        if first_span and reading_mm is None:
            return kept.full_range()
        if reading_mm is None or self._covers(reading_mm):
            return None
        if first_span:
            return kept.single(reading_mm)
        return None if kept.near_mm is None else kept.window(kept.near_mm, reading_mm, self._unit.kind)


class ContactCount(Teaching):
    """Short contacts on L- are counted; a second after the last one the count is taken and blinked back.

    1 only point, 2 near end, 3 far end, 4 full range, 5 NO, 6 NC.
    """

    SHORTEST_S = 0.1
    LONGEST_S = 0.8
    GAP_S = 1.0

    def __init__(self, unit: Pupil) -> None:
        super().__init__(unit)
        self._count = 0
        self._near: tuple[float, int] | None = None

    def held(self, rail: Rail) -> None:  # noqa: ARG002
        """Hold back the taking of the count while a contact lasts."""
        self._stop_timers()

    def released(self, rail: Rail, length_s: float) -> None:
        """Count the contact, or give up counting if it was none."""
        if rail is Rail.PLUS or length_s > self.LONGEST_S:
            self._count = 0
        elif length_s >= self.SHORTEST_S:
            self._count += 1
        if self._count:
            self._after(self.GAP_S, self._take)

    def forget(self) -> None:
        """Forget the count and a near end that waits for its far end."""
        super().forget()
        self._count = 0
        self._near = None

    def _take(self) -> None:
        count, self._count = self._count, 0
        if self._unit.refuses or not self._obey(count):
            self._refuse()
        else:
            self._unit.led.blink(count)

    def _obey(self, count: int) -> bool:
        if count == 2:
            return self._take_near()
        memory = self._meant(count)
        if memory is None:
            return False
        if count in (1, 3, 4):
            self._near = None
        self._unit.store(memory)
        return True

    def _take_near(self) -> bool:
        near_mm = self._target_mm()
        self._near = None if near_mm is None else (near_mm, self._unit.timeline.now_ns)
        return near_mm is not None

    def _meant(self, count: int) -> Memory | None:
        kept = self._unit.memory
        if count == 4:
            return kept.full_range()
        if count in (5, 6):
            return kept.with_function(_NO if count == 5 else _NC)
        point_mm = self._target_mm() if count in (1, 3) else None
        if point_mm is None:
            return None
        return kept.single(point_mm) if count == 1 else self._far_end(point_mm)

    def _far_end(self, far_mm: float) -> Memory | None:
        unit = self._unit
        if self._near is None or unit.timeline.now_ns - self._near[1] > unit.kind.teach_timeout_s * NS:
            return None
        return unit.memory.window(self._near[0], far_mm, unit.kind)


METHODS: dict[TeachMethod, type[Teaching]] = {
    TeachMethod.RAIL_ORDER: RailOrder,
    TeachMethod.CONTACT_LENGTH: ContactLength,
    TeachMethod.CONTACT_COUNT: ContactCount,
}
