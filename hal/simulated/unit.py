"""One simulated unit: supply, output stage, LED, teach wire, hearing and memory."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Literal, NamedTuple

from hal.simulated.air import Air
from hal.simulated.clock import NS
from hal.simulated.faults import UnitFault, UnitFaultKind
from hal.simulated.kind import UnitKind
from hal.simulated.led import Led
from hal.simulated.memory import Memory
from hal.simulated.sensing import Sensing
from hal.simulated.target import Target
from hal.simulated.teaching import METHODS
from hal.simulated.timeline import Event, Timeline
from wiring.terms import OutputFunction, OutputType, Rail

_HOLD_UP_NS = 3 * NS // 1000  # the unit's own capacitor carries it over bounce (common practice, no source)
_WIRE_FILTER_NS = 5 * NS // 1000  # the teach input takes out bounce (common practice, no source)
_DRIFT_S = 5.0
_WIDE_PERCENT = 6.0
_NOISY_FACTOR = 15.0
_HIGH_CURRENT_A = 0.2


class Drive(Enum):
    """What the output stage does to the output wire."""

    OPEN = "open"
    HIGH = "high"
    LOW = "low"


_DRIVES = {
    OutputType.PNP: (Drive.OPEN, Drive.HIGH),
    OutputType.NPN: (Drive.OPEN, Drive.LOW),
    OutputType.PUSH_PULL: (Drive.LOW, Drive.HIGH),
}
_OTHER_TYPE = {
    OutputType.PNP: OutputType.NPN,
    OutputType.NPN: OutputType.PNP,
    OutputType.PUSH_PULL: OutputType.PNP,
}


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a unit is surrounded by."""

    timeline: Timeline
    air: Air
    target: Target


class Ends(NamedTuple):
    """Where both ends of a unit's zone take effect, on a plate that comes in and on one that leaves."""

    operate_near_mm: float
    operate_far_mm: float
    release_near_mm: float
    release_far_mm: float


class Socket:
    """What the unit's connector and LED lead to; the nest replaces these while the unit is in it."""

    def output_changed(self) -> None:
        """The output stage, or the current drawn, is another one now."""

    def led_changed(self) -> None:
        """The LED went on or off."""

    def contact_seen(self, rail: Rail, start_ns: int, end_ns: int) -> None:
        """The unit has seen a contact of its teach wire end."""


