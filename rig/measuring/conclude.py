"""From what was judged of a measured unit to its finding: a verdict, a reason, and words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rig.deciding.requirement import Figure
from rig.deciding.rule import Judged, unit_verdict, worst_of
from rig.edges.edge import Edge
from rig.events import Verdict
from rig.measuring.trouble import NotMeasured, Trouble
from rig.sequencer.findings import Finding, Reason, good, undecided
from wiring.saying import say

_TROUBLES: Mapping[Trouble, Reason] = {
    Trouble.TARGET_LEFT: Reason.TARGET_LEFT,
    Trouble.NOT_DETECTED: Reason.NOT_DETECTED,
    Trouble.OUTPUT_CHATTERS: Reason.OUTPUT_CHATTERS,
    Trouble.OUTPUT_UNCLEAR: Reason.OUTPUT_UNCLEAR,
    Trouble.CHANGES_ITS_MIND: Reason.CHANGES_ITS_MIND,
    Trouble.BEYOND_REACH: Reason.BEYOND_REACH,
    Trouble.TOO_FAST: Reason.SLIDES_FAILED,
    Trouble.EDGE_MISSED: Reason.SLIDES_FAILED,
    Trouble.SLIDES_DISAGREE: Reason.SLIDES_FAILED,
    Trouble.GAUGE_SILENT: Reason.GAUGE_FAILED,
    Trouble.GAUGE_STUCK: Reason.GAUGE_FAILED,
}
_REASONS: Mapping[Figure, Reason] = {
    Figure.OPERATE: Reason.SET_POINT_OFF,
    Figure.RELEASE: Reason.WIDE_DIFFERENTIAL,
    Figure.TRAVEL: Reason.WIDE_DIFFERENTIAL,
    Figure.REPEAT: Reason.REPEAT_ACCURACY,
    Figure.RESPONSE_ON: Reason.RESPONSE_TIME,
    Figure.RESPONSE_OFF: Reason.RESPONSE_TIME,
    Figure.CURRENT: Reason.OVER_CURRENT,
    Figure.AVAILABILITY: Reason.AVAILABILITY,
}


def trouble_finding(failed: NotMeasured) -> Finding:
    """What an edge that cannot be measured makes of a unit: a person has to look."""
    return undecided(
        _TROUBLES[failed.trouble], say("{words}. {check}", words=failed.words, check=failed.check)
    )


def finding_of(judged: Sequence[Judged], read: Finding | None) -> Finding:
    """The verdict on a unit: the worst of what was judged, and of what was read or stood in the way."""
    worst = worst_of([one for one in judged if one.measured is not None])
    verdict = unit_verdict([one.requirement for one in judged], judged)
    if worst is not None and worst.verdict is Verdict.BAD:
        return Finding(
            Verdict.BAD,
            _reason(worst),
            say("{name}: {words}", name=worst.requirement.name, words=worst.words),
        )
    if read is not None:
        return read
    if verdict is Verdict.GOOD:
        return good(say("{count} requirements met", count=len(judged)))
    open_ = worst_of(judged)
    assert open_ is not None, "a unit of which nothing is required has no measurement"
    reason = _reason(open_) if open_.measured is None else Reason.NEAR_TOLERANCE
    return undecided(reason, say("{name}: {words}", name=open_.requirement.name, words=open_.words))


def _reason(one: Judged) -> Reason:
    if one.requirement.edge is Edge.BLIND or (
        one.requirement.figure is Figure.OPERATE and one.requirement.high is None
    ):
        return Reason.WRONG_ZONE
    return _REASONS[one.requirement.figure]
