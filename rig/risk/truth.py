"""What a unit really is, read from the simulated unit itself and held against order and data sheet.

No sequence, no check position and no reading enters here: where it would switch without noise, in the air for which
the order is made, what it draws, how it drives its output, how widely its operate points scatter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from hal.simulated.air import TRIM_M_S
from hal.simulated.faults import UnitFaultKind
from hal.simulated.kind import UnitKind
from hal.simulated.unit import Unit
from rig.risk.case import Case
from sequences.datasheet import Sensing
from sequences.words import SetPoint

# Mean of largest less smallest of ten normal values, in standard deviations (the constant d2 of control charts for
# n = 10, from memory): what a repeat accuracy "largest less smallest over ten approaches" comes to.
_RANGE_OF_TEN = 3.078
# A noisy unit leaves its tolerance for good where one look in forty-four does.
_WANDER_SIGMAS = 2.0
# How much of the stated sensing range a good unit may lack at either end (common practice, no source).
_LACKING_SHARE = 0.05
_HAIR_MM = 1e-6


class Defect(StrEnum):
    """Why a unit is bad."""

    NO_CURRENT = "draws nothing"
    OVER_CURRENT = "draws too much"
    OTHER_KIND = "another kind of unit"
    LOOK_ALIKE = "another kind that only differs in how it corrects for the air"
    REFUSES = "takes no teaching"
    OUTPUT_TYPE = "other output type"
    LED_DARK = "LED dark"
    NOT_AS_SET = "another mode or output function than ordered"
    OPERATE_POINT = "operate point outside tolerance"
    RELEASE_POINT = "releases beyond tolerance and largest differential travel"
    SHORT_RANGE = "sensing range too short"
    LONG_BLIND_ZONE = "blind zone too long"
    WANDERS = "repeat accuracy so bad that operate points leave the tolerance"
    WIDE_TRAVEL = "differential travel larger than its type's, within the limits of the order"
    NOISY = "repeat accuracy worse than its type's, within the limits of the order"


OF_THE_SETTING = frozenset(
    {
        Defect.NOT_AS_SET,
        Defect.OPERATE_POINT,
        Defect.RELEASE_POINT,
        Defect.SHORT_RANGE,
        Defect.LONG_BLIND_ZONE,
    }
)
"""What a bench may have done to a unit that is sound."""


def defects_of(unit: Unit, case: Case) -> Iterator[Defect]:
    """Everything that keeps a unit, as it is now, from being what the order asks for."""
    supply = case.sensor_type.supply
    if unit.true_current_a < supply.no_load_current_min_a:
        yield Defect.NO_CURRENT
    if unit.true_current_a > supply.no_load_current_max_a:
        yield Defect.OVER_CURRENT
    if (actual := unit.faults.get(UnitFaultKind.WRONG_KIND)) is not None:
        yield Defect.LOOK_ALIKE if look_alike(case, actual.actual or "") else Defect.OTHER_KIND
    if unit.refuses:
        yield Defect.REFUSES
    if unit.true_output_type is not case.setting.output_type:
        yield Defect.OUTPUT_TYPE
    if UnitFaultKind.LED_DARK in unit.faults:
        yield Defect.LED_DARK
    if (unit.memory.mode, unit.memory.function) != (case.setting.mode, case.setting.output_function):
        yield Defect.NOT_AS_SET
    else:
        yield from _of_its_zone(unit, case)


def look_alike(case: Case, name: str) -> bool:
    """Whether a kind behaves as the ordered one does in the air of any one bench."""
    differs: dict[str, object] = {"name": case.kind.name, "residual": case.kind.residual}
    other: UnitKind = case.kinds[name].model_copy(update=differs)
    return other == case.kind.model_copy(update={"output_type": other.output_type})


def overshoot_mm(unit: Unit, case: Case) -> float:
    """How far its worst operate point lies outside its tolerance; negative inside, -inf without a set point."""
    return max((end.over_mm for end in _ends(unit, case)), default=-math.inf)


@dataclass(frozen=True, slots=True)
class _End:
    """One end of a unit's zone.

    Attributes:
        point_mm: the set point there; None where the sensing range ends.
        sheet_mm: where the data sheet ends the sensing range on this side.
        operate_mm, release_mm: in the air in which the set point has to hold.
        own_operate_mm, own_release_mm: in the unit's own measure, in which its data sheet holds.
        sigma_mm: standard deviation of its single readings there.

    """

    outwards: int
    point_mm: float | None
    tolerance_mm: float
    sheet_mm: float
    operate_mm: float
    release_mm: float
    own_operate_mm: float
    own_release_mm: float
    sigma_mm: float

    @property
    def over_mm(self) -> float:
        """How far the operate point is outside its tolerance, or further than may be from the end of the range."""
        if self.point_mm is None:
            lacking_mm = (self.sheet_mm - self.own_operate_mm) * self.outwards
            return lacking_mm - _LACKING_SHARE * self.sheet_mm
        return abs(self.operate_mm - self.point_mm) - self.tolerance_mm

    def defects(self, sensing: Sensing) -> Iterator[Defect]:
        """What is wrong with this end."""
        if self.over_mm > 0:
            own = Defect.SHORT_RANGE if self.outwards > 0 else Defect.LONG_BLIND_ZONE
            yield own if self.point_mm is None else Defect.OPERATE_POINT
        if self.point_mm is not None:
            yield from self._travel_defects(sensing, self.point_mm)
        # The end of the blind zone is not sharp, and nothing is promised of it.
        if self.point_mm is not None or self.outwards > 0:
            at_mm = self.sheet_mm if self.point_mm is None else self.point_mm
            if _RANGE_OF_TEN * self.sigma_mm > sensing.repeat_accuracy_percent / 100 * at_mm:
                yield Defect.WANDERS if self.over_mm + _WANDER_SIGMAS * self.sigma_mm > 0 else Defect.NOISY

    def _travel_defects(self, sensing: Sensing, point_mm: float) -> Iterator[Defect]:
        limit_mm = point_mm + self.outwards * self.tolerance_mm
        if (self.release_mm - limit_mm) * self.outwards > sensing.hysteresis_largest_mm(limit_mm):
            yield Defect.RELEASE_POINT
        travel_mm = (self.own_release_mm - self.own_operate_mm) * self.outwards
        if travel_mm > sensing.hysteresis_largest_mm(self.own_operate_mm) + _HAIR_MM:
            yield Defect.WIDE_TRAVEL


def _of_its_zone(unit: Unit, case: Case) -> Iterator[Defect]:
    found = (defect for end in _ends(unit, case) for defect in end.defects(case.sensor_type.sensing))
    yield from dict.fromkeys(found)


def _ends(unit: Unit, case: Case) -> Iterator[_End]:
    """Both ends, near one first."""
    # What only corrects for the air in another way is judged where it stands: for the rest it is bad by name.
    alike = UnitFaultKind.WRONG_KIND in unit.faults
    scale, there = (case.scale, unit.true_ends()) if alike else (1.0, unit.true_ends(case.sound_m_s))
    points_mm, own = case.setting.set_points_mm, unit.true_ends(TRIM_M_S)
    far_mm = points_mm.get(SetPoint.FAR, points_mm.get(SetPoint.ONLY))
    sensing, tolerance_mm = case.sensor_type.sensing, (case.setting.tolerance_mm or 0.0) * scale
    for outwards, set_mm, sheet_mm, index in (
        (-1, points_mm.get(SetPoint.NEAR), sensing.blind_zone_mm, 0),
        (1, far_mm, sensing.range_mm, 1),
    ):
        point_mm = None if set_mm is None else set_mm * scale
        yield _End(
            outwards,
            point_mm,
            tolerance_mm,
            sheet_mm,
            operate_mm=there[index],
            release_mm=there[index + 2],
            own_operate_mm=own[index],
            own_release_mm=own[index + 2],
            sigma_mm=unit.true_sigma_mm(point_mm or sheet_mm),
        )
