"""What a way of proving units cannot tell, so that a unit with nothing else wrong is called good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum

from rig.deciding.requirement import Figure
from rig.planning.plan import Plan, Requirement
from rig.risk.truth import OF_THE_SETTING, Defect
from sequences.words import SetPoint


class Beyond(StrEnum):
    """A class of faults that no reading of a plan shows."""

    LOOK_ALIKE = "another type by its correction for the air alone"
    TRAVEL = "differential travel above its type's, within the order's limits"
    REPEAT = "repeat accuracy worse than its type's, within the order's limits"
    BLIND_ZONE = "blind zone too long"
    RANGE = "sensing range too short"
    CHANGED = "changed after the last reading"
    SLIPPED = "target's scale off while the unit was taught"


REMEDIES: Mapping[Beyond, str] = {
    Beyond.LOOK_ALIKE: "in the air of one bench it switches as the right one does: read its label",
    Beyond.TRAVEL: "check positions prove the release point that the order allows; measured edges tell the travel",
    Beyond.REPEAT: "check positions prove a steady output where the order needs one; a stage that measures tells",
    Beyond.BLIND_ZONE: "by the order nothing is read close to the blind zone, or the target does not come there",
    Beyond.RANGE: "the target does not reach the end of the range",
    Beyond.CHANGED: "who wants to know verifies some units again a day later",
    Beyond.SLIPPED: "teaching and checking are off by the same; measure the scale or verify a known unit once a shift",
}
"""Why no reading shows it, and what a person can do about it."""

_BY_DEFECT: Mapping[Defect, Beyond] = {
    Defect.LOOK_ALIKE: Beyond.LOOK_ALIKE,
    Defect.WIDE_TRAVEL: Beyond.TRAVEL,
    Defect.NOISY: Beyond.REPEAT,
    Defect.LONG_BLIND_ZONE: Beyond.BLIND_ZONE,
    Defect.SHORT_RANGE: Beyond.RANGE,
}


def beyond_of(plan: Plan) -> tuple[Beyond, ...]:
    """All that a plan cannot tell."""
    return tuple(_beyond_of(plan))


def _beyond_of(plan: Plan) -> Iterator[Beyond]:
    yield Beyond.LOOK_ALIKE
    points = {point for point, _ in plan.set_points}
    judged = set() if plan.measuring is None else {one.figure for one in plan.measuring.required}
    if points and Figure.TRAVEL not in judged:
        yield Beyond.TRAVEL
    if Figure.REPEAT not in judged:
        yield Beyond.REPEAT
    read = {one.requirement for one in plan.checks}
    if SetPoint.NEAR not in points and Requirement.BLIND_END not in read:
        yield Beyond.BLIND_ZONE
    if not points and Requirement.RANGE_END not in read:
        yield Beyond.RANGE
    yield from (Beyond.CHANGED, Beyond.SLIPPED)


def excuses_of(
    plan: Plan, defects: tuple[Defect, ...], *, changed_late: bool, slipped_early: bool
) -> tuple[Beyond, ...]:
    """Why nothing could show any of what is wrong with a unit; empty where something could.

    `changed_late`: sound at its last reading. `slipped_early`: the target's scale was off already when it was taught.
    """
    if changed_late:
        return (Beyond.CHANGED,) if defects else ()
    untold = beyond_of(plan)
    found: list[Beyond] = []
    for defect in defects:
        beyond = _BY_DEFECT.get(defect)
        if beyond is not None and beyond in untold:
            found.append(beyond)
        elif slipped_early and defect in OF_THE_SETTING:
            found.append(Beyond.SLIPPED)
        else:
            return ()
    return tuple(dict.fromkeys(found))
