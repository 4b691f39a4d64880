"""Compiles order, sensor type and rig profile into a plan, or refuses with every reason at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from rig.planning.bench_limits import bench_refusals
from rig.planning.case import Case, case_of
from rig.planning.draft import Draft
from rig.planning.machine_limits import machine_refusals
from rig.planning.plan import Plan
from rig.planning.proposal import Candidate, candidates
from rig.planning.refusal import Fit, PlanRefused, Refusal
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.saying import say


def make_plan(
    order: Order, sensor_type: SensorType, rig: RigProfile, *, known: Iterable[SensorType] | None = None
) -> Plan:
    """The plan for every unit of `order` on `rig`.

    Where `known` types are given, a refusal also says which of them would do what the order asks for.

    Raises:
        PlanRefused: when something stands against it.

    """
    if order.need is None and not order.setting.is_whole:
        raise PlanRefused(tuple(_left_out(order.setting)))
    found = _plan_or_refusals(case_of(order, sensor_type, rig))
    if isinstance(found, Plan):
        return found
    raise PlanRefused(found, None if known is None else tuple(_fits(order, rig, known)))


def _left_out(setting: Setting) -> Iterator[Refusal]:
    for one in setting.left_out():
        yield Refusal(
            say("{key_path} is left out of the setting", key_path=one.key_path[-1]), "nothing", one.allowed
        )


def _plan_or_refusals(case: Case) -> Plan | tuple[Refusal, ...]:
    """The first setting that can be done, or what stands against the one thought best."""
    first: tuple[Refusal, ...] = ()
    for candidate in candidates(case):
        found = _planned(case, candidate)
        if isinstance(found, Plan):
            return found
        first = first or found
    return tuple(_in_the_order(case.order, refusal) for refusal in first)


def _in_the_order(order: Order, refusal: Refusal) -> Refusal:
    """A refusal of something proposed names no key: the order does not have it."""
    table, _, key = refusal.key.partition(".")
    if table != "setting" or getattr(order.setting, key, None) is not None:
        return refusal
    return replace(refusal, key="", passes=None)


def _fits(order: Order, rig: RigProfile, known: Iterable[SensorType]) -> Iterator[Fit]:
    for sensor_type in known:
        found = _plan_or_refusals(case_of(order, sensor_type, rig))
        if isinstance(found, Plan):
            yield Fit(sensor_type.name, sensor_type.title, found.grounds.reasons)


def _planned(case: Case, candidate: Candidate) -> Plan | tuple[Refusal, ...]:
    setting = candidate.setting
    if candidate.refusals:
        return (*candidate.refusals, *machine_refusals(case, setting))
    zone = case.zone(setting)
    refusals = (*bench_refusals(case, setting, zone), *machine_refusals(case, setting))
    if refusals:
        return refusals
    draft = Draft(case, setting, zone, candidate.reasons)
    return tuple(draft.refusals()) or draft.plan()
