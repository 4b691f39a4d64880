"""The beam of a round transducer: a flat piston in a wall (Kinsler, Frey et al., Fundamentals of Acoustics, 7.4)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Self

from rig.statistics.numeric import root_between

_FIRST_SIDE_LOBE = 0.1322794874
"""Height of the first side lobe, -17.57 dB, where 2 J1(x)/x has its first minimum (x = 5.135622)."""

_FIRST_NULL = 3.831706
_SMALL = 1e-3


def bessel_j1(x: float) -> float:
    """Bessel function of the first kind, order one, within 5e-15 up to x = 250.

    Bessel's integral by the trapezoidal rule, which converges geometrically for a periodic integrand
    (Trefethen and Weideman, SIAM Rev. 56 (2014) 385).
    """
    steps = math.ceil(abs(x)) + 25
    angles = (math.pi * (index + 0.5) / steps for index in range(steps))
    return math.fsum(math.cos(angle - x * math.sin(angle)) for angle in angles) / steps


def piston_directivity(x: float) -> float:
    """Sound pressure of a piston off its axis over that on it, 2 J1(x)/x with x = ka sin(angle); signed."""
    return 1 - x * x / 8 if abs(x) < _SMALL else 2 * bessel_j1(x) / x


def directivity_bound(x: float) -> float:
    """Lowest curve that never rises and that neither main lobe nor any side lobe beyond x rises above.

    The main lobe down to the height of the first side lobe, then that height, then the amplitude with which the
    lobes die away: 2/x sqrt(J1^2 + Y1^2) to second order (Abramowitz and Stegun 9.2.28), which bounds it.
    """
    lobe = piston_directivity(x) if x < _FIRST_NULL else 0.0
    if lobe > _FIRST_SIDE_LOBE:
        return lobe
    return min(_FIRST_SIDE_LOBE, math.sqrt(8 / (math.pi * x**3) * (1 + 3 / (8 * x**2))))


@dataclass(frozen=True, slots=True)
class Beam:
    """A piston of a diameter that sounds at a wavelength. Levels are one-way, in dB under the axis."""

    piston_mm: float
    wavelength_mm: float

    def __post_init__(self) -> None:
        for name in ("piston_mm", "wavelength_mm"):
            if not 0 < getattr(self, name) < math.inf:
                raise ValueError(f"{name} is {getattr(self, name):g}; allowed: more than 0")

    @classmethod
    def from_half_angle(cls, half_angle_deg: float, wavelength_mm: float, level_db: float = -3.0) -> Self:
        """The piston whose level falls to `level_db` at an angle off its axis.

        IEC 60947-5-2 states the total beam angle to -3 dB (from memory): twice the half angle.
        """
        if not 0 < half_angle_deg < 90:
            raise ValueError(f"half angle is {half_angle_deg:g} degrees; allowed: between 0 and 90")
        edge = _x_at(level_db)
        return cls(edge * wavelength_mm / (math.pi * math.sin(math.radians(half_angle_deg))), wavelength_mm)

    @property
    def ka(self) -> float:
        """Circumference of the piston over the wavelength."""
        return math.pi * self.piston_mm / self.wavelength_mm

    @property
    def near_field_mm(self) -> float:
        """Length of the near field, radius squared over wavelength: nearer, levels on the axis rise and fall."""
        return self.piston_mm**2 / (4 * self.wavelength_mm)

    def level_db(self, angle_deg: float) -> float:
        """Level at an angle off the axis, of the bound where side lobes are; 0 dB on the axis."""
        return 20 * math.log10(directivity_bound(self.ka * math.sin(math.radians(min(abs(angle_deg), 90)))))

    def half_angle_deg(self, level_db: float = -3.0) -> float:
        """Angle off the axis beyond which the level stays under `level_db`; 90 if it never falls that low.

        Raises ValueError unless the level is below 0 dB.
        """
        sine = _x_at(level_db) / self.ka
        return math.degrees(math.asin(sine)) if sine < 1 else 90.0

    def radius_mm(self, distance_mm: float, level_db: float = -3.0) -> float:
        """Radius of the beam at a distance along the axis, endless for a beam that fills the half space."""
        angle_deg = self.half_angle_deg(level_db)
        return distance_mm * math.tan(math.radians(angle_deg)) if angle_deg < 90 else math.inf


def _x_at(level_db: float) -> float:
    if not level_db < 0:
        raise ValueError(f"level is {level_db:g} dB; allowed: below 0")
    wanted = math.pow(10, level_db / 20)
    return root_between(lambda x: wanted - directivity_bound(x), 0.0, 10 + 2 * math.pow(wanted, -2 / 3))
