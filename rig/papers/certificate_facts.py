"""What a certificate says of one unit, taken from the record of one attempt alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rig.edges.edge import Edge
from rig.events import EdgeMeasured, FigureMeasured, Purpose, RequirementJudged, UnitJudged, Verdict
from rig.events.unit import DEVIATION
from rig.papers.setting_facts import SettingFacts, setting_facts
from rig.planning.plan import Plan
from rig.planning.planned import EDGE_NAMES, POINT_NAMES
from rig.recount.attempt import Attempt, NotRebuilt
from rig.recount.recount import Recount
from rig.recount.row import Part, Row
from rig.recount.rows import rows_of
from rig.recount.why import why
from rig.sequencer.findings import Finding, Reason
from rig.summary import CheckSummary, Summary, UnitSummary
from sequences.words import Rule, SetPoint


class NoCertificate(ValueError):
    """This unit gets no certificate; its text says why."""


@dataclass(frozen=True, slots=True)
class EdgeFacts:
    """A measured edge, in mm on the bench, with what it is held against; None: no such limit.

    `guard_mm` is what the rule leaves free inside each limit of the operate point; None where the risk sets it.
    """

    name: str
    set_point_mm: float | None
    operate_mm: float
    operate_u_mm: float
    release_mm: float
    release_u_mm: float
    low_mm: float | None
    high_mm: float | None
    release_low_mm: float | None
    release_high_mm: float | None
    guard_mm: float | None


@dataclass(frozen=True, slots=True)
class CertificateFacts:
    """All that stands on the certificate of one unit.

    Attributes:
        done: what was done with it, and `person` by whom; empty where nobody had signed in.
        contacts: each contact of the teach wire, its rail and length in seconds.
        readings: what was read of it, and what it had to be; of a measured unit what is not among the figures.
        checks: the readings at check positions, for the chart.
        deviations: of the operate points from their set points, at the machine.
        requirements: what was held against its limits.
        not_told: figures that this bench cannot tell.
        largest_risk: the largest chance that the verdict on one requirement is wrong; None where none is known.
        why: why it is this verdict and no other.
        agrees: whether the record leads to the verdict that it holds, worked out again; `departures` say where not.
        seal: seal of the record; empty where the store keeps none.
        later: what was done with the unit since.

    """

    serial: str
    verdict: Verdict
    reason: str
    words: str
    simulated: bool
    purpose: Purpose
    done: str
    person: str
    began_utc: str
    judged_utc: str
    nest: str
    setting: SettingFacts
    contacts: tuple[tuple[str, float], ...]
    readings: tuple[Row, ...]
    checks: tuple[CheckSummary, ...]
    edges: tuple[EdgeFacts, ...]
    deviations: tuple[FigureMeasured, ...]
    requirements: tuple[RequirementJudged, ...]
    not_told: tuple[str, ...]
    largest_risk: float | None
    why: tuple[tuple[str, str], ...]
    agrees: bool
    departures: tuple[str, ...]
    software: str
    run: str
    entries: tuple[int, int]
    seal: str
    later: tuple[str, ...]

    @property
    def certifies(self) -> bool:
        """Whether it may be called a certificate: a good unit, by a record that leads to that."""
        return self.verdict is Verdict.GOOD and self.agrees


_DONE = {
    Purpose.SET: "taught through its teach wire, then proved",
    Purpose.VERIFY: "proved as it came, without teaching it",
}


def certificate_of(
    attempt: Attempt, again: Recount, *, person: str = "", seal: str = "", later: Sequence[str] = ()
) -> CertificateFacts:
    """What a certificate says of an attempt, worked out `again`; raises NoCertificate."""
    judged = attempt.judged
    if attempt.started is None:
        raise NoCertificate("the record does not hold what it was worked on for")
    if attempt.is_received:
        raise NoCertificate(f"it was tested as a unit of a lot: teachrig lot papers {attempt.begin.order}")
    if attempt.started.purpose not in _DONE:
        raise NoCertificate(attempt.started.purpose.why_no_paper)
    if judged is None:
        raise NoCertificate("it has no verdict, its last run was not finished: set it again")
    try:
        facts = _facts(attempt, judged, again)
    except NotRebuilt as gap:
        raise NoCertificate(str(gap)) from None
    return replace(facts, person=person, seal=seal, later=tuple(later))


def _facts(attempt: Attempt, judged: UnitJudged, again: Recount) -> CertificateFacts:
    assert attempt.started is not None, "checked before"
    (summed,) = Summary.of(attempt.account).units.values()
    setting, plan = setting_facts(attempt.planned), attempt.planned.plan
    known = [one.risk for one in summed.requirements if one.risk is not None]
    return CertificateFacts(
        serial=attempt.begin.serial,
        verdict=judged.verdict,
        reason=judged.reason,
        words=judged.words,
        simulated=attempt.started.simulated,
        purpose=attempt.started.purpose,
        done=_DONE[attempt.started.purpose],
        person="",
        began_utc=attempt.begin.utc,
        judged_utc=attempt.account[-1].utc,
        nest=attempt.nest,
        setting=setting,
        contacts=tuple((one.rail, one.length_s) for one in summed.contacts),
        readings=tuple(row for row in rows_of(attempt) if _tells_a_reading(row)),
        checks=tuple(summed.checks),
        edges=tuple(_edges(summed, setting, plan)),
        deviations=tuple(one for one in summed.figures if one.name.startswith(DEVIATION)),
        requirements=tuple(summed.requirements),
        not_told=tuple(one.name for one in summed.figures if one.value is None),
        largest_risk=max(known, default=None),
        why=_why(attempt, judged),
        agrees=again.agrees,
        departures=again.departures or _other_verdict(again),
        software=attempt.started.software,
        run=attempt.run,
        entries=(attempt.begin.number, attempt.account[-1].number),
        seal="",
        later=(),
    )


def _why(attempt: Attempt, judged: UnitJudged) -> tuple[tuple[str, str], ...]:
    """Why it is this verdict; nothing for a reason that this version does not know."""
    if judged.reason not in list(Reason):
        return ()
    return why(attempt, Finding(judged.verdict, Reason(judged.reason), judged.words))


def _tells_a_reading(row: Row) -> bool:
    return row.part in (Part.INSPECTION, Part.PROOF) and bool(row.read)


def _other_verdict(again: Recount) -> tuple[str, ...]:
    if again.agrees or again.worked_out is None:
        return ()
    return (f"worked out again it is {again.worked_out.verdict}: {again.worked_out.words}",)


def _edges(unit: UnitSummary, setting: SettingFacts, plan: Plan) -> Iterator[EdgeFacts]:
    for edge in unit.edges.values():
        if edge.found is not None:
            yield _edge(unit, edge.found, setting, plan)


def _edge(unit: UnitSummary, found: EdgeMeasured, setting: SettingFacts, plan: Plan) -> EdgeFacts:
    operate, release = (
        unit.requirement(f"{figure}, {found.edge}") for figure in ("operate point", "release point")
    )
    guard_mm = {Rule.SIMPLE: 0.0, Rule.GUARDED: found.operate_u_mm}.get(plan.rule)
    return EdgeFacts(
        name=EDGE_NAMES[Edge(found.edge)],
        set_point_mm=_set_point_mm(found, setting),
        operate_mm=found.operate_mm,
        operate_u_mm=found.operate_u_mm,
        release_mm=found.release_mm,
        release_u_mm=found.release_u_mm,
        low_mm=None if operate is None else operate.low,
        high_mm=None if operate is None else operate.high,
        release_low_mm=None if release is None else release.low,
        release_high_mm=None if release is None else release.high,
        guard_mm=guard_mm,
    )


def _set_point_mm(found: EdgeMeasured, setting: SettingFacts) -> float | None:
    """The set point on the bench that an edge belongs to."""
    of = {
        Edge.OUTER: (POINT_NAMES[SetPoint.ONLY], POINT_NAMES[SetPoint.FAR]),
        Edge.INNER: (POINT_NAMES[SetPoint.NEAR],),
    }.get(Edge(found.edge), ())
    return next((one.bench_mm for one in setting.points if one.name in of), None)
