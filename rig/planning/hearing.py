"""What a unit hears of an object: echo margins with the data sheet's derating, range on the object, tilt it bears."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from rig.planning.air import REFERENCE_AIR, Air, speed_of_sound_m_s
from rig.planning.beam import Beam
from rig.planning.echo import Cylinder, EchoMargin, EchoSensor, Plate, Target, echo_margin, largest_tilt_deg
from rig.planning.facts import object_words
from rig.statistics.numeric import root_between
from sequences.datasheet import Derating
from sequences.need import ObjectNeed, ObjectShape, Surface
from sequences.sensor_type import SensorType

# Nearer than this share of its range no unit is looked at.
_NEAREST_SHARE = 0.001
# Below this the object is smaller than a third of a wavelength across: no formula for its echo holds.
SMALLEST_KA = 1.0


@dataclass(frozen=True, slots=True)
class Hearing:
    """A unit of a type and an object, named in `words`.

    Attributes:
        loss_db: what the data sheet takes off for shape and surface together: a round, loose or soft object is
            never heard better than the standard target less this.
        soft_db: the part of it that is due to the surface.
        loose: whether it is loose goods, heard as the derated standard target.

    """

    sensor: EchoSensor
    words: str
    target: Target
    loss_db: float
    soft_db: float
    tilt_deg: float
    loose: bool = False

    def margin(self, distance_mm: float, air: Air) -> EchoMargin:
        """Echo margin of the object at a distance, with its tilt."""
        own = echo_margin(self.sensor, self.target, distance_mm, air, off_axis_deg=self.tilt_deg)
        if not self.loss_db:
            return own
        standard = echo_margin(self.sensor, self.sensor.range_target, distance_mm, air)
        return EchoMargin(min(own.db - self.soft_db, standard.db - self.loss_db), own.doubts)

    def worst_margin(self, distance_mm: float, airs: Iterable[Air]) -> EchoMargin:
        """The least margin over several airs."""
        return min((self.margin(distance_mm, air) for air in airs), key=lambda margin: margin.db)

    def heard_up_to_mm(self, wanted_mm: float, airs: Iterable[Air]) -> float:
        """The nearer of a distance and the farthest at which the object is heard in each of several airs.

        Never beyond the sensing range.
        """
        farthest_mm = min(wanted_mm, self.sensor.range_mm)
        over_db = [self._over_db(air) for air in airs]
        # The air that swallows most comes first: where the object is heard in it, it mostly is in the others.
        for over in sorted(over_db, key=lambda over: over(farthest_mm)):
            if over(farthest_mm) < 0:
                farthest_mm = self._range_mm(over, farthest_mm)
        return farthest_mm

    def largest_tilt_deg(self, distance_mm: float, beam: Beam) -> float | None:
        """Tilt about any axis at which the echo leaves the beam; None for loose goods, which have no side."""
        if self.loose:
            return None
        return min(_largest_tilt_deg(beam, side_mm, distance_mm) for side_mm in self.target.flat_sides_mm)

    def ka(self, wavelength_mm: float) -> float:
        """Half the smallest size of the object, over the wavelength and times two pi."""
        halves_mm = (*(side / 2 for side in self.target.flat_sides_mm), *self.target.radii_mm)
        return 2 * math.pi * min(halves_mm) / wavelength_mm

    def _range_mm(self, over_db: Callable[[float], float], farthest_mm: float) -> float:
        nearest_mm = self.sensor.range_mm * _NEAREST_SHARE
        if over_db(nearest_mm) <= 0:
            return 0.0
        return root_between(lambda mm: -over_db(mm), nearest_mm, farthest_mm)

    def _over_db(self, air: Air) -> Callable[[float], float]:
        """The margin in one air as a function of distance, without what `margin` says of its doubts."""
        sensor, weakest_db = self.sensor, self.sensor.weakest_echo_db()
        own_db = 2 * sensor.beam(air).level_db(self.tilt_deg) - self.soft_db - weakest_db
        if not self.loss_db:
            return lambda mm: sensor.echo_db(self.target, mm, air) + own_db
        standard_db = -self.loss_db - weakest_db
        return lambda mm: min(
            sensor.echo_db(self.target, mm, air) + own_db,
            sensor.echo_db(sensor.range_target, mm, air) + standard_db,
        )


@lru_cache(maxsize=256)
def _largest_tilt_deg(beam: Beam, side_mm: float, distance_mm: float) -> float:
    return largest_tilt_deg(beam, side_mm, distance_mm)


def sensor_of(sensor_type: SensorType) -> EchoSensor:
    """The sound and the range that a type promises for its standard target, in the reference air."""
    body, sensing = sensor_type.body, sensor_type.sensing
    return EchoSensor(
        frequency_hz=1000 * body.frequency_khz,
        piston_mm=_piston_mm(sensor_type),
        range_mm=sensing.range_mm,
        range_target=Plate(sensing.standard_target_mm, sensing.standard_target_mm),
        range_air=REFERENCE_AIR,
    )


def hearing_of(sensor_type: SensorType, wanted: ObjectNeed | None) -> Hearing:
    """How units of a type hear the object of a need; the standard target where none is described."""
    sensor = sensor_of(sensor_type)
    if wanted is None:
        return Hearing(sensor, "standard target", sensor.range_target, 0.0, 0.0, 0.0)
    soft_db = _loss_db(sensor, sensor_type.derating.soft_percent) if wanted.surface is Surface.SOFT else 0.0
    loss_db = soft_db + _shape_loss_db(sensor, sensor_type.derating, wanted.shape)
    tilt_deg = wanted.tilt_deg or 0.0
    loose = wanted.shape is ObjectShape.BULK
    return Hearing(sensor, object_words(wanted), _target(wanted, sensor), loss_db, soft_db, tilt_deg, loose)


def _piston_mm(sensor_type: SensorType) -> float:
    body = sensor_type.body
    if body.beam_angle_deg is None:
        return body.transducer_diameter_mm
    wavelength_mm = speed_of_sound_m_s(REFERENCE_AIR).value_m_s / body.frequency_khz
    return Beam.from_half_angle(body.beam_angle_deg / 2, wavelength_mm).piston_mm


def _target(wanted: ObjectNeed, sensor: EchoSensor) -> Target:
    if wanted.width_mm is not None and wanted.height_mm is not None:
        return Plate(wanted.width_mm, wanted.height_mm)
    if wanted.diameter_mm is not None and wanted.length_mm is not None:
        return Cylinder(wanted.diameter_mm, wanted.length_mm)
    return sensor.range_target


def _shape_loss_db(sensor: EchoSensor, derating: Derating, shape: ObjectShape) -> float:
    match shape:
        case ObjectShape.BAR:
            return _loss_db(sensor, derating.round_percent)
        case ObjectShape.BULK:
            return _loss_db(sensor, derating.rough_percent)
        case _:
            return 0.0


def _loss_db(sensor: EchoSensor, percent: float) -> float:
    """What an echo lacks that is just heard at a share of the range."""
    at_mm = sensor.range_mm * percent / 100
    return sensor.echo_db(sensor.range_target, at_mm, sensor.range_air) - sensor.weakest_echo_db()
