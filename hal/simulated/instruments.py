"""The far ends of the serial wires: a supply that speaks SCPI, a distance gauge, and whatever hangs on the others.

`attach_instruments` puts each on an in-memory wire with byte times and reply delays. The tests put the same ones on a
real pseudo-terminal.
"""

from __future__ import annotations

import asyncio
from typing import Protocol

from hal.errors import InstrumentError
from hal.instruments.wire import LostHandler, Receiver
from hal.simulated.clock import NS
from hal.simulated.instrument import Instrument, LineInstrument
from hal.simulated.probe import AirPhysics, SimulatedCodeReader, SimulatedProbe
from hal.simulated.scpi import Obey, ScpiParser, nothing, number, switch
from hal.simulated.stage import SimulatedStage, StagePhysics
from hal.simulated.timeline import Timeline
from wiring.profile import GaugeProfile, RigProfile

_BITS_PER_BYTE = 10  # start, eight, stop


class SupplyPhysics(Protocol):
    """What the supply does to the bench."""

    def set_voltage(self, voltage_v: float) -> None:
        """Set what it gives when it is on."""

    def set_limit(self, current_a: float) -> None:
        """Set the current above which the voltage falls."""

    def output(self, on: bool) -> None:
        """Switch the output."""

    def measured(self) -> tuple[float, float]:
        """Volts and amperes at the terminals now."""


class GaugePhysics(Protocol):
    """What a distance gauge sees of the target."""

    silent: bool

    def seen_mm(self) -> float:
        """The target's distance from the sensing face, as well as the gauge can tell it now."""


class SimulatedSupply(LineInstrument):
    """A bench supply for up to `highest_v` and `highest_a`."""

    def __init__(self, physics: SupplyPhysics, *, highest_v: float = 32.0, highest_a: float = 3.0) -> None:
        super().__init__()
        self._physics = physics
        self._highest = {"V": highest_v, "A": highest_a}
        self._scpi = ScpiParser(self._commands())
        self._reset("")

    def obey(self, line: str) -> None:
        """Obey one program message."""
        if answer := self._scpi.obey(line):
            self.answer(answer)

    def _commands(self) -> dict[str, Obey]:
        return {
            "*IDN?": lambda _: "Simulated bench,24 V supply,1,1.0",
            "*RST": self._reset,
            "[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]": self._set_voltage,
            "[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]?": lambda _: f"{self._voltage_v:.3f}",
            "[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]": self._set_limit,
            "[SOURce:]CURRent[:LEVel][:IMMediate][:AMPLitude]?": lambda _: f"{self._limit_a:.4f}",
            "OUTPut[:STATe]": self._switch,
            "OUTPut[:STATe]?": lambda _: f"{self._on:d}",
            "MEASure[:SCALar]:VOLTage[:DC]?": lambda _: f"{self._physics.measured()[0]:.3f}",
            "MEASure[:SCALar]:CURRent[:DC]?": lambda _: f"{self._physics.measured()[1]:.4f}",
        }

    def _reset(self, parameter: str) -> None:
        nothing(parameter)
        self._switch("OFF")
        self._set_voltage("0")
        self._set_limit("MAX")

    def _set_voltage(self, parameter: str) -> None:
        self._voltage_v = number(parameter, "V", 0.0, self._highest["V"])
        self._physics.set_voltage(self._voltage_v)

    def _set_limit(self, parameter: str) -> None:
        self._limit_a = number(parameter, "A", 0.0, self._highest["A"])
        self._physics.set_limit(self._limit_a)

    def _switch(self, parameter: str) -> None:
        self._on = switch(parameter)
        self._physics.output(self._on)


class SimulatedGauge(LineInstrument):
    """A distance gauge, mounted as the rig profile says."""

    def __init__(self, physics: GaugePhysics, mounted: GaugeProfile) -> None:
        super().__init__()
        self._physics = physics
        self._mounted = mounted

    def obey(self, line: str) -> None:
        """Answer one question."""
        if self._physics.silent:
            return
        if line == "WHO":
            self.answer("GAUGE simulated wire encoder")
        elif line == "POS":
            step_mm = self._mounted.resolution_mm
            steps = round(self._mounted.reading_mm(self._physics.seen_mm()) / step_mm)
            self.answer(f"POS {steps * step_mm:+.4f}")
        else:
            self.answer("WHAT")


