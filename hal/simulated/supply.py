"""The bench supply and the relay coils' own supply behind stop button and heartbeat."""

from __future__ import annotations

from collections.abc import Callable

from hal.simulated.clock import NS
from hal.simulated.pins import SimulatedPins
from hal.simulated.relay import drives_high
from hal.simulated.timeline import Event, Timeline
from wiring.electrical import COIL_OPERATES
from wiring.profile import CoilSupply, InputLine, Level, SupplyProfile

# Relay data sheets: must release at 5 % to 10 % of the rated coil voltage (common practice, no source).
_MUST_RELEASE = 0.1
_JOINED_OHM = 0.05


class Sense:
    """An isolated input: shows on or off on its line, where it is fitted."""

    def __init__(self, pins: SimulatedPins, line: InputLine | None) -> None:
        self._pin = None if line is None else pins.pin(line.line)
        self._levels = (0, 1) if line is not None and line.active is Level.HIGH else (1, 0)
        self._on: bool | None = None
        self.show(False)

    def show(self, on: bool) -> None:
        """Put the level that means on or off on the line."""
        if on is not self._on:
            self._on = on
            if self._pin is not None:
                self._pin.drive(self._levels[on])


class Supply:
    """The 24 V supply: voltage and current limit as set, both as they really are at the rails.

    `fixed` supplies are always on; `scpi` ones begin switched off. Beyond the current limit the voltage
    gives way, as the load of all the nests together demands.
    """

    def __init__(self, timeline: Timeline, profile: SupplyProfile) -> None:
        self.is_on = profile.kind == "fixed"
        self.set_voltage_v = profile.voltage_v
        self.set_limit_a = profile.current_limit_a
        self.voltage_v = 0.0
        self.on_change: list[Callable[[], None]] = []
        self.loads: list[Callable[[], float]] = []
        self.rails_joined = 0
        self._timeline = timeline
        self._sag_v: float | None = None
        self.load_changed()

    def set_voltage(self, voltage_v: float) -> None:
        """Set the output voltage."""
        with self._timeline:
            self.set_voltage_v = voltage_v
            self.load_changed()

    def set_limit(self, current_a: float) -> None:
        """Set the current limit."""
        with self._timeline:
            self.set_limit_a = current_a
            self.load_changed()

    def output(self, on: bool) -> None:
        """Switch the output."""
        with self._timeline:
            self.is_on = on
            self.load_changed()

    def sag(self, voltage_v: float | None) -> None:
        """Let something pull the voltage down, or end that."""
        with self._timeline:
            self._sag_v = voltage_v
            self.load_changed()

    def measured(self) -> tuple[float, float]:
        """Volts and amperes at the terminals now."""
        with self._timeline:
            current_a = min(self._demand_a(), self.set_limit_a) if self.voltage_v else 0.0
            return self.voltage_v, current_a

    def load_changed(self) -> None:
        """Work out the voltage anew; called by whatever draws more or less than before."""
        voltage_v = self._voltage_v()
        if voltage_v != self.voltage_v:
            self.voltage_v = voltage_v
            for tell in self.on_change:
                tell()

    def join_current_a(self) -> float:
        """The current through contacts that join the rails."""
        return min(self.set_voltage_v / _JOINED_OHM, self.set_limit_a)

    def join_power_w(self) -> float:
        """What turns to heat in contacts that join the rails."""
        return self.join_current_a() ** 2 * _JOINED_OHM

    def _voltage_v(self) -> float:
        if not self.is_on:
            return 0.0
        if self.rails_joined:
            return self.join_current_a() * _JOINED_OHM
        voltage_v = self.set_voltage_v if self._sag_v is None else min(self._sag_v, self.set_voltage_v)
        demand_a = self._demand_a()
        return voltage_v if demand_a <= self.set_limit_a else voltage_v * self.set_limit_a / demand_a

    def _demand_a(self) -> float:
        joined_a = self.join_current_a() if self.rails_joined else 0.0
        return joined_a + sum(load() for load in self.loads)


class Coils:
    """Keeps the relay coils alive: supply on, stop button not pressed, heartbeat not overdue.

    The heartbeat feeds a retriggerable monostable.
    """

    def __init__(
        self, timeline: Timeline, pins: SimulatedPins, profile: CoilSupply, supply: Supply, *, rated_v: float
    ) -> None:
        self.live = False
        self.on_change: list[Callable[[], None]] = []
        self.stop_pressed = False
        self.stop_is_heard = True
        self.hears_program = True
        self._beat_bridged = False
        self._stop_bridged = False
        self._timeline = timeline
        self._supply = supply
        self._rated_v = rated_v
        self._dropout_ns = round(profile.dropout_s * NS)
        self._beaten = False
        self._deadline: Event | None = None
        self._enough = False
        high = drives_high(profile.heartbeat)
        edges = "rising" if high else "falling"
        pins.pin(profile.heartbeat.line).connect(self._beat, idle=0 if high else 1, edges=edges)
        supply.on_change.append(self._update)
        self._stop_sense = Sense(pins, profile.stop_button)
        self._coil_sense = Sense(pins, profile.sense)

    def press_stop(self, pressed: bool) -> None:
        """Press the stop button or pull it out again; it latches."""
        with self._timeline:
            self.stop_pressed = pressed
            self._stop_sense.show(pressed and self.stop_is_heard)
            self._update()

    def bridge(self, *, heartbeat: bool | None = None, stop: bool | None = None) -> None:
        """Put a wire across the contact of the heartbeat module, or of the stop button, or take it away."""
        self._beat_bridged = self._beat_bridged if heartbeat is None else heartbeat
        self._stop_bridged = self._stop_bridged if stop is None else stop
        self._update()

    def _beat(self, _level: int) -> None:
        if not self.hears_program:
            return
        if self._deadline is not None and self._deadline.pending:
            self._timeline.put_off(self._deadline, self._dropout_ns)
        else:
            self._deadline = self._timeline.after(self._dropout_ns, self._overdue)
        if not self._beaten:
            self._beaten = True
            self._update()

    def _overdue(self) -> None:
        self._beaten = False
        self._update()

    def _update(self) -> None:
        threshold = _MUST_RELEASE if self._enough else COIL_OPERATES
        self._enough = self._supply.voltage_v >= threshold * self._rated_v
        beaten = self._beaten or self._beat_bridged
        live = self._enough and beaten and (not self.stop_pressed or self._stop_bridged)
        if live is not self.live:
            self.live = live
            self._coil_sense.show(live)
            for tell in self.on_change:
                tell()
