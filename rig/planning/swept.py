"""Tables of sweeps: where each set point goes in another air, and what another set point or tolerance asks for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from rig.planning.air import Air, pressure_at_altitude_kpa, speed_of_sound_m_s
from rig.planning.bench_limits import bench_refusals
from rig.planning.bench_position import AirRange
from rig.planning.case import Case
from rig.planning.machine_limits import machine_refusals
from rig.planning.planned import Planned
from rig.planning.risks import measured_risk, point_risk
from rig.planning.room_limits import room_refusals
from rig.planning.sweep import SPANS, Quantity, Sweep, SweepRefused
from sequences.order import POINT_KEYS, Setting
from sequences.words import SetPoint

POINT_OF = {Quantity.SET_POINT: SetPoint.ONLY, Quantity.NEAR: SetPoint.NEAR, Quantity.FAR: SetPoint.FAR}
"""The set point that a quantity moves."""

AIRS = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.PRESSURE, Quantity.ALTITUDE)
"""What belongs to the air at the machine."""

SERVES = "yes"
"""What a row says of a setting that serves."""

_UNITS = {"\u00b0C": "c", "%": "percent", "kPa": "kpa"}
_HAIR = 1e-9

Cell = float


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name with the unit as a program reads it, and the decimals worth showing; None for all."""

    name: str
    decimals: int | None = 1


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One value: what does not depend on a set point, what does, and `SERVES` or what stands against it."""

    lead: tuple[Cell, ...]
    points: tuple[tuple[Cell, ...], ...]
    serves: str


@dataclass(frozen=True, slots=True)
class SweepTable:
    """The columns before the set points, those of each set point, and a row for every value."""

    lead: tuple[Column, ...]
    point: tuple[Column, ...]
    points: tuple[SetPoint, ...]
    rows: tuple[SweepRow, ...]


def sweep_table(planned: Planned, wanted: Sweep) -> SweepTable:
    """The table of a sweep; raises SweepRefused where the setting has no such set point."""
    points, quantity = planned.setting.set_points_mm, wanted.quantity
    if not points:
        what = "a full range has no set point that could move"
        raise SweepRefused(what, str(quantity), "an order with set points")
    allowed = [one for one in Quantity if one not in POINT_OF or POINT_OF[one] in points]
    if quantity not in allowed:
        what = f"{planned.setting.mode} has no such set point"
        raise SweepRefused(what, str(quantity), ", ".join(allowed))
    return _air_table(planned, wanted) if quantity in AIRS else _setting_table(planned, wanted)


def _air_table(planned: Planned, wanted: Sweep) -> SweepTable:
    columns = [Column("mm"), Column("moved_mm"), Column("bench_mm"), Column("margin_db")]
    if planned.case.conditions.compensated:
        columns.insert(2, Column("doubt_mm"))
    return SweepTable(
        lead=(_first_column(wanted.quantity), Column("sound_m_s", 2)),
        point=tuple(columns),
        points=tuple(planned.setting.set_points_mm),
        rows=tuple(
            _air_row(planned, value, _air(planned.case.conditions.machine, wanted.quantity, value))
            for value in wanted.values
        ),
    )


def _air_row(planned: Planned, value: float, air: Air) -> SweepRow:
    points = [_in_air(planned, at_mm, air) for at_mm in planned.setting.set_points_mm.values()]
    return SweepRow(
        lead=(value, speed_of_sound_m_s(air).value_m_s),
        points=tuple(point.cells(planned.case.conditions.compensated) for point in points),
        serves=_serves_in(planned, air, points),
    )


@dataclass(frozen=True, slots=True)
class _Moved:
    """Where a set point that is taught already lies in another air, and where it would be taught for that air."""

    at_mm: float
    moved_mm: float
    doubt_mm: float
    bench_mm: float
    margin_db: float

    def cells(self, compensated: bool) -> tuple[Cell, ...]:
        doubt: tuple[Cell, ...] = (self.doubt_mm,) if compensated else ()
        return (self.at_mm, self.moved_mm, *doubt, self.bench_mm, self.margin_db)


def _in_air(planned: Planned, at_mm: float, air: Air) -> _Moved:
    case = planned.case
    transfer = case.conditions.transfer
    celsius, percent = air.temperature_c, air.humidity_percent
    here = AirRange(celsius, celsius, percent, percent, air.pressure_kpa, air.co2_ppm)
    band = transfer.drift_band_mm(at_mm, here)
    middle_mm = (band.nearest_mm + band.farthest_mm) / 2
    return _Moved(
        at_mm=middle_mm,
        moved_mm=middle_mm - at_mm,
        doubt_mm=(band.farthest_mm - band.nearest_mm) / 2,
        bench_mm=case.doubt.nearest(replace(transfer, machine=air).bench_position_mm(at_mm)),
        margin_db=case.hearing.margin(middle_mm, air).db,
    )


def _air(machine: Air, quantity: Quantity, value: float) -> Air:
    match quantity:
        case Quantity.TEMPERATURE:
            return replace(machine, temperature_c=value)
        case Quantity.HUMIDITY:
            return replace(machine, humidity_percent=value)
        case Quantity.PRESSURE:
            return replace(machine, pressure_kpa=value)
        case _:
            return replace(machine, pressure_kpa=pressure_at_altitude_kpa(value))


def _serves_in(planned: Planned, air: Air, points: Sequence[_Moved]) -> str:
    sensing, tolerance_mm = planned.case.sensing, planned.setting.tolerance_mm or 0.0
    if air.temperature_c < sensing.temperature_min_c:
        return "too cold for the type"
    if air.temperature_c > sensing.temperature_max_c:
        return "too warm for the type"
    if any(abs(point.moved_mm) + point.doubt_mm > tolerance_mm + _HAIR for point in points):
        return "out of tolerance"
    return SERVES if all(point.margin_db >= 0 for point in points) else "not heard"


def _setting_table(planned: Planned, wanted: Sweep) -> SweepTable:
    last = "undecided_percent" if wanted.quantity is Quantity.TOLERANCE else "margin_db"
    base, case = planned.setting, planned.case
    room = set(room_refusals(case, base))
    # What stands against every setting alike takes most of the time, so it is asked for once.
    always = tuple(one.what for one in machine_refusals(case, base) if one not in room)
    key = POINT_KEYS[POINT_OF[wanted.quantity]] if wanted.quantity in POINT_OF else "tolerance_mm"
    settings = [base.model_copy(update={key: value}) for value in wanted.values]
    return SweepTable(
        lead=(_first_column(wanted.quantity),),
        point=(Column("bench_mm"), Column("guard_mm", 2), Column("finest_mm", 2), Column(last)),
        points=tuple(base.set_points_mm),
        rows=tuple(
            SweepRow((value,), _as_set(planned, setting, wanted.quantity), _serves_as(case, setting, always))
            for value, setting in zip(wanted.values, settings, strict=True)
        ),
    )


def _as_set(planned: Planned, setting: Setting, quantity: Quantity) -> tuple[tuple[Cell, ...], ...]:
    return tuple(_point_as_set(planned.case, setting, point, quantity) for point in setting.set_points_mm)


def _point_as_set(case: Case, setting: Setting, point: SetPoint, quantity: Quantity) -> tuple[Cell, ...]:
    reach, at_mm, tolerance_mm = case.reach(point), setting.set_points_mm[point], setting.tolerance_mm or 0.0
    guard_mm = reach.guard_mm(at_mm, tolerance_mm)
    if quantity is not Quantity.TOLERANCE:
        last: Cell = case.hearing.worst_margin(at_mm, case.conditions.airs()).db
    else:
        # A tolerance inside its own guard can be proven for no unit at all.
        last = _undecided_percent(case, setting, point) if guard_mm < tolerance_mm else 100.0
    return (case.doubt.nearest(at_mm * case.conditions.scale), guard_mm, reach.finest_mm(at_mm), last)


def _undecided_percent(case: Case, setting: Setting, point: SetPoint) -> float:
    zone = case.zone(setting)
    at_mm = setting.set_points_mm[point] * zone.scale
    risk = measured_risk(point, at_mm, zone) if case.measured else point_risk(point, at_mm, zone, ())
    return 100 * risk.undecided


def _serves_as(case: Case, setting: Setting, always: Iterable[str]) -> str:
    wrong = [f"{one.key_path[-1]} {one.message}" for one in setting.contradictions()]
    if not wrong:
        found = (*bench_refusals(case, setting, case.zone(setting)), *room_refusals(case, setting))
        wrong = [*always, *(one.what for one in found)]
    return "; ".join(wrong) or SERVES


def _first_column(quantity: Quantity) -> Column:
    unit = SPANS[quantity][2]
    return Column(f"{quantity}_{_UNITS.get(unit, unit)}".replace("-", "_"), None)
