"""What is measured of each unit where its edges are, how finely, and what is judged of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from rig.deciding.evidence import availability_budget, repeat_budget
from rig.deciding.requirement import RANGE_END_SHARE, Figure, Requirement, requirements_of
from rig.edges.edge import COVERAGE, Edge
from rig.edges.finest import finest_mm
from rig.edges.slides import SLIDE_S, slides_of
from rig.edges.sweep import START_LATEST_S
from rig.edges.task import EdgeTask, blind_end_task, edge_tasks, finest_uncertainty_mm
from rig.planning.case import Case
from rig.planning.checks import Zone
from rig.planning.grounds import TimePart
from rig.planning.plan import Check, Measuring
from rig.planning.plan import Requirement as Proves
from rig.statistics.uncertainty import Component, combine
from sequences.order import Setting
from sequences.sensor_type import SensorType
from wiring.saying import say

# An uncertainty of this share of the tolerance decides all but few units at once; those are measured on.
_SHARE_OF_TOLERANCE = 1 / 8
_SHARE_OF_RANGE_END = 1 / 4
# Rounding must not make a bench's finest uncertainty too fine for it.
_SPARE = 1.02
# A sound unit's differential travel may be so many times the usual one (common practice, no source).
_USUAL_SPREAD = 1.2
TRAVEL_UNCERTAINTIES = 1.7
"""The uncertainty of a differential travel in those of its edge (measured on simulated units)."""

# It is judged where it leaves that to a sound unit twice: as its guard, and for what the value itself may be off.
_TRAVEL_ROOM = 2 * TRAVEL_UNCERTAINTIES
# A figure is judged where its uncertainty leaves this much of its limit to sound units.
_LARGEST_SHARE, _LARGEST_SHARE_OF_REPEAT = 0.15, 0.25
# Readings for each halving of what is left, and for each approach with its passes (measured on simulated units).
_READINGS_PER_BIT, _READINGS_PER_APPROACH = 1.5, 8.0
# Supply current and time before availability.
_UNIT_FIGURES_S = 3.0
# Reading a request and answering it (common practice, no source).
_ASKING_S = 5.0


@dataclass(frozen=True, slots=True)
class MeasuringDraft:
    """What can be measured of a setting; `untold` says in words what cannot, or is not judged."""

    measuring: Measuring
    untold: tuple[str, ...]


def draft_measuring(case: Case, setting: Setting, zone: Zone, checks: tuple[Check, ...]) -> MeasuringDraft:
    """The edges to be measured and what is required of each unit; nothing stands against it any more."""
    tasks, untold = _tasks(case, setting, zone)
    judged: list[Requirement] = []
    for one in _required(case, setting, zone, checks):
        why_not = _why_untold(one, case, tasks)
        if why_not is None:
            judged.append(one)
        elif why_not:
            untold.append(say("{name} is {why_not}", name=one.name, why_not=why_not))
    timing = case.sensor_type.timing
    response_s = max(timing.response_on_s, timing.response_off_s)
    measuring = Measuring(tasks, tuple(judged), case.conditions.components(), response_s)
    return MeasuringDraft(measuring, tuple(untold))


def measuring_time(case: Case, draft: MeasuringDraft) -> TimePart:
    """How long it takes, as expected."""
    seconds = sum(_edge_s(case, task) for task in draft.measuring.tasks)
    return TimePart("edges measured", seconds + _UNIT_FIGURES_S)


def _edge_s(case: Case, task: EdgeTask) -> float:
    target, load_s = case.rig.target, case.rig.nest[0].load.settle_s
    if case.by_hand:
        return slides_of(task) * (SLIDE_S + _ASKING_S)
    assert target.speed_mm_s is not None, "without a drive nothing is measured"
    reading_s = 2 * target.settle_s + load_s + 2.5 * task.response_s
    way_mm = max(10 * task.hysteresis_mm, 2 * task.wanted_mm)
    halvings = math.log2((task.high_mm - task.low_mm) / task.wanted_mm)
    searches = _READINGS_PER_BIT * (2 * halvings)
    return (searches + _READINGS_PER_APPROACH * task.approaches) * (reading_s + way_mm / target.speed_mm_s)


def _required(case: Case, setting: Setting, zone: Zone, checks: tuple[Check, ...]) -> Iterator[Requirement]:
    yield from requirements_of(setting, case.sensor_type, zone.sensing, scale=zone.scale)
    if any(check.requirement in (Proves.BLIND_END, Proves.RANGE_END) for check in checks):
        yield Requirement(Figure.ENDS, unit="")


def _tasks(case: Case, setting: Setting, zone: Zone) -> tuple[tuple[EdgeTask, ...], list[str]]:
    target, sensor_type = case.rig.target, on_bench(case.sensor_type, zone)
    points_mm = {key: getattr(setting, key) for key in ("at_mm", "near_mm", "far_mm")}
    scaled = {key: at_mm * zone.scale for key, at_mm in points_mm.items() if at_mm is not None}
    bench = setting.model_copy(update=scaled)
    coarse_mm = 10 * finest_uncertainty_mm(target, zone.sensing.range_mm)
    drafts = edge_tasks(bench, sensor_type, target, wanted_mm=coarse_mm)
    untold: list[str] = []
    if zone.outer is None and not _range_end_in_reach(zone):
        drafts = tuple(task for task in drafts if task.called is not Edge.OUTER)
        untold.append("the end of the range is not measured: the target does not go beyond it")
    if case.order.checks.ends and zone.inner is None:
        if target.nearest_mm < zone.sensing.blind_zone_mm / 2:
            drafts = (*drafts, blind_end_task(sensor_type, target, zone.start, wanted_mm=coarse_mm))
        else:
            untold.append("the end of the blind zone is not measured: the target does not go into it")
    return tuple(replace(task, wanted_mm=_wanted_mm(case, zone, task)) for task in drafts), untold


def on_bench(sensor_type: SensorType, zone: Zone) -> SensorType:
    """A sensor type as the air of the bench leaves it."""
    return sensor_type.model_copy(update={"sensing": zone.sensing})


def _range_end_in_reach(zone: Zone) -> bool:
    range_mm = zone.sensing.range_mm
    return zone.farthest >= range_mm + 2 * zone.sensing.hysteresis_largest_mm(range_mm)


def _wanted_mm(case: Case, zone: Zone, task: EdgeTask) -> float:
    """The uncertainty that the order asks for; else as fine as is of use, if the bench can."""
    smallest_mm = _SPARE * finest_mm(task, case.rig.target)
    asked_mm = case.order.checks.uncertainty_mm
    if asked_mm is not None:
        return max(asked_mm, smallest_mm / _SPARE)
    if task.called is Edge.BLIND:
        return max(zone.sensing.hysteresis_mm(task.expected_mm) / 2, smallest_mm)
    if zone.outer is None:
        return max(_SHARE_OF_RANGE_END * (1 - RANGE_END_SHARE) * zone.sensing.range_mm, smallest_mm)
    travel_mm = _travel_room_mm(zone, task.expected_mm) / _TRAVEL_ROOM
    useful_mm = _SHARE_OF_TOLERANCE * zone.tolerance
    return max(min(useful_mm, travel_mm) if travel_mm > smallest_mm else useful_mm, smallest_mm)


def _travel_room_mm(zone: Zone, at_mm: float) -> float:
    sensing = zone.sensing
    return sensing.hysteresis_largest_mm(at_mm) - _USUAL_SPREAD * sensing.hysteresis_mm(at_mm)


def _why_untold(one: Requirement, case: Case, tasks: tuple[EdgeTask, ...]) -> str | None:
    """Why a requirement is not judged; None where it is, empty where nobody asked."""
    task = next((task for task in tasks if task.called is one.edge), None)
    if one.edge is not None and task is None:
        return ""
    match one.figure:
        case Figure.REPEAT if case.by_hand:
            return "told, not judged: what the hand scatters is in it"
        case Figure.RESPONSE_ON | Figure.RESPONSE_OFF if case.by_hand:
            return "not judged: by hand it cannot be measured"
        case Figure.TRAVEL if task is not None:
            return _why_no_travel(one, case, task)
        case Figure.REPEAT if task is not None:
            return _too_coarse(one, _repeat_budget_mm(case), share=_LARGEST_SHARE_OF_REPEAT)
        case Figure.RESPONSE_ON | Figure.RESPONSE_OFF if task is not None:
            return _too_coarse(one, _response_budget_s(case, task))
        case Figure.CURRENT if case.rig.supply.kind != "scpi":
            return "not judged: this rig's supply does not measure it"
        case Figure.AVAILABILITY:
            return _too_coarse(one, availability_budget(case.rig.nest[0].supply_doubt_s).expanded)
    return None


def _why_no_travel(one: Requirement, case: Case, task: EdgeTask) -> str | None:
    sensing = case.bench_sensing
    usual_mm = sensing.hysteresis_mm(task.expected_mm)
    room_mm = (one.high or 0.0) - _USUAL_SPREAD * usual_mm
    if room_mm >= _TRAVEL_ROOM * finest_mm(task, case.rig.target):
        return None
    return say(
        "told, not judged: a usual {usual_mm:.2g} mm lies nearer to the largest {high:.2g} mm "
        "than this rig can tell apart; the release point is judged",
        usual_mm=usual_mm,
        high=one.high,
    )


def _too_coarse(one: Requirement, expanded: float, share: float = _LARGEST_SHARE) -> str | None:
    limit = one.high or 0.0
    if expanded <= share * limit:
        return None
    factor, unit = (1e3, "ms") if one.unit == "s" else (1.0, one.unit)
    return say(
        "told, not judged: this rig can only tell it to {finest:.2g} {unit}, too coarse for a "
        "limit of {limit:.3g} {unit}",
        finest=factor * expanded,
        unit=unit,
        limit=factor * limit,
    )


def _repeat_budget_mm(case: Case) -> float:
    target = case.rig.target
    return repeat_budget(target.placement_mm, target.resolution_mm).expanded


def _response_budget_s(case: Case, task: EdgeTask) -> float:
    speed_mm_s = case.rig.target.speed_mm_s
    assert speed_mm_s is not None, "without a drive nothing is measured"
    rows = (
        Component("place of the edge", task.wanted_mm / 2, sensitivity=1 / speed_mm_s),
        Component.from_half_width("start of the move", START_LATEST_S / 2),
    )
    return combine(rows, coverage=COVERAGE).expanded
