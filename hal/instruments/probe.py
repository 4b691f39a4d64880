"""A temperature and humidity probe on Modbus RTU; which register holds what is in the rig profile."""

from __future__ import annotations

from collections.abc import Mapping

from hal.air import Air, AirReading, TypedAir
from hal.errors import InstrumentError
from hal.instruments.modbus import ModbusMaster
from hal.instruments.wire import Wire
from wiring.instruments import ProbeProfile
from wiring.parts import AirProfile

_COLDEST_C, _WARMEST_C = -40.0, 85.0
"""What no probe at a bench can mean, it does not: a wrong register, or a probe whose sensor is open."""
_CHECK = "Compare the registers and scales of [air.probe] in the rig profile with the manual of the probe."


class AirProbe:
    """One probe on a wire; the pressure, which it does not measure, is the typed one."""

    def __init__(self, wire: Wire, probe: ProbeProfile, typed: AirProfile) -> None:
        self._probe = probe
        self._pressure_kpa = typed.pressure_kpa
        self._what = f"air probe at {wire.name}"
        self._master = ModbusMaster(wire, what=self._what)
        first, last = sorted((probe.temperature.address, probe.humidity.address))
        self._first, self._count = first, last - first + 1

    async def read(self) -> AirReading:
        """The air now; raises InstrumentError when the probe is silent, or what it says cannot be."""
        probe = self._probe
        registers = await self._master.read(probe.unit, probe.table, self._first, self._count)
        raw = registers[probe.temperature.address - self._first]
        signed = raw - 0x10000 if raw & 0x8000 else raw
        temperature_c = round(signed * probe.temperature.scale, 3)
        humidity_percent = round(registers[probe.humidity.address - self._first] * probe.humidity.scale, 3)
        if not (_COLDEST_C <= temperature_c <= _WARMEST_C and 0.0 <= humidity_percent <= 100.0):
            raise InstrumentError(
                f"{self._what}: reads {temperature_c:g} °C and {humidity_percent:g} %, which cannot be",
                check=_CHECK,
            )
        return AirReading(temperature_c, humidity_percent, self._pressure_kpa, source=self._what)


async def start_air(profile: AirProfile, wires: Mapping[str, Wire]) -> Air:
    """The air by the probe of the rig profile, which has to answer; as typed in where none is fitted."""
    if profile.probe is None:
        return TypedAir(profile)
    probe = AirProbe(wires[profile.probe.port], profile.probe, profile)
    await probe.read()
    return probe
