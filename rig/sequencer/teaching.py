"""Teaching: the steps of the sequence, every contact confirmed."""

from __future__ import annotations

from hal.led import LedPattern
from hal.nest import OutputLevel
from rig.events import AnswerSeen, ContactDue, StepStarted
from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    Plan,
    PlannedStep,
    PowerCycle,
    Rest,
)
from rig.sequencer.answers import confirmed, pattern_words, shows
from rig.sequencer.any_work import AnyWork, ContactMade
from rig.sequencer.findings import Finding, Reason, bad, undecided
from rig.sequencer.output_stage import LOOK_AT_THE_BEAM, target_leaves
from rig.sequencer.output_type import is_on
from wiring.saying import say

# Units show a refusal for a second or two (common practice, no source).
_REFUSAL_ENDS_S = 5.0


async def teach(work: AnyWork) -> Finding | None:
    """Run the sequence, again after a refusal if the type allows; None when every step was confirmed."""
    for _ in range(work.plan.retries):
        finding = await _run_sequence(work)
        if finding is None or finding.reason is not Reason.TEACH_REFUSED:
            return finding
        # What is left of this refusal would be taken for the next.
        await work.led_at_rest(_REFUSAL_ENDS_S)
    finding = await _run_sequence(work)
    refused = finding is not None and finding.reason is Reason.TEACH_REFUSED
    return (await _excused(work) if refused else None) or finding


async def _excused(work: AnyWork) -> Finding | None:
    """What else than the unit explains a refusal: a target that stays where the beam has to be clear."""
    if not any(isinstance(step, PlaceTarget) and step.position_mm is None for step in work.plan.steps):
        return None
    if await target_leaves(work):
        return None
    return undecided(
        Reason.TARGET_LEFT,
        say(
            "unit refused a step, and its output does not show that the target leaves the beam: "
            "{look_at_the_beam}, then set it again; if it refuses again, it is bad",
            look_at_the_beam=LOOK_AT_THE_BEAM,
        ),
    )


async def _run_sequence(work: AnyWork) -> Finding | None:
    for number, step in enumerate(work.plan.steps, start=1):
        work.note(StepStarted(number, step.text))
        finding = await _run_step(work, step)
        if finding is not None:
            return finding
    return None


async def _run_step(work: AnyWork, step: PlannedStep) -> Finding | None:
    match step:
        case PlaceTarget():
            await _place(work, step)
        case MakeContact():
            return await _make_contacts(work, step)
        case Rest():
            await work.rest(step.for_s)
        case PowerCycle():
            await work.power_off()
            await work.rest(step.off_s)
            await work.power_on()
        case AwaitAnswer():
            return await _await_answer(work, step)
        case _:
            return await _await_output(work, step)
    return None


async def _place(work: AnyWork, step: PlaceTarget) -> None:
    if step.position_mm is None:
        await work.clear_beam()
    elif step.where == "cover":
        await work.cover_face()
    else:
        await work.place(step.where, step.position_mm)
    await work.rest(work.plan.settle_s)


async def _make_contacts(work: AnyWork, step: MakeContact) -> Finding | None:
    for number in range(step.times):
        if number:
            # In the pause, where there is time for it: a slow disk must not make the pause longer.
            await work.durable()
            await work.pause(step.gap_s)
        due = work.contact_due()
        finding = _judge_moment(work.plan, step, due)
        if finding is not None:
            work.note(due)
            return finding
        made = await work.contact(step, due, after_pause=number > 0)
        if step.until is not None and not confirmed(step, made.seen):
            return _judge_answer(work, step.until, made.seen)
        finding = _judge_times(step, made)
        if finding is not None:
            return finding
    return None


def _judge_moment(plan: Plan, step: MakeContact, due: ContactDue) -> Finding | None:
    """Whether a contact that begins now would end in time; a unit waits for people only so long."""
    waits = [("power-up", due.since_power_s, plan.teach_window_s)]
    if due.since_contact_s is not None:
        waits.append(("the contact before", due.since_contact_s, plan.teach_timeout_s))
    for what, since_s, limit_s in waits:
        if since_s + step.longest_s > limit_s:
            return undecided(
                Reason.TOO_SLOW,
                say(
                    "{since_s:.0f} s from {what} to the end of this contact, the type waits {limit_s:g} s at "
                    "most: set it again without a pause",
                    since_s=since_s + step.longest_s,
                    what=what,
                    limit_s=limit_s,
                ),
            )
    return None


def _judge_times(step: MakeContact, made: ContactMade) -> Finding | None:
    if not step.shortest_s <= made.length_s <= step.longest_s:
        return undecided(
            Reason.CONTACT_LENGTH,
            say(
                "contact took {length_s:.2f} s instead of {shortest_s:g} to {longest_s:g} s: check the "
                "teach relays",
                length_s=made.length_s,
                shortest_s=step.shortest_s,
                longest_s=step.longest_s,
            ),
        )
    if step.longest_gap_s is not None and made.pause_s is not None and made.pause_s > step.longest_gap_s:
        return undecided(
            Reason.CONTACT_LENGTH,
            say(
                "pause between two contacts took {pause_s:.2f} s, the type stops counting after "
                "{longest_gap_s:g} s: computer or its disk too slow",
                pause_s=made.pause_s,
                longest_gap_s=step.longest_gap_s,
            ),
        )
    return None


async def _await_answer(work: AnyWork, step: AwaitAnswer) -> Finding | None:
    seen = await work.await_led(step.answer, step.within_s)
    accepted = seen is not None and shows(seen, step.answer)
    shown = seen or work.led_sign or work.led_now()
    work.note(AnswerSeen(step.answer.words, pattern_words(shown), accepted))
    work.led_proven = work.led_proven or accepted
    return None if accepted else _judge_answer(work, step.answer, seen)


async def _await_output(work: AnyWork, step: AwaitOutput) -> Finding | None:
    reading = await work.await_output(step.on, step.within_s)
    if is_on(work.plan.inspection.output_type, OutputLevel(reading.level)) is step.on:
        return None
    return undecided(
        Reason.OUTPUT_STUCK,
        say(
            "output did not go {what} within {within_s:g} s: unit, output wire or load at fault",
            what="on" if step.on else "off",
            within_s=step.within_s,
        ),
    )


def _judge_answer(work: AnyWork, wanted: Answer, seen: LedPattern | None) -> Finding:
    if seen is not None:
        return bad(Reason.TEACH_REFUSED, say("unit refused the step: LED {seen}", seen=pattern_words(seen)))
    if not work.led_fitted:
        return undecided(
            Reason.LED_SILENT,
            say("nobody saw the LED show {words}: unit, teach wire or person too slow", words=wanted.words),
        )
    shown = work.led_now()
    if shown.noisy:
        return undecided(
            Reason.LED_ROOM_LIGHT, "LED pick-up sees only the flicker of the room light: put it over the LED"
        )
    if work.led_sign is not None:
        return undecided(
            Reason.ANSWER_FOREIGN,
            say(
                "LED showed {led_sign} instead of {words}: another sensor type in the nest, or an output "
                "that does not keep still",
                led_sign=pattern_words(work.led_sign),
                words=wanted.words,
            ),
        )
    return undecided(
        Reason.LED_SILENT,
        say(
            "LED stayed {kind} instead of {words}: LED, pick-up or teach wire at fault, or another "
            "sensor type in the nest",
            kind=shown.kind,
            words=wanted.words,
        ),
    )
