"""What stands against measuring where the edges of a setting are, on a rig: its drive, its slots, its reach."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rig.planning.case import Case
from rig.planning.checks import Zone
from rig.planning.refusal import Refusal, at_least, too_little
from wiring.saying import say
from wiring.terms import Verification


def measuring_refusals(case: Case, zone: Zone) -> Iterator[Refusal]:
    """What stands against measuring the edges of a setting on a rig; nothing where positions are read."""
    if not case.measured:
        return
    key = "rig.target.verify" if case.order.checks.method is None else "checks.method"
    if case.method is Verification.GUIDED:
        yield from _hand_refusals(case, zone, key)
    elif case.by_hand:
        yield Refusal(
            "edges are measured with a target drive, and this rig's target is moved by hand",
            str(Verification.MEASURED),
            say(
                "{positions}, {guided}, or a rig with a stage",
                positions=Verification.POSITIONS,
                guided=Verification.GUIDED,
            ),
            key,
            str(Verification.GUIDED),
        )
    else:
        yield from _fineness_refusals(case, zone)
        yield from _reach_refusals(case, zone)


def _hand_refusals(case: Case, zone: Zone, key: str) -> Iterator[Refusal]:
    target = case.rig.target
    if not case.by_hand:
        yield Refusal(
            "a person slides the target of guided measuring, and this rig's target is on a stage",
            str(Verification.GUIDED),
            say(
                "{positions}, {measured}, or a rig whose target is moved by hand",
                positions=Verification.POSITIONS,
                measured=Verification.MEASURED,
            ),
            key,
            str(Verification.MEASURED),
        )
        return
    lost_mm = [at_mm for at_mm in _edges_mm(zone) if math.isinf(case.finest_mm(at_mm))]
    if lost_mm:
        yield Refusal(
            "no two slots enclose an edge",
            ", ".join(f"{slot.position_mm:g}" for slot in target.slots) + " mm",
            f"slots on both sides of {', '.join(f'{at_mm:.0f}' for at_mm in lost_mm)} mm",
            "rig.target.slots",
        )
        return
    yield from _fineness_refusals(case, zone)
    yield from _reach_refusals(case, zone)


def _fineness_refusals(case: Case, zone: Zone) -> Iterator[Refusal]:
    wanted_mm = case.order.checks.uncertainty_mm
    finest = max(case.finest_mm(at_mm) for at_mm in _edges_mm(zone))
    if wanted_mm is not None and wanted_mm < finest:
        yield too_little(
            "uncertainty is finer than this rig can measure",
            wanted_mm,
            finest,
            "mm",
            "checks.uncertainty_mm",
            decimals=2,
        )


def _edges_mm(zone: Zone) -> tuple[float, ...]:
    return tuple(at_mm for at_mm in (zone.inner, zone.outer or zone.sensing.range_mm) if at_mm is not None)


def _reach_refusals(case: Case, zone: Zone) -> Iterator[Refusal]:
    """The target must go on beyond every place at which a good unit may let go of it."""
    target = case.rig.target
    if zone.outer is not None:
        last_mm = zone.outer + zone.tolerance
        needed_mm = last_mm + zone.sensing.hysteresis_largest_mm(last_mm) + zone.edge_guard(zone.outer)
        if needed_mm > target.farthest_mm:
            yield too_little(
                "target does not go far enough to measure where the unit lets go of it",
                target.farthest_mm,
                needed_mm,
                "mm",
                "rig.target.farthest_mm",
            )
    if zone.inner is not None:
        first_mm = zone.inner - zone.tolerance
        needed_mm = first_mm - zone.sensing.hysteresis_largest_mm(first_mm) - zone.edge_guard(zone.inner)
        if needed_mm < target.nearest_mm:
            yield Refusal(
                "target does not come near enough to measure where the unit lets go of it",
                say("{nearest_mm:g} mm", nearest_mm=target.nearest_mm),
                say("{what:g} mm or less", what=at_least(needed_mm) if needed_mm > 0 else 0),
                "rig.target.nearest_mm",
                max(0.0, at_least(needed_mm - 0.1)),
            )
