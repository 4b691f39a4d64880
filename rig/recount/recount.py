"""Works the verdict on a unit out from its record, by the stages that came to it, and compares."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Coroutine, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rig.events import Purpose, Stamped, TrialBegun, UnitJudged
from rig.planning.plan import Plan
from rig.recount.attempt import Attempt, NotRebuilt
from rig.recount.recorded import CutShort, Departed, RecordedWork, RecordEnds
from rig.sequencer.checking import check
from rig.sequencer.findings import Finding
from rig.sequencer.inspection import inspect
from rig.sequencer.order_run import cut_short
from rig.sequencer.teaching import teach
from rig.sequencer.unit_run import find
from wiring.nest import NestProfile
from wiring.profile import RigProfile
from wiring.terms import Verification

_Stage = Callable[[RecordedWork], Awaitable[Finding | None]]


@dataclass(frozen=True)
class Recount:
    """What the record says of a unit, and what comes out when it is worked out again.

    Attributes:
        recorded: the verdict of the record; None if it has none.
        worked_out: the verdict from the recorded readings; None where they do not lead to one.
        departures: where the record and this program part; any of them, or another verdict, means that the record
            was altered, or was written by a program that decides otherwise.

    """

    recorded: UnitJudged | None
    worked_out: Finding | None
    departures: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether the record and this program say the same, verdict or none."""
        if self.recorded is None or self.worked_out is None:
            return not self.departures and self.recorded is None
        worked_out = self.worked_out
        same = UnitJudged(worked_out.verdict, str(worked_out.reason), worked_out.words) == self.recorded
        return same and not self.departures


def recount(attempt: Attempt, plan: Plan | None = None) -> Recount:
    """Work one attempt out again; by another plan than that of its recorded files only if one is given."""
    recorded = attempt.judged
    try:
        plan, rig, stages = _what_was_done(attempt, plan)
        # The unit in its nest is not among what a stage asks for.
        work = RecordedWork(plan, rig, _nest(rig, attempt.nest), attempt.evidence[1:])
    except NotRebuilt as gap:
        return Recount(recorded, None, (str(gap),))
    work.departures += _gaps(attempt.account)
    try:
        worked_out = _at_once(find(work, stages))
    except RecordEnds:
        return Recount(recorded, None, (*work.departures, *_ends_early(recorded)))
    except CutShort as end:
        worked_out = cut_short(end.tripped)
    except Departed as parting:
        return Recount(recorded, None, (*work.departures, str(parting)))
    return Recount(recorded, worked_out, (*work.departures, *_goes_on(work.left)))


def _what_was_done(attempt: Attempt, plan: Plan | None) -> tuple[Plan, RigProfile, tuple[_Stage, ...]]:
    if attempt.is_survey:
        return _surveyed(attempt)
    return _received(attempt) if attempt.is_received else _ordered(attempt, plan)


def _received(attempt: Attempt) -> tuple[Plan, RigProfile, tuple[_Stage, ...]]:
    from rig.recount.received import received_made  # only here: few records are of lots

    made = received_made(attempt)
    return made.planned.delivered, made.rig, (made.stage(),)


def _ordered(attempt: Attempt, plan: Plan | None) -> tuple[Plan, RigProfile, tuple[_Stage, ...]]:
    rig, plan = attempt.planned.case.rig, plan or attempt.planned.plan
    assert attempt.started is not None, "a plan was rebuilt"
    if attempt.started.purpose is Purpose.STUDY:
        return plan, rig, (_tried(rig),)
    taught = attempt.started.purpose is Purpose.SET
    return plan, rig, (inspect, teach, _proof(plan, rig)) if taught else (inspect, _proof(plan, rig))


def _surveyed(attempt: Attempt) -> tuple[Plan, RigProfile, tuple[_Stage, ...]]:
    # Only here: they need numpy, as below.
    from rig.measuring.port import Setup
    from rig.measuring.replay import RecordedPort
    from rig.recount.surveyed import survey_made
    from rig.survey.stage import Surveying

    made = survey_made(attempt)
    setup = Setup.of(made.rig)
    stages: Surveying[RecordedWork] = Surveying(
        made.sensor_type, made.bounds, made.rig.target, lambda work, _: RecordedPort(work, setup)
    )
    return made.plan, made.rig, (stages.inspect, stages.survey)


def _tried(rig: RigProfile) -> _Stage:
    # Only here: it needs numpy, as below.
    from rig.gauge.stage import Trying
    from rig.measuring.port import Setup
    from rig.measuring.replay import RecordedPort

    setup = Setup.of(rig)
    trying: Trying[RecordedWork] = Trying(
        lambda work, _: RecordedPort(work, setup), lambda work: work.answer(TrialBegun)
    )
    return trying.measure


def _proof(plan: Plan, rig: RigProfile) -> _Stage:
    if plan.method is Verification.POSITIONS:
        return check
    # Only here: it needs numpy, whose import takes longer than all the rest.
    from rig.measuring.replay import measured_again

    return lambda work: measured_again(work, rig)


def _nest(rig: RigProfile, name: str) -> NestProfile:
    for nest in rig.nest:
        if nest.name == name:
            return nest
    raise NotRebuilt(f"the recorded rig has no nest {name}")


def _at_once(work: Coroutine[object, None, Finding]) -> Finding:
    """Run what never waits, since all that it asks for is known."""
    try:
        work.send(None)
    except StopIteration as end:
        finding: Finding = end.value
        return finding
    raise AssertionError("a record has nothing to wait for")


def _gaps(events: Sequence[Stamped]) -> Iterator[str]:
    for before, after in pairwise(events):
        if after.number != before.number + 1:
            yield f"entries are missing between {before.number} and {after.number}"


def _ends_early(recorded: UnitJudged | None) -> tuple[str, ...]:
    return () if recorded is None else ("the verdict comes before all was read that it has to rest on",)


def _goes_on(left: Stamped | None) -> tuple[str, ...]:
    if left is None:
        return ()
    return (f"the record goes on with entry {left.number}, {left.event.kind}, behind what decides",)
