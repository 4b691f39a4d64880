"""What the wiring papers need beyond lines and times: supplies, coils, couplers, monitors, resistors.

Every key has a default, so a profile without `[electrical]` describes the rig that the papers propose. The defaults
are common practice, no source, unless one is named; the calculation sheet says whether they go together.
"""

from __future__ import annotations

from math import floor, log10
from typing import Annotated, Literal

from pydantic import Field

from wiring.tomlfile import DataModel

# IEC 61131-2, digital inputs of type 3 at 24 V DC: on from 11 V, off up to 5 V (from memory).
TYPE_3_ON_V = 11.0
TYPE_3_OFF_V = 5.0

# A relay operates from this share of its rated coil voltage on: data sheets have 70 % to 75 % (common practice, no
# source).
COIL_OPERATES = 0.75

Ohms = Annotated[float, Field(gt=0, le=10_000_000)]
Amperes = Annotated[float, Field(gt=0, le=10)]
Volts = Annotated[float, Field(gt=0, le=200)]
Watts = Annotated[float, Field(gt=0, le=50)]
Percent = Annotated[float, Field(ge=0, le=50)]

# IEC 60063, series E24.
_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


class Electrical(DataModel):
    """Electrical values of the rig's own parts; the wiring papers are drawn and worked out from them."""

    header: Literal["40-pin", "other"] = Field(
        "40-pin",
        description="40-pin: GPIO lines stand on the usual pins; other: the pins are to be filled in",
    )
    control_voltage_v: Annotated[
        float, Field(ge=10, le=30, description="supply of coils, contacts and monitors, PELV, in V")
    ] = 24.0
    control_limit_a: Amperes = Field(1.5, description="what the control supply delivers at most, in A")
    control_fuse_a: Amperes = Field(1.0, description="fuse in the control supply, in A")
    supply_fuse_a: Amperes = Field(0.5, description="fuse in L+ of the units, in A")
    wire_a: Amperes = Field(3.0, description="what the thinnest wire of the rig may carry, in A")
    wire_mm2: Annotated[
        float, Field(ge=0.14, le=2.5, description="cross-section of the rig's wires, in mm2")
    ] = 0.5
    unit_a: Amperes = Field(0.1, description="the most that a unit draws without its load, in A")
    teach_input_a: Amperes = Field(0.002, description="the most that a unit's teach input takes, in A")
    coil_ohm: Ohms = Field(1440.0, description="resistance of a relay coil, in ohms")
    coil_driver_v: Volts = Field(60.0, description="the most that a coil driver withstands, in V")
    coil_driver_a: Amperes = Field(0.1, description="the most that a coil driver carries, in A")
    coil_driver_drop_v: Volts = Field(1.2, description="across a coil driver that is on, in V")
    flyback_v: Volts = Field(
        24.0, description="Zener voltage in the flyback path of relays that have to fall fast, in V"
    )
    swing_a: Amperes = Field(0.3, description="what the swing of the target draws (stage), in A")
    drive_resistor_ohm: Ohms = Field(
        470.0, description="from a GPIO line to the LED of its output coupler, in ohms"
    )
    drive_least_a: Amperes = Field(
        0.003, description="LED current at which an output coupler is surely on, in A"
    )
    line_a: Amperes = Field(0.008, description="the most that one GPIO line may deliver, in A")
    lines_a: Amperes = Field(0.05, description="the most that all GPIO lines together may deliver, in A")
    input_resistor_ohm: Ohms = Field(
        2200.0, description="in series with the LED of an isolated input, in ohms"
    )
    input_resistor_w: Watts = Field(0.5, description="what that resistor may turn to heat, in W")
    input_zener_v: Volts = Field(3.9, description="Zener diode in series with that LED, in V")
    transfer_percent: Annotated[
        float,
        Field(gt=0, le=2000, description="least current transfer ratio of an isolated input at 2 mA, in %"),
    ] = 100.0
    pull_ohm: Ohms = Field(10_000.0, description="pull resistor on the board's side of an input, in ohms")
    monitor_input_ohm: Ohms = Field(
        100_000.0, description="from a monitored wire to the middle voltage of its monitor, in ohms"
    )
    monitor_middle_v: Volts = Field(8.0, description="where a monitor holds a wire that floats, in V")
    monitor_error_v: Volts = Field(0.5, description="a monitor's thresholds are right within this, in V")
    series_resistor_w: Watts = Field(
        1.0, description="what the resistor in the teach wire may turn to heat, in W"
    )
    load_resistor_w: Watts = Field(
        0.25, description="what the resistor that pulls the output may turn to heat, in W"
    )
    resistor_error_percent: Percent = Field(5.0, description="a resistor is right within this, in %")
    monostable_uf: Annotated[
        float, Field(gt=0, le=1000, description="capacitor of the heartbeat monostable, in microfarads")
    ] = 1.0
    monostable_factor: Annotated[
        float, Field(ge=0.1, le=3, description="its time is this x R x C, by its data sheet")
    ] = 1.1
    monostable_ohm: Ohms | None = Field(
        None, description="resistor of the heartbeat monostable, in ohms; left out: sized to fit dropout_s"
    )
    monostable_error_percent: Percent = Field(
        6.0, description="resistor and capacitor of the monostable together are right within this, in %"
    )
    monostable_release_s: Annotated[
        float, Field(gt=0, le=0.5, description="release time of the heartbeat relay, in seconds")
    ] = 0.01

    def monostable_resistor_ohm(self, dropout_s: float) -> float:
        """The resistor that is stated, else the largest of E24 that drops the coils within `dropout_s` seconds."""
        if self.monostable_ohm is not None:
            return self.monostable_ohm
        longest_s = (dropout_s - self.monostable_release_s) / (1 + self.monostable_error_percent / 100)
        return _e24_below(max(longest_s, 0.001) / (self.monostable_factor * self.monostable_uf * 1e-6))


def _e24_below(ohm: float) -> float:
    decade = 10.0 ** (floor(log10(ohm)) - 1)
    fitting = [step * decade for step in _E24 if step * decade <= ohm]
    return round(fitting[-1], 6)
