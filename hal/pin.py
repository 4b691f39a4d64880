"""What every pin of ours has alike: the state that gpiozero asks for, and what it may not ask."""

from __future__ import annotations

from types import MethodType
from typing import Any
from weakref import WeakMethod, ref

from gpiozero.exc import PinFixedPull, PinInvalidEdges, PinInvalidPull, PinInvalidState
from gpiozero.pins import Pin, PinInfo

_PULLS = ("up", "down", "floating")
_EDGES = ("both", "rising", "falling", "none")


class HeaderPin(Pin):  # type: ignore[misc]  # gpiozero has no types
    """One line of a header; an input until it is made an output."""

    def __init__(self, info: PinInfo) -> None:
        super().__init__()
        self._info = info
        self._is_output = False
        self._pull = info.pull or "floating"
        self._edges = "both"
        self._listener: Any = None

    def __repr__(self) -> str:
        return str(self._info.name)

    def _get_info(self) -> PinInfo:
        return self._info

    def _get_function(self) -> str:
        return "output" if self._is_output else "input"

    def _get_pull(self) -> str:
        return self._pull

    def _refuse_pull(self, value: str) -> None:
        if self._is_output:
            raise PinFixedPull(f"cannot pull output {self!r}")
        if value not in _PULLS:
            raise PinInvalidPull(f"{value!r} is no pull of {self!r}; use up, down or floating")
        if self._info.pull and value != self._info.pull:
            raise PinFixedPull(f"{self!r} has a fixed pull-{self._info.pull} resistor")

    def _get_bounce(self) -> None:
        return None

    def _set_bounce(self, value: object) -> None:
        """Accept and ignore it: each gpiozero back end filters differently, so nobody may rely on it."""

    def _get_edges(self) -> str:
        return self._edges

    def _set_edges(self, value: str) -> None:
        if value not in _EDGES:
            raise PinInvalidEdges(f"{value!r} are no edges of {self!r}; use both, rising, falling or none")
        self._edges = value

    def _get_when_changed(self) -> Any:
        return None if self._listener is None else self._listener()

    def _set_when_changed(self, value: Any) -> None:
        # Weak, as in gpiozero's own pins: a handler must not keep its dead device alive.
        if value is None:
            self._listener = None
        else:
            self._listener = WeakMethod(value) if isinstance(value, MethodType) else ref(value)


def level_of(state: Any) -> int:
    """0 or 1. Raises PinInvalidState for anything else."""
    if state not in (0, 1):
        raise no_level(state)
    return 1 if state else 0


def no_level(state: Any) -> PinInvalidState:
    """What is raised for a state that is no level."""
    return PinInvalidState(f"{state!r} is no level; use 0 or 1")
