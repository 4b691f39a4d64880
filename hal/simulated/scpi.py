"""The instrument's side of SCPI-99: headers in long and short form, message units, the error queue."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Mapping
from functools import lru_cache

Obey = Callable[[str], str | None]
"""Takes the parameter text, obeys, and gives the answer of a query; raises ScpiError."""

_QUEUE_LENGTH = 10

# Bits of the event status register and the status byte: IEEE 488.2, 11.5.1 and 11.2 (from memory).
_POWER_ON, _OPERATION_COMPLETE = 128, 1
_CLASS_BITS = {1: 32, 2: 16, 3: 8, 4: 4}  # command, execution, device, query error, by hundreds of the code
_ERRORS_WAIT, _EVENT_SUMMARY, _SERVICE = 4, 32, 64
_BYTE = 255

# SCPI-99 volume 2, 21.8
_WORDS = {
    0: "No error",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -113: "Undefined header",
    -131: "Invalid suffix",
    -222: "Data out of range",
    -224: "Illegal parameter value",
    -350: "Queue overflow",
}

_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:E[+-]?\d+)?)\s*([A-Z]*)", re.IGNORECASE)


class ScpiError(Exception):
    """A command that the instrument refuses, by its SCPI error code."""

    def __init__(self, code: int) -> None:
        super().__init__(_WORDS[code])
        self.code = code


class ScpiParser:
    """Obeys program messages; each key is a header as manuals print it, `[SOURce:]VOLTage[:LEVel]?`.

    Capitals are the short form, brackets may be left out. Built in is what every instrument has: the error queue,
    and the common commands of IEEE 488.2 but for `*IDN?` and `*RST`.
    """

    def __init__(self, commands: Mapping[str, Obey]) -> None:
        self._queue: deque[int] = deque()
        self._events = _POWER_ON
        self._enabled = {"*ESE": 0, "*SRE": 0}
        own = self._common_commands() | dict(commands)
        self._headers = [(_header_pattern(header), obey) for header, obey in own.items()]
        self._known: dict[str, Obey] = {}

    def _common_commands(self) -> dict[str, Obey]:
        return {
            "SYSTem:ERRor[:NEXT]?": self._next_error,
            "SYSTem:ERRor:COUNt?": lambda _: str(len(self._queue)),
            "SYSTem:VERSion?": lambda _: "1999.0",
            "*CLS": self._clear,
            "*ESE": lambda parameter: self._enable("*ESE", parameter),
            "*ESE?": lambda _: str(self._enabled["*ESE"]),
            "*ESR?": self._take_events,
            "*OPC": self._complete,
            "*OPC?": lambda _: "1",  # nothing here goes on after its command
            "*SRE": lambda parameter: self._enable("*SRE", parameter),
            "*SRE?": lambda _: str(self._enabled["*SRE"]),
            "*STB?": lambda _: str(self._status_byte()),
            "*TST?": lambda _: "0",
            "*WAI": nothing,
        }

    def obey(self, message: str) -> str:
        """Obey one program message and return its answers joined by `;`, or nothing."""
        answers = []
        branch = ""
        for unit in message.split(";"):
            header, _, parameter = unit.strip().partition(" ")
            path = _path(header, branch)
            if not path.startswith("*"):
                branch = path.rpartition(":")[0]
            try:
                answer = self._find(path)(parameter.strip())
            except ScpiError as error:
                self._note(error.code)
                if error.code > -200:
                    break  # after a command error the rest of the message is thrown away
            else:
                answers.extend([] if answer is None else [answer])
        return ";".join(answers)

    def _find(self, path: str) -> Obey:
        if path not in self._known:
            found = next((obey for pattern, obey in self._headers if pattern.fullmatch(path)), None)
            if found is None:
                raise ScpiError(-113)
            self._known[path] = found
        return self._known[path]

    def _note(self, code: int) -> None:
        self._events |= _CLASS_BITS[-code // 100]
        if len(self._queue) == _QUEUE_LENGTH:
            self._queue[-1] = -350
        else:
            self._queue.append(code)

    def _next_error(self, parameter: str) -> str:
        nothing(parameter)
        code = self._queue.popleft() if self._queue else 0
        return f'{code},"{_WORDS[code]}"'

    def _clear(self, parameter: str) -> None:
        nothing(parameter)
        self._queue.clear()
        self._events = 0

    def _enable(self, register: str, parameter: str) -> None:
        self._enabled[register] = int(number(parameter, "", 0, _BYTE))

    def _take_events(self, parameter: str) -> str:
        nothing(parameter)
        events, self._events = self._events, 0
        return str(events)

    def _complete(self, parameter: str) -> None:
        nothing(parameter)
        self._events |= _OPERATION_COMPLETE

    def _status_byte(self) -> int:
        status = _ERRORS_WAIT if self._queue else 0
        status |= _EVENT_SUMMARY if self._events & self._enabled["*ESE"] else 0
        return status | (_SERVICE if status & self._enabled["*SRE"] else 0)


def nothing(parameter: str) -> None:
    """Refuse a parameter where none belongs."""
    if parameter:
        raise ScpiError(-108)


def number(parameter: str, unit: str, lowest: float, highest: float) -> float:
    """Read a number, `MIN` or `MAX`; `unit` or its thousandth may follow."""
    if not parameter:
        raise ScpiError(-109)
    limits = {"MIN": lowest, "MINIMUM": lowest, "MAX": highest, "MAXIMUM": highest}
    if parameter.upper() in limits:
        return limits[parameter.upper()]
    match = _NUMBER.fullmatch(parameter)
    if match is None:
        raise ScpiError(-108 if "," in parameter else -104)
    scale = {"": 1.0, unit: 1.0, f"M{unit}": 1e-3}.get(match[2].upper())
    if scale is None:
        raise ScpiError(-131)
    value = float(match[1]) * scale
    if not lowest <= value <= highest:
        raise ScpiError(-222)
    return value


def switch(parameter: str) -> bool:
    """Read `ON`, `OFF`, `1` or `0`."""
    if not parameter:
        raise ScpiError(-109)
    states = {"ON": True, "1": True, "OFF": False, "0": False}
    if parameter.upper() not in states:
        raise ScpiError(-224)
    return states[parameter.upper()]


def _path(header: str, branch: str) -> str:
    if header.startswith("*"):
        return header.upper()
    if header.startswith(":"):
        return header[1:].upper()
    return f"{branch}:{header.upper()}" if branch else header.upper()


@lru_cache
def _header_pattern(header: str) -> re.Pattern[str]:
    pattern = re.escape(header).replace(r"\[", "(?:").replace(r"\]", ")?")
    return re.compile(re.sub(r"([A-Z]+)([a-z]+)", _either_form, pattern))


def _either_form(word: re.Match[str]) -> str:
    return f"{word[1]}(?:{word[2].upper()})?"