class SimulatedWire:
    """An in-memory wire: each byte takes its time, and `unplug` cuts it."""

    def __init__(self, timeline: Timeline, name: str, instrument: Instrument, *, baud: int) -> None:
        self.name = name
        self.on_lost: list[LostHandler] = []
        self._timeline = timeline
        self._instrument = instrument
        self._byte_ns = _BITS_PER_BYTE * NS // baud
        self._out_free_ns = self._in_free_ns = 0
        self._receiver: Receiver | None = None
        self._gone = ""
        instrument.transmit = self._transmit

    def write(self, data: bytes) -> None:
        """Send bytes to the instrument; raises InstrumentError if the wire is lost or closed."""
        if self._gone:
            raise InstrumentError(self._gone)
        start_ns = max(self._timeline.now_ns, self._out_free_ns)
        self._out_free_ns = start_ns + len(data) * self._byte_ns
        self._timeline.at(self._out_free_ns, lambda: self._instrument.receive(data))

    def set_receiver(self, receiver: Receiver) -> None:
        """Hand what the instrument sends to `receiver`."""
        self._receiver = receiver

    def close(self) -> None:
        """Give the wire back; safe to call twice."""
        self._gone = self._gone or f"port {self.name} is closed"
        self._receiver = None

    def unplug(self) -> None:
        """Cut the wire, as by pulling its plug."""
        if not self._gone:
            self.close()
            self._gone = f"port {self.name} is lost: unplugged"
            for tell in self.on_lost:
                tell(InstrumentError(self._gone))

    def _transmit(self, data: bytes, after_s: float) -> None:
        start_ns = max(self._timeline.now_ns + round(after_s * NS), self._in_free_ns)
        self._in_free_ns = start_ns + len(data) * self._byte_ns
        self._timeline.at(self._in_free_ns, lambda: self._deliver(data))

    def _deliver(self, data: bytes) -> None:
        if self._receiver is None:
            return
        if asyncio._get_running_loop() is self._timeline.loop:
            self._receiver(data)
        else:
            self._timeline.loop.call_soon_threadsafe(self._receiver, data)


class BenchPhysics(Protocol):
    """The parts of the simulated bench that hang on serial wires."""

    @property
    def timeline(self) -> Timeline:
        """When things happen."""

    @property
    def supply(self) -> SupplyPhysics:
        """What the supply does."""

    @property
    def target(self) -> StagePhysics:
        """What the stage does."""

    @property
    def gauge(self) -> GaugePhysics | None:
        """What the distance gauge sees, if there is one."""

    @property
    def air(self) -> AirPhysics:
        """What the air probe feels."""

    @property
    def code_reader(self) -> SimulatedCodeReader:
        """What codes are held before, if it is fitted."""


def attach_instruments(world: BenchPhysics, profile: RigProfile) -> dict[str, SimulatedWire]:
    """Plug an instrument into every port that the profile names; the wires by port name."""
    instruments = make_instruments(world, profile)
    return {
        port.name: SimulatedWire(world.timeline, port.name, instruments[port.name], baud=port.baud)
        for port in profile.ports()
    }


def make_instruments(world: BenchPhysics, profile: RigProfile) -> dict[str, Instrument]:
    """The instrument for every port that the profile names, by port name."""
    instruments: dict[str, Instrument] = {}
    if (port := profile.supply.port) is not None:
        instruments[port] = SimulatedSupply(world.supply)
    speed_mm_s = profile.target.speed_mm_s
    if (port := profile.target.port) is not None and speed_mm_s is not None:
        instruments[port] = SimulatedStage(
            world.target,
            travel_mm=profile.target.farthest_mm,
            speed_mm_s=speed_mm_s,
            dialect=profile.target.spoken,
        )
    if (mounted := profile.target.gauge) is not None and world.gauge is not None:
        instruments[mounted.port] = SimulatedGauge(world.gauge, mounted)
    if (probe := profile.air.probe) is not None:
        instruments[probe.port] = SimulatedProbe(world.air, probe)
    if (reader := profile.code_reader) is not None:
        instruments[reader.port] = world.code_reader
    return instruments
