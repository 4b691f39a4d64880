"""The rule in words, and why a unit got its verdict and not one of the others."""

from __future__ import annotations

from collections.abc import Mapping

from rig.events import CheckDone, RequirementJudged, Verdict
from rig.planning.plan import Plan
from rig.recount.attempt import Attempt
from rig.sequencer.findings import Finding, Reason
from sequences.words import Rule
from wiring.saying import say
from wiring.terms import Verification

_INCOMPLETE = "the work was ended before all was read, through no fault of the unit that is known"
_OTHERS = "the harness, the load, the inputs or the load relay could show the same"
_BEHIND_GUARD = (
    "it lies beyond its limit by more than the guard, where no unit that keeps its limits would answer so"
)
_DRIVE = "the drive of the target is at fault, or what moves it"

# Why what was found leaves a unit undecided, and does not condemn it.
_NOT_BAD: Mapping[Reason, str] = {
    Reason.NO_CURRENT: "a plug that is not seated shows the same as a dead unit",
    Reason.HARNESS_SWAPPED: "the harness is at fault, not the unit",
    Reason.SUPPLY_LOW: "the bench supply may be at fault",
    Reason.OUTPUT_OPEN: "a wire open in the harness shows the same",
    Reason.OUTPUT_STUCK: _OTHERS,
    Reason.OUTPUT_UNCLEAR: _OTHERS,
    Reason.OUTPUT_UNSTEADY: "it was right when it was read once more: somebody may have passed by",
    Reason.LED_SILENT: "LED, pick-up, teach wire or the person may be at fault as well",
    Reason.LED_ROOM_LIGHT: "the pick-up sees the room, so nothing is known of the unit's LED",
    Reason.ANSWER_FOREIGN: "a sound unit of another sensor type answers like this",
    Reason.CONTACT_LENGTH: "the bench made the contact, so the unit is not to blame",
    Reason.TOO_SLOW: "the bench or the person was too slow, not the unit",
    Reason.SET_POINT_MOVED: "a target that has slipped shows the same",
    Reason.NEAR_TOLERANCE: "what was read lies within the guard of a limit, and a unit that keeps it may show that",
    Reason.NOT_DETECTED: "something else in the beam, or a target that does not face the unit, shows the same",
    Reason.TARGET_LEFT: "something else in the beam shows the same",
    Reason.OUTPUT_CHATTERS: "a loose plug, vibration or draught shows the same",
    Reason.CHANGES_ITS_MIND: "draught, warming up or a second object shows the same",
    Reason.BEYOND_REACH: "what lies beyond the way of the target was not seen",
    Reason.DRIVE_STALLED: _DRIVE,
    Reason.DRIVE_LOST_STEPS: _DRIVE,
    Reason.DRIVE_LATE: _DRIVE,
    Reason.NO_ANSWER: _INCOMPLETE,
    Reason.BENCH_TRIPPED: _INCOMPLETE,
    Reason.INTERRUPTED: _INCOMPLETE,
    Reason.NOT_TESTED: "what was not tested condemns nobody",
}
# Why it does condemn the unit, and not only raise a doubt.
_NOT_UNDECIDED: Mapping[Reason, str] = {
    Reason.OVER_CURRENT: "the load of the output explains only a part of that current; the rest flows in the unit",
    Reason.OUTPUT_TYPE: "wire, load and inputs were tried without supply and follow, so it is the unit's own output",
    Reason.OUTPUT_INVERSE: "wire, load and inputs were tried without supply and follow, so it is the unit's own output",
    Reason.OUTPUT_UNSTEADY: "it was unsteady at a second position too, outside its limit by the guard",
    Reason.NOT_DETECTED: "its own LED, which has answered before, does not change between target and clear beam either",
    Reason.TEACH_REFUSED: "its own LED shows the refusal",
    Reason.SET_POINT_OFF: _BEHIND_GUARD,
    Reason.WIDE_DIFFERENTIAL: _BEHIND_GUARD,
    Reason.WRONG_ZONE: _BEHIND_GUARD,
}


def rule_words(plan: Plan) -> tuple[str, ...]:
    """By what the plan decides, one sentence after the other."""
    proof = _positions(plan) if plan.method is Verification.POSITIONS else _values(plan)
    return (
        say("{words}: {proof}", words=plan.decision.words, proof=proof),
        "What a fault of bench, harness or person would show as well makes a unit undecided, not bad.",
        "What was not read proves nothing: a unit is good only if all that the plan asks for was read and right.",
    )


def _positions(plan: Plan) -> str:
    if plan.rule is Rule.SIMPLE:
        return "the output is read at the limits of the tolerance; a wrong answer is read again there."
    return (
        "the output is read inside the tolerance by the guard, so a right answer there keeps the tolerance. "
        "A wrong answer is read again outside the tolerance by the guard: wrong there too, the unit is bad; right "
        "there, the readings cannot tell, and it is undecided."
    )


def _values(plan: Plan) -> str:
    if plan.rule is Rule.SIMPLE:
        return "a value inside its limits is good, one outside them bad."
    guard = "the guard w = U" if plan.rule is Rule.GUARDED else "the guard that keeps this risk"
    return say(
        "a value is good that lies inside its limits by {guard}, bad that lies outside by it, "
        "undecided between. Measuring goes on while that can change the verdict. The worst "
        "verdict counts.",
        guard=guard,
    )


def why(attempt: Attempt, finding: Finding) -> tuple[tuple[str, str], ...]:
    """The verdict and why it is none of the others: pairs of a label and words."""
    match finding.verdict:
        case Verdict.GOOD:
            return (
                (say("why {verdict}", verdict=finding.verdict), say("{words}.", words=finding.words)),
                ("why not bad", "nothing that was read is beyond a limit."),
                (
                    "why not undecided",
                    say("{attempt}, and nothing hints at a fault of the bench.", attempt=_all_read(attempt)),
                ),
            )
        case Verdict.BAD:
            not_undecided = _NOT_UNDECIDED.get(finding.reason, _BEHIND_GUARD)
            return (
                (say("why {verdict}", verdict=finding.verdict), say("{words}.", words=finding.words)),
                ("why not good", "one thing that is surely wrong is enough."),
                ("why not undecided", say("{not_undecided}.", not_undecided=not_undecided)),
            )
        case _:
            not_bad = _NOT_BAD.get(finding.reason, "what was not measured condemns nobody")
            return (
                (say("why {verdict}", verdict=finding.verdict), say("{words}.", words=finding.words)),
                ("why not good", "not all that the plan asks for was read and right."),
                ("why not bad", say("{not_bad}.", not_bad=not_bad)),
            )


def _all_read(attempt: Attempt) -> str:
    plan = attempt.planned.plan
    if plan.method is Verification.POSITIONS:
        done = {one.event.requirement for one in attempt.account if isinstance(one.event, CheckDone)}
        return say(
            "all {count} check positions of the plan were read, kept still and were right", count=len(done)
        )
    judged = [one.event for one in attempt.account if isinstance(one.event, RequirementJudged)]
    return say(
        "all {count} requirements of the plan were held against what was measured or read", count=len(judged)
    )