class Unit:
    """A unit under power knows its wire, its echo and its clock, and nothing else."""

    def __init__(
        self,
        kind: UnitKind,
        around: Surroundings,
        draw: random.Random,
        *,
        faults: Sequence[UnitFault] = (),
        memory: Memory | None = None,
    ) -> None:
        self.kind = kind
        self.timeline = around.timeline
        self.memory = memory or Memory()
        self.socket = Socket()
        self.faults = {fault.kind: fault for fault in faults}
        self.refuses = UnitFaultKind.REFUSES_TEACH in self.faults
        self.drive = Drive.OPEN
        self.fed = False
        works = UnitFaultKind.LED_DARK not in self.faults
        self.led = Led(around.timeline, self._led_changed, works=works)
        self._draw = draw
        self._current_a = self._idle_current_a(draw.uniform(0.9, 1.1))
        self._availability_ns = round(kind.availability_s * draw.uniform(0.7, 1.0) * NS)
        self._drives = _DRIVES[self._output_type()]
        self._target = around.target
        self._sensing = self._own_sensing(around)
        self._teaching = METHODS[kind.teach_method](self)
        self._on_since_ns: int | None = None
        self._awake = False
        self._coming: list[Event] = []
        self._output_change: Event | None = None
        self._rail: Rail | None = None
        self._rail_since_ns = 0
        self._letting_go: Event | None = None

    # The connector

    @property
    def current_a(self) -> float:
        """What it draws from L+ without a load."""
        return self._current_a if self.fed else 0.0

    def feed(self, fed: bool) -> None:
        """Connect L+ or take it away; a gap of some milliseconds is bridged."""
        if fed == self.fed:
            return
        self.fed = fed
        self._stop_coming()
        if not fed:
            self._expect(_HOLD_UP_NS, self._die)
        elif self._on_since_ns is None and UnitFaultKind.DEAD not in self.faults:
            self._on_since_ns = self.timeline.now_ns
            self._expect(self._availability_ns, self._come_alive)
        elif self._on_since_ns is not None and not self._awake:
            alive_ns = self._on_since_ns + self._availability_ns
            self._expect(max(0, alive_ns - self.timeline.now_ns), self._come_alive)
        self.socket.output_changed()

    def wire(self, rail: Rail | None) -> None:
        """Put the teach wire on a rail, or let it float."""
        if rail is self._rail and self._letting_go is not None:
            self._letting_go.cancel()
            self._letting_go = None
        elif rail is None and self._rail is not None:
            end_ns = self.timeline.now_ns
            self._letting_go = self.timeline.after(_WIRE_FILTER_NS, lambda: self._wire_let_go(end_ns))
        elif rail is not None and rail is not self._rail:
            if self._rail is not None:
                self._wire_let_go(self.timeline.now_ns)
            self._wire_held(rail)

    def attach(self, socket: Socket) -> None:
        """Put it into a nest; it may have been in one before."""
        self.socket = socket
        if self._sensing.look not in self._target.on_change:
            self._target.on_change.append(self._sensing.look)

    def detach(self) -> None:
        """Take it out of the nest: everything is cut at once."""
        self.socket = Socket()
        self.feed(False)
        self._stop_coming()
        self._die()
        self._target.on_change.remove(self._sensing.look)

    # What its teaching asks for

    def read_mm(self) -> float | None:
        """Take one reading; None without an echo."""
        return self._sensing.read_mm()

    def store(self, memory: Memory) -> None:
        """Keep a setting, as well as this unit can."""
        self.memory = self._spoilt(memory)
        self._sensing.set_zone(self.memory.zone_mm(self.kind))
        self._plan_output()
        if (drift := self.faults.get(UnitFaultKind.DRIFTED)) is not None:
            delay_s = _DRIFT_S if drift.after_s is None else drift.after_s
            self.timeline.after(round(delay_s * NS), lambda: self._drift(drift.offset_mm or 0.0))

    # Test-only truth

    @property
    def is_on(self) -> bool:
        """Whether the output is on now (test-only truth)."""
        return self._awake and self.drive is self._drives[1]

    def true_operate_mm(self, edge: Literal["near", "far"]) -> float:
        """Where an end of its zone takes effect on a plate that comes into the zone, in the air of now.

        The set point of a single point is its far end. Test-only truth.
        """
        return self._sensing.true_edges_mm(False)[edge == "far"]

    def true_release_mm(self, edge: Literal["near", "far"]) -> float:
        """Where an end of its zone takes effect on a plate that leaves the zone (test-only truth)."""
        return self._sensing.true_edges_mm(True)[edge == "far"]

    def true_ends(self, sound_m_s: float | None = None) -> Ends:
        """Where it would switch by what it remembers, with or without supply, in the present air or another."""
        zone = self.memory.zone_mm(self.kind)
        operate = self._sensing.true_ends_mm(zone, False, sound_m_s)
        return Ends(*operate, *self._sensing.true_ends_mm(zone, True, sound_m_s))

    def true_sigma_mm(self, distance_mm: float) -> float:
        """Standard deviation of its single readings of a distance (test-only truth)."""
        return self._sensing.true_sigma_mm(distance_mm)

    @property
    def true_current_a(self) -> float:
        """What it draws once it is fed (test-only truth)."""
        return self._current_a

    @property
    def true_output_type(self) -> OutputType:
        """How its output really drives (test-only truth)."""
        return self._output_type()

    # Within

    def _idle_current_a(self, spread: float) -> float:
        if UnitFaultKind.DEAD in self.faults:
            return 0.0
        if (fault := self.faults.get(UnitFaultKind.OVER_CURRENT)) is not None:
            return fault.current_a or _HIGH_CURRENT_A
        return self.kind.current_a * spread

    def _output_type(self) -> OutputType:
        own = self.kind.output_type
        return _OTHER_TYPE[own] if UnitFaultKind.WRONG_OUTPUT_TYPE in self.faults else own

    def _own_sensing(self, around: Surroundings) -> Sensing:
        kind = self.kind
        if (wide := self.faults.get(UnitFaultKind.WIDE_HYSTERESIS)) is not None:
            percent = wide.percent or _WIDE_PERCENT
            # Not less close to the face, where the least hysteresis of the kind would hide the fault.
            least_mm = kind.hysteresis_min_mm * percent / kind.hysteresis_percent
            changes = {"hysteresis_percent": percent, "hysteresis_min_mm": least_mm}
            kind = kind.model_copy(update=changes)
        sensing = Sensing(around.timeline, kind, around.air, around.target, self._draw, self._plan_output)
        if (noisy := self.faults.get(UnitFaultKind.NOISY_ECHO)) is not None:
            sensing.noise_factor = noisy.factor or _NOISY_FACTOR
        around.target.on_change.append(sensing.look)
        return sensing

    def _expect(self, delay_ns: int, happening: Callable[[], None]) -> None:
        self._coming.append(self.timeline.after(delay_ns, happening))

    def _stop_coming(self) -> None:
        for event in self._coming:
            event.cancel()
        self._coming.clear()

    def _come_alive(self) -> None:
        self._awake = True
        self._sensing.wake(self.memory.zone_mm(self.kind))
        self._set_output()

    def _die(self) -> None:
        self._on_since_ns = None
        self._awake = False
        if self._output_change is not None:
            self._output_change.cancel()
        self._sensing.sleep()
        self._teaching.forget()
        self.led.follow(False)
        self.led.normal()
        self._set_output()

    def _plan_output(self) -> None:
        """Let the output follow, with the unit's response time, what the unit now takes for detected."""
        if self._output_change is not None:
            self._output_change.cancel()
        if self._awake and self._wanted() is not self.drive:
            delay_ns = round(self.kind.response_s * self._draw.uniform(0.6, 1.0) * NS)
            self._output_change = self.timeline.after(delay_ns, self._set_output)

    def _wanted(self) -> Drive:
        inverted = self.memory.function is OutputFunction.NC
        return self._drives[self._sensing.detected is not inverted]

    def _set_output(self) -> None:
        drive = self._wanted() if self._awake else Drive.OPEN
        self.led.follow(self._awake and drive is self._drives[1])
        if drive is not self.drive:
            self.drive = drive
            self.socket.output_changed()

    def _led_changed(self) -> None:
        self.socket.led_changed()

    def _wire_held(self, rail: Rail) -> None:
        self._rail, self._rail_since_ns = rail, self.timeline.now_ns
        if self._teachable():
            self._teaching.held(rail)

    def _wire_let_go(self, end_ns: int) -> None:
        rail, self._rail, self._letting_go = self._rail, None, None
        if rail is not None and self._awake:
            self.socket.contact_seen(rail, self._rail_since_ns, end_ns)
            if self._teachable():
                self._teaching.released(rail, (end_ns - self._rail_since_ns) / NS)

    def _teachable(self) -> bool:
        """Whether the contact that is under way began in the time in which the unit can be taught."""
        if not self._awake or self._on_since_ns is None:
            return False
        since_ns = self._rail_since_ns - self._on_since_ns
        return self._availability_ns <= since_ns <= self.kind.teach_window_s * NS

    def _spoilt(self, memory: Memory) -> Memory:
        memory = self._as_well_as_it_can(memory)
        fault = self.faults.get(UnitFaultKind.STORES_WRONGLY)
        if fault is None:
            return memory
        offset_mm = fault.offset_mm or 0.0
        ends = {key: getattr(memory, key) for key in ("near_mm", "far_mm")}
        # What was stored before is off already.
        new = {key: value for key, value in ends.items() if value not in (None, getattr(self.memory, key))}
        moved = {key: value + offset_mm for key, value in new.items()}
        other = OutputFunction.NO if memory.function is OutputFunction.NC else OutputFunction.NC
        return replace(memory, function=other if fault.inverse else memory.function, **moved)

    def _as_well_as_it_can(self, memory: Memory) -> Memory:
        """The same memory with the error of storing on each point that is new in it."""
        share = self.kind.store_error_percent / 100
        if not share:
            return memory

        def kept(point_mm: float | None, known_mm: float | None) -> float | None:
            if point_mm is None or point_mm == known_mm:
                return point_mm
            return self._draw.gauss(point_mm, share * point_mm)

        near_mm, far_mm = kept(memory.near_mm, self.memory.near_mm), kept(memory.far_mm, self.memory.far_mm)
        return replace(memory, near_mm=near_mm, far_mm=far_mm)

    def _drift(self, offset_mm: float) -> None:
        self._sensing.offset_mm = offset_mm
        self._sensing.look()
