"""The instruments on serial lines: no copper of the panel, but parts of the rig all the same."""

from __future__ import annotations

from dataclasses import dataclass

from wiring.profile import RigProfile
from wiring.serialports import Parity, RigPort


@dataclass(frozen=True, slots=True)
class SerialInstrument:
    """One instrument on its port.

    Attributes:
        name: designation, such as -A4.
        what: what it is, in words.
        speaks: by what it is bought: protocol, and what its line has to be set to.

    """

    name: str
    what: str
    port: str
    speaks: str


# Designation, words and protocol of what the profile calls its ports.
_KNOWN = {
    "supply": ("-T1", "bench supply", "SCPI-99, subset for DC supplies"),
    "stage": ("-A2", "linear stage", "lines of motion words (RS-274), answered one by one"),
    "gauge": ("-A3", "distance gauge", "lines WHO and POS of this program's own"),
    "air probe": ("-A4", "air probe", "Modbus RTU"),
    "code reader": ("-A5", "code reader", "each code a line of text"),
}


def serial_instruments(profile: RigProfile) -> tuple[SerialInstrument, ...]:
    """What hangs on the serial ports of a rig."""
    return tuple(_instrument(port, profile) for port in profile.ports())


def _instrument(port: RigPort, profile: RigProfile) -> SerialInstrument:
    name, what, protocol = _KNOWN[port.instrument]
    probe = profile.air.probe
    unit = f", address {probe.unit}" if probe is not None and port.name == probe.port else ""
    bits = f"8 data bits, {_PARITIES[port.parity]} parity, 1 stop bit"
    return SerialInstrument(name, what, port.name, f"{protocol}{unit}; {port.baud} Bd, {bits}")


_PARITIES = {Parity.NONE: "no", Parity.EVEN: "even", Parity.ODD: "odd"}
