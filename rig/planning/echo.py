"""How strong an echo is, against the weakest one that a unit must still hear.

0 dB is the echo of the standard target at the end of the unit's sensing range: what the type itself promises to
detect. Above it there is margin; below it nothing is promised.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from rig.planning.absorption import absorption
from rig.planning.air import REFERENCE_AIR, Air, speed_of_sound_m_s
from rig.planning.beam import Beam


@dataclass(frozen=True, slots=True)
class Plate:
    """A hard flat plate square to the beam."""

    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        _must_be_sizes(self.width_mm, self.height_mm)

    @property
    def flat_sides_mm(self) -> tuple[float, ...]:
        """Lengths of the sides along which it is flat."""
        return (self.width_mm, self.height_mm)

    @property
    def radii_mm(self) -> tuple[float, ...]:
        """Radii of the directions in which it is round."""
        return ()


@dataclass(frozen=True, slots=True)
class Sphere:
    """A hard ball; a round fruit comes close."""

    diameter_mm: float

    def __post_init__(self) -> None:
        _must_be_sizes(self.diameter_mm)

    @property
    def flat_sides_mm(self) -> tuple[float, ...]:
        """Lengths of the sides along which it is flat."""
        return ()

    @property
    def radii_mm(self) -> tuple[float, ...]:
        """Radii of the directions in which it is round."""
        return (self.diameter_mm / 2, self.diameter_mm / 2)


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A hard cylinder across the beam: a pipe, a post, a can."""

    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        _must_be_sizes(self.diameter_mm, self.length_mm)

    @property
    def flat_sides_mm(self) -> tuple[float, ...]:
        """Lengths of the sides along which it is flat."""
        return (self.length_mm,)

    @property
    def radii_mm(self) -> tuple[float, ...]:
        """Radii of the directions in which it is round."""
        return (self.diameter_mm / 2,)


Target = Plate | Sphere | Cylinder


def target_strength_db(target: Target, distance_mm: float, wavelength_mm: float) -> float:
    """Target strength, re 1 m, of a hard target whose nearest point lies at a distance on the axis.

    Amplitude is the product of one factor for either direction across the beam: of a flat side of length L the
    lesser of L/sqrt(wavelength) (far away) and sqrt(distance/2) (a mirror); of a radius a, geometric optics of a
    bent mirror, sqrt(a distance / (2 (distance + a))). Far away these give the usual formulas (Urick, Principles of
    Underwater Sound, table 9.1, from memory): plate area/wavelength, sphere a/2, cylinder sqrt(a L^2/(2 wavelength)).
    Against the Kirchhoff integral over a plate in the beam this holds within 2.5 dB, and within 6 dB where
    `EchoDoubt.EDGES` or `EchoDoubt.NEAR_FIELD` speaks.
    """
    distance_m, wavelength_m = distance_mm / 1000, wavelength_mm / 1000
    flat = (
        min(side / 1000 / math.sqrt(wavelength_m), math.sqrt(distance_m / 2)) for side in target.flat_sides_mm
    )
    bent = (math.sqrt(distance_m / 2 / (1 + distance_mm / radius)) for radius in target.radii_mm)
    return 20 * math.log10(math.prod(flat) * math.prod(bent))


def _must_be_sizes(*sizes_mm: float) -> None:
    for size_mm in sizes_mm:
        if not 0 < size_mm < math.inf:
            raise ValueError(f"a target size is {size_mm:g} mm; allowed: more than 0")


@dataclass(frozen=True, slots=True)
class EchoSensor:
    """What decides how far a unit hears: its sound, its piston, and the range that its type promises.

    `range_mm` holds for `range_target` in `range_air`. Raises ValueError for a value that is not above 0.
    """

    frequency_hz: float
    piston_mm: float
    range_mm: float
    range_target: Plate
    range_air: Air = REFERENCE_AIR

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "piston_mm", "range_mm"):
            if not 0 < getattr(self, name) < math.inf:
                raise ValueError(f"{name} is {getattr(self, name):g}; allowed: more than 0")

    def beam(self, air: Air) -> Beam:
        """Its beam in an air."""
        return Beam(self.piston_mm, 1000 * speed_of_sound_m_s(air).value_m_s / self.frequency_hz)

    def weakest_echo_db(self) -> float:
        """Level, re source at 1 m, of the weakest echo that it must hear."""
        return self.echo_db(self.range_target, self.range_mm, self.range_air)

    def echo_db(self, target: Target, distance_mm: float, air: Air) -> float:
        """Level of an echo from the axis, re source at 1 m (sonar equation)."""
        strength_db = target_strength_db(target, distance_mm, self.beam(air).wavelength_mm)
        return strength_db - 2 * self.one_way_loss_db(distance_mm, air)

    def one_way_loss_db(self, path_mm: float, air: Air) -> float:
        """Spreading (spherical, re 1 m) and absorption over a path."""
        path_m = path_mm / 1000
        return 20 * math.log10(path_m) + absorption(self.frequency_hz, air).db_per_m * path_m


