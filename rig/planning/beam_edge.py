"""How wide a beam is at a level, for many beams at once: the edge of every piston is the same in ka sin(angle)."""

from __future__ import annotations

import math
from functools import lru_cache

from rig.planning.beam import Beam

# A piston so narrow in angle that its edge at any level in use stays well short of 90 degrees.
_NARROW = Beam(piston_mm=1e4, wavelength_mm=math.pi)
_STEPS_PER_DB = 10


def sine_at(beam: Beam, level_db: float) -> float:
    """Sine of the angle beyond which the level of a beam stays under `level_db`, rounded down to tenths; 1 at most."""
    return min(1.0, _edge(math.floor(level_db * _STEPS_PER_DB)) / beam.ka)


def slope_at(beam: Beam, level_db: float) -> float:
    """Radius of a beam at a level over the distance along its axis; endless where it fills the half space."""
    sine = sine_at(beam, level_db)
    return sine / math.sqrt(1 - sine**2) if sine < 1 else math.inf


@lru_cache(maxsize=4096)
def _edge(steps: int) -> float:
    return _NARROW.ka * math.sin(math.radians(_NARROW.half_angle_deg(steps / _STEPS_PER_DB)))
