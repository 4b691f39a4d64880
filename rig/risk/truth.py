"""What a unit really is, read from the simulated unit itself and held against order and data sheet.

No recipe, no check position and no reading enters here: where it would switch without noise, in the air for which
the order is made, what it draws, how it drives its output, how widely its operate points scatter.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from hal.simulated.faults import UnitFaultKind
from hal.simulated.kind import UnitKind
from hal.simulated.unit import Unit
from rig.risk.case import Case
from sequences.words import SetPoint

# Mean of largest less smallest of ten normal values, in standard deviations (the constant d2 of control charts for
# n = 10, from memory): what a repeat accuracy "largest less smallest over ten approaches" comes to.
_RANGE_OF_TEN = 3.078
# A noisy unit leaves its tolerance for good where one look in forty-four does.
_WANDER_SIGMAS = 2.0
# How much of the stated sensing range a good unit may lack at either end (common practice, no source).
_LACKING_SHARE = 0.05


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
    WANDERS = "repeat accuracy so bad that operate points leave the tolerance"
    WIDE_TRAVEL = "differential travel larger than its type's, within the limits of the order"
    NOISY = "repeat accuracy worse than its type's, within the limits of the order"


OF_THE_SETTING = frozenset(
    {Defect.NOT_AS_SET, Defect.OPERATE_POINT, Defect.RELEASE_POINT, Defect.SHORT_RANGE}
)
"""What a bench may have done to a unit that is sound."""


UNSEEN_BY_POSITIONS = frozenset({Defect.LOOK_ALIKE, Defect.WIDE_TRAVEL, Defect.NOISY})
"""What check positions cannot tell, wherever they are: the unit does at each of them what a sound one does."""


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
    ends = unit.true_ends(case.sound_m_s)
    tolerance_mm = case.setting.tolerance_mm or 0.0
    at_mm = {"near": ends.operate_near_mm, "far": ends.operate_far_mm}
    off_mm = (abs(at_mm[edge] - mm) for edge, _, mm in _edges(case) if mm is not None)
    return max((off - tolerance_mm for off in off_mm), default=float("-inf"))


def _of_its_zone(unit: Unit, case: Case) -> Iterator[Defect]:
    over_mm = overshoot_mm(unit, case)
    if over_mm > 0:
        yield Defect.OPERATE_POINT
    yield from set(_travels(unit, case))
    if any(_falls_short(unit, case)):
        yield Defect.SHORT_RANGE
    yield from set(_scatters(unit, case, over_mm))


def _travels(unit: Unit, case: Case) -> Iterator[Defect]:
    ends, sensing = unit.true_ends(case.sound_m_s), case.sensor_type.sensing
    tolerance_mm = case.setting.tolerance_mm or 0.0
    operate_mm = {"near": ends.operate_near_mm, "far": ends.operate_far_mm}
    release_mm = {"near": ends.release_near_mm, "far": ends.release_far_mm}
    for edge, outwards, point_mm in _edges(case):
        if point_mm is None:
            continue
        limit_mm = point_mm + outwards * tolerance_mm
        beyond_mm = (release_mm[edge] - limit_mm) * outwards
        if beyond_mm > sensing.hysteresis_largest_mm(limit_mm):
            yield Defect.RELEASE_POINT
        travel_mm = (release_mm[edge] - operate_mm[edge]) * outwards
        if travel_mm > sensing.hysteresis_largest_mm(operate_mm[edge]):
            yield Defect.WIDE_TRAVEL


def _falls_short(unit: Unit, case: Case) -> Iterator[bool]:
    """Whether an end without a set point lies short of the data sheet, whose figures hold in the unit's own measure."""
    ends, sensing = unit.true_ends(), case.sensor_type.sensing
    at_mm = {"near": ends.operate_near_mm, "far": ends.operate_far_mm}
    for edge, outwards, point_mm in _edges(case):
        if point_mm is None:
            end_mm = sensing.blind_zone_mm if edge == "near" else sensing.range_mm
            yield (at_mm[edge] - end_mm) * outwards < -_LACKING_SHARE * end_mm


def _scatters(unit: Unit, case: Case, over_mm: float) -> Iterator[Defect]:
    share = case.sensor_type.sensing.repeat_accuracy_percent / 100
    for _, __, point_mm in _edges(case):
        if (
            point_mm is not None
            and _RANGE_OF_TEN * (sigma_mm := unit.true_sigma_mm(point_mm)) > share * point_mm
        ):
            yield Defect.WANDERS if over_mm + _WANDER_SIGMAS * sigma_mm > 0 else Defect.NOISY


def _edges(case: Case) -> tuple[tuple[str, int, float | None], ...]:
    """Both ends of the zone, which way is outwards, and the set point there; None where the range ends."""
    points_mm = case.setting.set_points_mm
    far_mm = points_mm.get(SetPoint.FAR, points_mm.get(SetPoint.ONLY))
    return (("near", -1, points_mm.get(SetPoint.NEAR)), ("far", 1, far_mm))
