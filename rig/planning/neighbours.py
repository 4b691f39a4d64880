"""How far apart two units of one type must stand so that neither hears the other."""

from __future__ import annotations

import math
from collections.abc import Callable

from rig.planning.air import Air
from rig.planning.echo import EchoSensor
from rig.statistics.numeric import root_between

_NEAREST_MM, _FARTHEST_MM = 0.1, 200_000.0


def spacing_over_wall_mm(sensor: EchoSensor, wall_mm: float, air: Air) -> float:
    """Distance between two parallel units that look at one flat wall, from which on neither hears the other's burst.

    A mirror's path, leaving and arriving at the same angle; side lobes count by their bound. 0 if a burst that
    comes back from the wall is too weak at any spacing.
    """

    def heard_db(spacing_mm: float) -> float:
        path_mm = 2 * math.hypot(wall_mm, spacing_mm / 2)
        angle_deg = math.degrees(math.atan2(spacing_mm / 2, wall_mm))
        return 2 * sensor.beam(air).level_db(angle_deg) - sensor.one_way_loss_db(path_mm, air)

    return _quiet_from_mm(sensor, heard_db)


def spacing_beside_mm(sensor: EchoSensor, air: Air) -> float:
    """Distance between two parallel units from which on neither hears the other straight across.

    A guide only: the piston in a wall tells little about what a barrel radiates sideways.
    """
    sideways_db = 2 * sensor.beam(air).level_db(90)
    return _quiet_from_mm(sensor, lambda spacing_mm: sideways_db - sensor.one_way_loss_db(spacing_mm, air))


def _quiet_from_mm(sensor: EchoSensor, heard_db: Callable[[float], float]) -> float:
    weakest_db = sensor.weakest_echo_db()
    if heard_db(_NEAREST_MM) < weakest_db:
        return 0.0
    return root_between(lambda spacing_mm: heard_db(spacing_mm) - weakest_db, _NEAREST_MM, _FARTHEST_MM)
