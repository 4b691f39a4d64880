"""Every event as one line for the person."""

from __future__ import annotations

from rig.events import (
    AnswerSeen,
    BenchReset,
    BenchTripped,
    CheckDone,
    ComputerStrained,
    ContactEnded,
    DocumentMade,
    EdgeMeasured,
    EdgeNotMeasured,
    Event,
    StepStarted,
    SupplyMeasured,
    SupplySwitched,
    TargetMoved,
    UnitJudged,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.planning.plan import Answer, Plan, Requirement
from rig.screen.view.lines import Role
from rig.screen.view.steps import requirement_words, step_words
from rig.screen.view.wording import Words

_VERDICT = {Verdict.GOOD: Role.GOOD, Verdict.BAD: Role.BAD, Verdict.UNDECIDED: Role.WARN}


def told(event: Event, words: Words, plan: Plan) -> tuple[str, Role]:
    """The words of an event of a plan, and what they mean; no words for one that only programs read."""
    text = _words(event, words, plan)
    if isinstance(event, UnitJudged):
        return text, _VERDICT[event.verdict]
    if isinstance(event, BenchTripped):
        return text, Role.BAD
    wrong = (isinstance(event, CheckDone) and event.read_on is not event.expected_on) or (
        isinstance(event, AnswerSeen) and not event.accepted
    )
    return text, Role.WARN if wrong else Role.PLAIN


def _words(event: Event, words: Words, plan: Plan) -> str:
    match event:
        case UnitStarted(nest=nest):
            return words("told.started", nest=nest)
        case SupplySwitched(on=on):
            return words("told.supply", state=_on_off(on, words))
        case SupplyMeasured(current_a=current_a) if current_a is not None:
            return words("told.current", current=words.number(current_a * 1000, 0))
        case TargetMoved(position_mm=None):
            return words("told.clear")
        case TargetMoved(position_mm=position_mm):
            return words("told.target", at=words.mm(position_mm or 0.0))
        case StepStarted(number=number, text=text):
            known = 0 < number <= len(plan.steps)
            return words(
                "told.step", number=number, text=step_words(plan.steps[number - 1], words) if known else text
            )
        case ContactEnded(rail=rail, length_s=length_s, answer=answer):
            return words(
                "told.contact", rail=rail, length=words.number(length_s, 2), answer=_led(answer, words)
            )
        case AnswerSeen(expected=expected, seen=seen):
            return words("told.answer", expected=_led(expected, words), seen=_led(seen, words))
        case _:
            return _results(event, words, plan)


def _results(event: Event, words: Words, plan: Plan) -> str:
    match event:
        case CheckDone(requirement=requirement, position_mm=position_mm, read_on=read_on):
            at = words("check.nothing") if position_mm is None else words.mm(position_mm)
            named = _requirement(requirement, words, plan)
            return words("told.check", requirement=named, at=at, state=_on_off(read_on, words))
        case EdgeMeasured() as edge:
            operate, release = words.number(edge.operate_mm, 2), words.number(edge.release_mm, 2)
            u = words.number(edge.operate_u_mm, 2)
            return words("told.edge", edge=words.tell(edge.edge), operate=operate, u=u, release=release)
        case EdgeNotMeasured(words=why):
            return words("told.no-edge", why=words.tell(why))
        case BenchTripped(cause=cause, words=why):
            said = words.tell(why) if words.knows(why) else words.of("trip", cause)
            return words("told.tripped", why=said)
        case BenchReset():
            return words("told.reset")
        case ComputerStrained():
            return strained(event, words)
        case UnitJudged(verdict=verdict, reason=reason, words=why):
            said = words.tell(why) if words.knows(why) else words.of("reason", reason)
            return words("told.judged", verdict=words(f"verdict.{verdict}"), why=said)
        case UnitRemoved():
            return words("told.removed")
        case DocumentMade(document=document, where=where):
            return words("told.document", document=words.of("document", document), where=where)
        case _:
            return ""


def _led(text: str, words: Words) -> str:
    return words.tell(Answer.said_again(text))


def strained(event: ComputerStrained, words: Words) -> str:
    """What has become of the computer."""
    return words(f"strained.{event.strain}", value=words.number(abs(event.value), 0))


def _requirement(said: str, words: Words, plan: Plan) -> str:
    """What a check proves, in the words of the step; as it was recorded if another version did that."""
    known = next((one for one in Requirement if one == said), None)
    return words.tell(said) if known is None else requirement_words(known, plan.mode, words)


def _on_off(on: bool | None, words: Words) -> str:
    return words("state.unsteady") if on is None else words("state.on" if on else "state.off")
