"""The 24 V bench supply: set, switched and measured over SCPI, or known only by what is typed."""

from __future__ import annotations

import asyncio
import contextlib
import re
from collections.abc import Callable, Mapping
from typing import Final, Protocol

from hal.errors import InstrumentError
from hal.instruments.lines import LineLink, Marker
from hal.instruments.wire import Wire
from wiring.profile import SupplyProfile
from wiring.saying import say

ANSWER_S: Final = 1.0
"""Longest wait for one answer."""
RISE_S: Final = 1.0
"""Longest time from switching on until the voltage stands."""
VOLTAGE_TOLERANCE: Final = 0.05
"""Fraction of the set voltage; IEC 60947-5-2 measures at the rated voltage +-5 % (from memory)."""

_ATTEMPTS = 3
_POLL_S = 0.05
_LONGEST_ERROR_QUEUE = 32
# SCPI-99 volume 1, 7.2.1: 9.9E37 stands for infinity and 9.91E37 for not-a-number (from memory).
_NO_READING = 9.9e37

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(E[+-]?\d+)?", re.IGNORECASE)
_ERROR_ENTRY = re.compile(r'([+-]?\d+),"(.*)"')
_IDENTITY = re.compile(r"[^,]+(,[^,]*){3,}")


class BenchSupply(Protocol):
    """What feeds the units and the relay coils."""

    @property
    def identity(self) -> str:
        """What the supply says it is, for the record."""

    async def on(self) -> None:
        """Switch the output on and wait until the set voltage stands; raises InstrumentError if it does not."""

    async def off(self) -> None:
        """Switch the output off; returns when the supply has confirmed it."""

    def off_now(self) -> None:
        """Send 'off' without waiting, for a trip; never raises."""

    async def voltage_v(self) -> float:
        """The output voltage in volts."""

    async def current_a(self) -> float | None:
        """The output current in amperes as measured now; None where the supply does not measure it."""


class FixedSupply:
    """A supply without a serial port: the voltage is the typed one, the current is not measured."""

    def __init__(self, voltage_v: float) -> None:
        self._voltage_v = voltage_v

    @property
    def identity(self) -> str:
        """What is known of it."""
        return f"fixed supply, {self._voltage_v:g} V as typed in"

    async def on(self) -> None:
        """Nothing to do: it is on whenever the bench is."""

    async def off(self) -> None:
        """Nothing to do: only its own switch turns it off."""

    def off_now(self) -> None:
        """Nothing to do: only its own switch turns it off."""

    async def voltage_v(self) -> float:
        """The typed voltage in volts."""
        return self._voltage_v

    async def current_a(self) -> float | None:
        """None: not measured."""
        return None


