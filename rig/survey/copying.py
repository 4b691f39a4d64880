"""The order that sets others like a surveyed unit: set points as measured, tolerance, air, and where it comes from."""

from __future__ import annotations

import json
import math
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from rig.planning.case import Case, case_of
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from rig.survey.report import Found, SurveyReport
from sequences.order import POINT_KEYS, Order
from sequences.sensor_type import SensorType
from sequences.words import SetPoint
from wiring.profile import RigProfile

NUMBER_PREFIX = "COPY-"
_LONGEST_NUMBER = 26  # leaves room for the hyphen of the serials
_FEWEST_DIGITS = 3
# Where between the finest tolerance that can be proved and the one thought best others are tried.
_SHARES = (1.0, 0.5, 0.0)
# Of the room for a tolerance, so that those of two set points do not meet.
_OF_ROOM = 0.99
_LARGEST_MM = 500.0  # as orders allow
_FINEST_GRAIN_MM = 0.01
_HAIR = 1e-6
_WIDTH = 110


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the person wants of the order; `sensor_type` is what an order file calls the type."""

    sensor_type: str
    quantity: int = 1
    tolerance_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Copy:
    """An order that can be planned on the rig of the survey, and as data for its file.

    `why_not` says why the tolerance is not the one wished for; empty if it is, or none was.
    """

    order: Order
    data: dict[str, Any]
    plan: Plan
    why_not: str = ""


def copy_number(serial: str) -> str:
    """The number of the order that copies a unit."""
    return f"{NUMBER_PREFIX}{serial}"[:_LONGEST_NUMBER].rstrip("._-")


def copy_of(report: SurveyReport, sensor_type: SensorType, rig: RigProfile, wishes: Wishes) -> Copy:
    """The order that sets others like the unit, with the tolerance wished for or the nearest that can be done.

    Raises:
        PlanRefused: when this rig could not do such an order at any tolerance.
        ValueError: when the setting is in doubt, so that there is nothing to copy.

    """
    found = report.found
    if found is None:
        raise ValueError("a setting in doubt cannot be copied")
    draft = _Draft(report, found, sensor_type, rig, wishes)
    if not found.points:
        return draft.copy(None, "")
    if wishes.tolerance_mm is None:
        return draft.first_of(draft.tolerances_mm())
    if wishes.tolerance_mm > draft.room_mm:
        return draft.first_of(draft.tolerances_mm(), "the tolerances of set points so close would meet")
    try:
        return draft.copy(wishes.tolerance_mm, "")
    except PlanRefused as refused:
        return draft.first_of(draft.tolerances_mm(), str(refused))


@dataclass(frozen=True, slots=True)
class _Draft:
    report: SurveyReport
    found: Found
    sensor_type: SensorType
    rig: RigProfile
    wishes: Wishes

    def first_of(self, tolerances_mm: Iterator[float], why_not: str = "") -> Copy:
        """The order with the first tolerance that can be done."""
        first: PlanRefused | None = None
        for tolerance_mm in tolerances_mm:
            try:
                return self.copy(tolerance_mm, why_not)
            except PlanRefused as refused:
                first = first or refused
        assert first is not None, "there is always a tolerance to try"
        raise first

    def copy(self, tolerance_mm: float | None, why_not: str) -> Copy:
        """The order with one tolerance; raises PlanRefused."""
        data = self._data(tolerance_mm)
        order = Order.model_validate_json(json.dumps(data))
        return Copy(order, data, make_plan(order, self.sensor_type, self.rig), why_not)

    def tolerances_mm(self) -> Iterator[float]:
        """From the one thought best down to the finest that the rig can prove."""
        order = Order.model_validate_json(json.dumps(self._data(self.room_mm)))
        case = case_of(order, self.sensor_type, self.rig)
        points_mm = order.setting.set_points_mm
        finest_mm = max(case.reach(point).finest_mm(at_mm) for point, at_mm in points_mm.items())
        best_mm = max(self._best_mm(case, point, at_mm) for point, at_mm in points_mm.items())
        for share in _SHARES:
            tolerance_mm = finest_mm + share * max(0.0, best_mm - finest_mm)
            yield min(_rounded_up(tolerance_mm), self.room_mm)
        yield min(_up(finest_mm, _FINEST_GRAIN_MM), self.room_mm)

    @property
    def room_mm(self) -> float:
        """The largest tolerance that an order with these set points may state."""
        points_mm = [self._point_mm(point) for point in self.found.points]
        rooms_mm = [_LARGEST_MM, points_mm[0], *((far - near) / 2 for near, far in pairwise(points_mm))]
        return round(math.floor(_OF_ROOM * min(rooms_mm) / _FINEST_GRAIN_MM) * _FINEST_GRAIN_MM, 6)

    def _best_mm(self, case: Case, point: SetPoint, at_mm: float) -> float:
        """What a sound copy may be off, what the set point itself may be off, and the guard of the checks."""
        sensing = self.sensor_type.sensing
        teach_mm = (sensing.teach_error_percent or sensing.repeat_accuracy_percent) / 100 * at_mm
        return self.found.points[point].operate_u_mm + teach_mm + case.doubt.expanded_mm(at_mm)

    def _point_mm(self, point: SetPoint) -> float:
        return round(self.found.points[point].operate_mm, 1)

    def _data(self, tolerance_mm: float | None) -> dict[str, Any]:
        number, quantity = copy_number(self.report.serial), self.wishes.quantity
        setting: dict[str, Any] = {
            "mode": str(self.found.mode),
            "output_function": str(self.found.output_function),
            "output_type": str(self.found.output_type),
        }
        setting |= {POINT_KEYS[point]: self._point_mm(point) for point in self.found.points}
        if tolerance_mm is not None:
            setting["tolerance_mm"] = round(tolerance_mm, 6)
        digits = max(_FEWEST_DIGITS, len(str(quantity)))
        return {
            "number": number,
            "customer": f"like unit {self.report.serial}",
            "quantity": quantity,
            "sensor_type": self.wishes.sensor_type,
            "serial_run": {"prefix": f"{number}-", "first": 1, "digits": digits},
            "notes": "\n".join(_wrapped(self._notes(tolerance_mm))),
            "setting": setting,
            "need": {"air": self._air()},
        }

    def _air(self) -> dict[str, float]:
        air = self.rig.air
        return {
            "coldest_c": air.temperature_c,
            "warmest_c": air.temperature_c,
            "driest_percent": air.humidity_percent,
            "dampest_percent": air.humidity_percent,
            "pressure_kpa": air.pressure_kpa,
        }

    def _notes(self, tolerance_mm: float | None) -> Iterator[str]:
        report, rig = self.report, self.rig
        where = "the simulated bench" if rig.back_end == "simulated" else f"rig {rig.name}"
        yield (
            f"Sets others like unit {report.serial}, surveyed on {report.utc[:10]} on {where}: "
            f"{report.words}."
        )
        yield (
            f"The air of that bench ({rig.air.temperature_c:g} °C, {rig.air.humidity_percent:g} %, "
            f"{rig.air.pressure_kpa:g} kPa) stands for the air at the machine in [need.air], and the set points hold "
            "in it. Leave it so to copy the unit, even if the machine is warmer or colder: the copies follow the air "
            "as the unit does. State another air only together with the set points that hold there."
        )
        if tolerance_mm is not None:
            given = tolerance_mm == self.wishes.tolerance_mm
            made_of = (
                "as asked for"
                if given
                else (
                    "proposed from the uncertainty of the survey, what the type may be off when it is taught, and what "
                    "this rig can prove"
                )
            )
            yield f"Tolerance {tolerance_mm:g} mm: {made_of}."


def _wrapped(paragraphs: Iterator[str]) -> Iterator[str]:
    yield ""  # the text begins on a line of its own
    for words in paragraphs:
        yield from textwrap.wrap(words, _WIDTH, break_on_hyphens=False)
    yield ""


def _rounded_up(tolerance_mm: float) -> float:
    """To a figure that a person would write: about two digits."""
    grain_mm = 10.0 ** (math.floor(math.log10(tolerance_mm)) - 1)
    return _up(tolerance_mm, 5 * grain_mm)


def _up(tolerance_mm: float, grain_mm: float) -> float:
    return round(math.ceil(tolerance_mm / grain_mm - _HAIR) * grain_mm, 6)