class EchoDoubt(StrEnum):
    """Why an echo margin is less certain than the formulas make it look."""

    NEAR_FIELD = "target inside twice the near field, where levels rise and fall with distance"
    EDGES = "edges of the target inside the beam: echo up to 6 dB stronger or weaker"
    SMALL_TARGET = "target not large against the wavelength: echo possibly some dB weaker"
    AIR = "air or frequency for which ISO 9613-1 does not claim 10 %"
    BEYOND_RANGE = "beyond the end of the sensing range"


@dataclass(frozen=True, slots=True)
class EchoMargin:
    """How far an echo lies above the weakest one that the unit must hear, and what speaks against the figure."""

    db: float
    doubts: tuple[EchoDoubt, ...]

    @property
    def valid(self) -> bool:
        """Whether every formula behind the figure holds."""
        return not self.doubts


def echo_margin(
    sensor: EchoSensor, target: Target, distance_mm: float, air: Air, *, off_axis_deg: float = 0.0
) -> EchoMargin:
    """Echo margin of a hard target, square to the beam, at a distance; off the axis by both ways of the beam.

    Raises ValueError unless the distance is above 0.
    """
    if not 0 < distance_mm < math.inf:
        raise ValueError(f"distance is {distance_mm:g} mm; allowed: more than 0")
    beam = sensor.beam(air)
    margin_db = sensor.echo_db(target, distance_mm, air) - sensor.weakest_echo_db()
    doubts = {
        EchoDoubt.NEAR_FIELD: distance_mm < 2 * beam.near_field_mm,
        EchoDoubt.EDGES: any(_edges_ripple(side, distance_mm, beam) for side in target.flat_sides_mm),
        EchoDoubt.SMALL_TARGET: 2 * math.pi / beam.wavelength_mm * _smallest_half_mm(target) < 3,
        EchoDoubt.AIR: absorption(sensor.frequency_hz, air).accuracy_percent != 10,
        EchoDoubt.BEYOND_RANGE: distance_mm > sensor.range_mm,
    }
    return EchoMargin(
        margin_db + 2 * beam.level_db(off_axis_deg), tuple(doubt for doubt, holds in doubts.items() if holds)
    )


def _smallest_half_mm(target: Target) -> float:
    return min(*(side / 2 for side in target.flat_sides_mm), *target.radii_mm)


def _edges_ripple(side_mm: float, distance_mm: float, beam: Beam) -> bool:
    # Sound from the edges adds to that from the middle while they lie in the beam and the side spans more than the
    # middle of the first Fresnel zone, and evens out over many zones.
    zones = side_mm / math.sqrt(beam.wavelength_mm * distance_mm)
    edge_deg = math.degrees(math.atan2(side_mm / 2, distance_mm))
    return 0.75 < zones < 3 and beam.level_db(edge_deg) > -6


def largest_tilt_deg(beam: Beam, plate_mm: float, distance_mm: float) -> float:
    """Tilt of a flat plate of a side length at which its echo has fallen to about half (-6 dB).

    The lesser of two: the sound that comes back left at the angle of the tilt, so the beam is 3 dB down either way;
    and the plate turns its own reflection away. The latter is the plate's lobe, sin(b)/b = 1/2, or, of a plate that
    works as a mirror, where the foot of the perpendicular nears its edge, whichever lets it tilt more. Within 35 %,
    mostly under, of the Kirchhoff integral over the plate (tests/reference).
    """
    lobe = 1.8955 * beam.wavelength_mm / (2 * math.pi * plate_mm)
    mirror = plate_mm / (2 * distance_mm) - 0.2 * math.sqrt(beam.wavelength_mm / distance_mm)
    turned_deg = math.degrees(math.asin(min(1.0, max(lobe, mirror))))
    return min(turned_deg, beam.half_angle_deg(-3.0103))