class ScpiSupply:
    """A supply that speaks the DC supply subset of SCPI-99; call `start` before anything else."""

    def __init__(self, wire: Wire, *, voltage_v: float, current_limit_a: float) -> None:
        self.identity = ""
        self._voltage_v = voltage_v
        self._current_limit_a = current_limit_a
        self._link = LineLink(wire, what=say("supply at {name}", name=wire.name), marker=_WHO_ARE_YOU)

    async def start(self) -> None:
        """Identify the supply, switch it off, set voltage and limit and read both back.

        Raises InstrumentError when it does not answer, refuses a setting or has set another value.
        """
        self.identity = (await self._link.find(_ATTEMPTS))[-1]
        self._link.tell("*CLS")
        await self.off()
        for header, value in (("VOLT", self._voltage_v), ("CURR", self._current_limit_a)):
            await self._set(f"{header} {value:.3f}")
            got = await self._number(f"{header}?")
            if abs(got - value) > 0.005 * value + 0.001:
                raise self._error(f"asked for {header} {value:.3f} but reads back {got:g}")

    async def on(self) -> None:
        """Switch the output on; raises InstrumentError unless the set voltage stands within RISE_S."""
        await self._switch("ON", "1")
        loop = asyncio.get_running_loop()
        deadline = loop.time() + RISE_S
        while not self._stands(got := await self.voltage_v()):
            if loop.time() >= deadline:
                raise self._error(
                    say(
                        "gives {got:.2f} V where {voltage_v:.2f} V is set; look for a short, or a current limit "
                        "that is too low ({current_limit_a:g} A)",
                        got=got,
                        voltage_v=self._voltage_v,
                        current_limit_a=self._current_limit_a,
                    )
                )
            await asyncio.sleep(_POLL_S)

    async def off(self) -> None:
        """Switch the output off; returns when the supply has confirmed it."""
        await self._switch("OFF", "0")

    def off_now(self) -> None:
        """Send 'off' without waiting, for a trip; never raises, a lost wire is told by the wire."""
        with contextlib.suppress(InstrumentError):
            self._link.interject(b"\nOUTP OFF\n")

    async def voltage_v(self) -> float:
        """The output voltage in volts as measured now."""
        return await self._number("MEAS:VOLT?")

    async def current_a(self) -> float | None:
        """The output current in amperes as measured now."""
        return await self._number("MEAS:CURR?")

    def _stands(self, voltage_v: float) -> bool:
        return abs(voltage_v - self._voltage_v) <= VOLTAGE_TOLERANCE * self._voltage_v

    async def _switch(self, word: str, state: str) -> None:
        await self._set(f"OUTP {word}")
        if (got := await self._ask("OUTP?", _is_state)) != state:
            raise self._error(f"OUTP {word} was sent but OUTP? answers {got}")

    async def _set(self, command: str) -> None:
        """Send a command that has no answer, and turn what it leaves in the error queue into an error."""
        self._link.tell(command)
        errors: list[str] = []
        while (entry := await self._next_error()) is not None and len(errors) < _LONGEST_ERROR_QUEUE:
            errors.append(entry)
        if errors:
            raise self._error(f"refused {command!r}: {'; '.join(errors)}")

    async def _next_error(self) -> str | None:
        # One attempt only: reading an entry takes it out of the queue, so a repeat would hide it.
        entry = await self._link.ask("SYST:ERR?", ANSWER_S, is_answer=_is_error_entry)
        return error_words(entry)

    async def _number(self, query: str) -> float:
        value = float(await self._ask(query, _is_number))
        if abs(value) >= _NO_READING:
            raise self._error(say("{query} gives no reading ({value:g})", query=query, value=value))
        return value

    async def _ask(self, query: str, is_answer: Callable[[str], bool]) -> str:
        return await self._link.ask(query, ANSWER_S, is_answer=is_answer, attempts=_ATTEMPTS)

    def _error(self, what: str) -> InstrumentError:
        return InstrumentError(say("{instrument}: {trouble}", instrument=self._link.what, trouble=what))


async def start_supply(profile: SupplyProfile, wires: Mapping[str, Wire]) -> BenchSupply:
    """Make the supply that the rig profile describes and set it up, output off where it can be switched."""
    if profile.port is None:
        return FixedSupply(profile.voltage_v)
    supply = ScpiSupply(
        wires[profile.port], voltage_v=profile.voltage_v, current_limit_a=profile.current_limit_a
    )
    await supply.start()
    return supply


def error_words(entry: str) -> str | None:
    """Tell an entry of a SCPI error queue in words, None for the entry that means 'no error'.

    The classes are those of SCPI-99 volume 2, 21.8: by hundreds, positive codes belong to the instrument.
    """
    match = _ERROR_ENTRY.fullmatch(entry)
    code, words = (int(match[1]), match[2]) if match else (1, entry)
    if code == 0:
        return None
    kind = _ERROR_CLASSES.get(-code // 100, "error of its own")
    return f"{code} {words} ({kind})"


_WHO_ARE_YOU = Marker(
    "*IDN?",
    is_whole=lambda so_far: _is_identity(so_far[-1]),
    timeout_s=2 * ANSWER_S,
)
_ERROR_CLASSES = {1: "command error", 2: "execution error", 3: "device error", 4: "query error"}


def _is_identity(text: str) -> bool:
    return _IDENTITY.fullmatch(text) is not None and not _is_error_entry(text)


def _is_number(text: str) -> bool:
    return _NUMBER.fullmatch(text) is not None


def _is_state(text: str) -> bool:
    return text in ("0", "1")


def _is_error_entry(text: str) -> bool:
    return _ERROR_ENTRY.fullmatch(text) is not None
