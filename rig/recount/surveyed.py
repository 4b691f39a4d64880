"""A survey as the record holds it: what it was made from, and what followed from that before anything moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.events import EdgeMeasured, Event, OutputRead, UnitRecognised
from rig.planning.plan import Plan
from rig.recount.attempt import Attempt, NotRebuilt, rebuilt
from rig.sequencer.output_type import Drive, drive_of
from rig.survey.bounds import Bounds, bounds_of
from rig.survey.edges import edge_of
from rig.survey.exploring import CLEAR, INSIDE
from rig.survey.job import survey_plan
from rig.survey.recognise import Edge
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import Rail


@dataclass(frozen=True, slots=True)
class SurveyMade:
    """The sensor type and the rig of a survey, where its zone was looked for, and how its unit was handled."""

    sensor_type: SensorType
    rig: RigProfile
    bounds: Bounds
    plan: Plan


def survey_made(attempt: Attempt) -> SurveyMade:
    """The same once more from the recorded files; raises NotRebuilt."""
    if attempt.started is None or attempt.inputs is None:
        raise NotRebuilt("the record does not hold the sensor type and the rig that were used")
    sensor_type = rebuilt("sensor type", SensorType, attempt.inputs.sensor_type)
    rig = rebuilt("rig profile", RigProfile, attempt.inputs.rig)
    if (sensor_type.name, rig.name) != (attempt.started.sensor_type, attempt.started.rig):
        raise NotRebuilt("sensor type and rig of the record are not those that it was begun with")
    try:
        bounds = bounds_of(sensor_type, rig)
    except ValueError as out_of_reach:
        raise NotRebuilt(f"this program refuses the recorded survey: {out_of_reach}") from None
    return SurveyMade(sensor_type, rig, bounds, survey_plan(sensor_type, bounds))


def survey_grounds(attempt: Attempt) -> tuple[str, ...]:
    """By what the setting of a unit was recognised, one sentence after the other; raises NotRebuilt.

    Nothing where the survey did not come that far.
    """
    events = [one.event for one in attempt.account]
    found = next((one for one in events if isinstance(one, UnitRecognised)), None)
    if found is None:
        return ()
    edges = {one.edge: edge_of(one) for one in events if isinstance(one, EdgeMeasured)}
    bounds = survey_made(attempt).bounds
    clear, inside = (_drive(events, where) for where in (CLEAR, INSIDE))
    return (
        f"with a clear beam the output {clear}, with the target in the zone it {inside}: {found.output_type}, "
        f"{found.output_function}",
        *_of_near(edges.get("inner"), bounds),
        *_of_far(edges.get("outer"), bounds),
    )


def _drive(events: Sequence[Event], where: str) -> Drive:
    read = {one.load: one for one in events if isinstance(one, OutputRead) and one.where == where}
    return drive_of(read) if len(read) == len(Rail) else Drive.UNCLEAR


def _of_near(near: Edge | None, bounds: Bounds) -> Iterator[str]:
    if near is None:
        yield f"the target is detected from the first position on, {bounds.first_mm:.1f} mm: no near set point is seen"
    else:
        side = "beyond" if near.at_mm - near.u_mm > bounds.blind_far_mm else "not clear of"
        yield (
            f"the zone begins at {near}, {side} {bounds.blind_far_mm:.1f} mm, up to where the blind zone of a sound "
            "unit may reach as it is seen here"
        )


def _of_far(far: Edge | None, bounds: Bounds) -> Iterator[str]:
    if far is None:
        yield f"the target is detected up to the last position, {bounds.last_mm:.1f} mm"
        return
    nearest_mm, farthest_mm = bounds.range_near_mm, bounds.range_far_mm
    place = "before" if far.at_mm + far.u_mm < nearest_mm else "within or behind"
    yield (
        f"the zone ends at {far}, {place} {nearest_mm:.1f} to {farthest_mm:.1f} mm, where the range of a sound unit "
        "ends as it is seen here"
    )
