"""Levels of a pin, as every pin factory takes them from gpiozero."""

from __future__ import annotations

from typing import Any

from gpiozero.exc import PinInvalidState


def level_of(state: Any) -> int:
    """0 or 1. Raises PinInvalidState for anything else."""
    if state not in (0, 1):
        raise no_level(state)
    return 1 if state else 0


def no_level(state: Any) -> PinInvalidState:
    """What is raised for a state that is no level."""
    return PinInvalidState(f"{state!r} is no level; use 0 or 1")
