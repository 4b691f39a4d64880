"""The simulated supply must be as strict as SCPI-99, or talking to it proves nothing.

Codes and words: SCPI-99 volume 2, chapter 21.8, second-hand from open parser libraries.
"""

from __future__ import annotations

import pytest

from hal.simulated.instruments import SimulatedSupply


class Supply:
    def __init__(self, physics) -> None:
        self.physics = physics
        self._said: list[str] = []
        self._instrument = SimulatedSupply(physics)
        self._instrument.transmit = lambda data, _: self._said.append(data.decode().strip())

    def __call__(self, *lines: str) -> str:
        for line in lines:
            self._instrument.receive(f"{line}\n".encode())
        return "|".join(self._take())

    def errors(self) -> list[str]:
        return [self("SYST:ERR?") for _ in range(20)]

    def _take(self) -> list[str]:
        said, self._said[:] = list(self._said), []
        return said


@pytest.fixture
def supply(loaded_supply):
    return Supply(loaded_supply)


@pytest.mark.parametrize(
    "header",
    [
        "VOLT",
        "volt",
        "VOLTAGE",
        "SOUR:VOLT",
        "SOURCE:VOLTAGE:LEVEL:IMMEDIATE:AMPLITUDE",
        ":VOLT:LEV",
        "SOUR:VOLT:AMPL",
    ],
)
def test_long_and_short_forms_mean_the_same(supply, header):
    assert supply(f"{header} 12.5", "VOLT?") == "12.500"


@pytest.mark.parametrize("header", ["VOLTA", "VOL", "SOURC:VOLT", "VOLT:AMPLI", "MEASU:VOLT?", "VOLT:SOUR"])
def test_forms_in_between_are_undefined(supply, header):
    supply(f"{header} 1" if "?" not in header else header)
    assert supply("SYST:ERR?") == '-113,"Undefined header"'


@pytest.mark.parametrize(
    ("command", "error"),
    [
        ("VOLT 33", '-222,"Data out of range"'),
        ("VOLT -1", '-222,"Data out of range"'),
        ("CURR 9", '-222,"Data out of range"'),
        ("VOLT", '-109,"Missing parameter"'),
        ("OUTP", '-109,"Missing parameter"'),
        ("VOLT 1,2", '-108,"Parameter not allowed"'),
        ("*CLS 1", '-108,"Parameter not allowed"'),
        ("VOLT twelve", '-104,"Data type error"'),
        ("VOLT 12 A", '-131,"Invalid suffix"'),
        ("OUTP MAYBE", '-224,"Illegal parameter value"'),
        ("WATT?", '-113,"Undefined header"'),
    ],
)
def test_refusals_have_their_codes(supply, command, error):
    before = (supply("VOLT?"), supply("CURR?"), supply("OUTP?"))
    supply(command)
    if command != "*CLS 1":
        assert (supply("VOLT?"), supply("CURR?"), supply("OUTP?")) == before
    assert supply("SYST:ERR?") == error
    assert supply("SYST:ERR?") == '0,"No error"'


@pytest.mark.parametrize(
    ("parameter", "volts"),
    [
        ("24", "24.000"),
        ("2.4E1", "24.000"),
        ("24 V", "24.000"),
        ("24V", "24.000"),
        ("500 mV", "0.500"),
        ("MAX", "32.000"),
        ("MIN", "0.000"),
        ("+.5", "0.500"),
    ],
)
def test_numbers_are_read_in_every_form(supply, parameter, volts):
    assert supply(f"VOLT {parameter}", "VOLT?") == volts


def test_a_semicolon_stays_on_its_branch_and_a_colon_goes_back_to_the_root(supply):
    assert supply("VOLT 24;CURR 0.1;OUTP ON;OUTP?") == "1"
    assert supply("MEAS:VOLT?;CURR?") == "24.000;0.0300"
    assert supply("MEAS:VOLT?;:OUTP?;*OPC?") == "24.000;1;1"
    assert supply("MEAS:VOLT?;OUTP?") == "24.000"
    assert supply("SYST:ERR?") == '-113,"Undefined header"'


def test_a_command_error_drops_the_rest_of_the_message_an_execution_error_does_not(supply):
    assert supply("VOLT 5;WATT;VOLT 6;VOLT?", "VOLT?") == "5.000"
    assert supply("VOLT 99;VOLT 6;VOLT?") == "6.000"


def test_the_error_queue_is_first_in_first_out_and_overflows_at_its_end(supply):
    supply("WATT", "VOLT 99", *["VOLT twelve"] * 10)
    errors = supply.errors()
    assert errors[:3] == ['-113,"Undefined header"', '-222,"Data out of range"', '-104,"Data type error"']
    assert errors[9] == '-350,"Queue overflow"'
    assert set(errors[10:]) == {'0,"No error"'}


def test_clear_empties_the_queue_and_reset_does_not(supply):
    supply("WATT", "*RST")
    assert supply("SYST:ERR?") == '-113,"Undefined header"'
    supply("WATT", "*CLS")
    assert supply("SYSTEM:ERROR:NEXT?") == '0,"No error"'


def test_reset_switches_this_supply_off(supply):
    supply("VOLT 24", "OUTP 1", "*RST")
    assert supply.physics.on is False
    assert supply("OUTP?") == "0"


def test_it_measures_what_flows_and_not_what_was_set(supply):
    supply("VOLT 24;CURR 0.01;OUTP ON")
    assert supply("MEAS:VOLT?;CURR?") == "8.000;0.0100"


def test_identity_has_four_fields(supply):
    """IEEE 488.2, 10.14 (second-hand): maker, model, serial number, firmware."""
    assert len(supply("*IDN?").split(",")) == 4


# IEEE 488.2, 10.1 to 10.39 (second-hand): what every instrument has to obey.
MANDATORY = (
    "*CLS",
    "*ESE 0",
    "*ESE?",
    "*ESR?",
    "*IDN?",
    "*OPC",
    "*OPC?",
    "*RST",
    "*SRE 0",
    "*SRE?",
    "*STB?",
    "*TST?",
    "*WAI",
)


@pytest.mark.parametrize("command", MANDATORY)
def test_every_mandatory_common_command_is_obeyed(supply, command):
    answer = supply(command)
    assert bool(answer) is command.endswith("?")
    assert supply("SYST:ERR?") == '0,"No error"'


def test_the_event_status_register_tells_each_class_of_error_once(supply):
    """Power on 128, command error 32, execution error 16, operation complete 1."""
    assert supply("*ESR?", "*ESR?") == "128|0"
    assert supply("WATT?", "*ESR?") == "32"
    assert supply("VOLT 99", "*OPC", "*ESR?") == "17"
    assert supply("WATT?", "*CLS", "*ESR?") == "0"


def test_the_status_byte_sums_up_what_is_enabled(supply):
    """Error queue 4, event summary 32, service request 64."""
    assert supply("*STB?") == "0"
    assert supply("WATT?", "*STB?") == "4"
    assert supply("*ESE 32", "*STB?") == "36"
    assert supply("*SRE 32", "*STB?", "*ESE?", "*SRE?") == "100|32|32"
    assert supply("*CLS", "*STB?") == "0"
    assert supply("*ESE 256", "SYST:ERR?") == '-222,"Data out of range"'


def test_version_and_length_of_the_queue(supply):
    assert supply("SYST:VERS?") == "1999.0"
    assert supply("SYST:ERR:COUN?", "WATT?", "VOLT 99", "SYSTEM:ERROR:COUNT?") == "0|2"
