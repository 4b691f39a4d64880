"""Teaching: the steps of the sequence, every contact confirmed."""

from __future__ import annotations

import asyncio

from hal.led import LedPattern
from hal.nest import ContactRecord
from rig.events import AnswerSeen, StepStarted
from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    PlannedStep,
    PowerCycle,
    Rest,
)
from rig.sequencer.findings import Finding, Reason, bad, undecided
from rig.sequencer.output_type import is_on, telling_load
from rig.sequencer.work import Work, pattern_words, shows

# Units show a refusal for a second or two (common practice, no source).
_REFUSAL_ENDS_S = 5.0


async def teach(work: Work) -> Finding | None:
    """Run the sequence, again after a refusal if the type allows; None when every step was confirmed."""
    for _ in range(work.plan.retries):
        finding = await _run_sequence(work)
        if finding is None or finding.reason is not Reason.TEACH_REFUSED:
            return finding
        # What is left of this refusal would be taken for the next.
        await work.led_at_rest(_REFUSAL_ENDS_S)
    return await _run_sequence(work)


async def _run_sequence(work: Work) -> Finding | None:
    for number, step in enumerate(work.plan.steps, start=1):
        work.chronicle.note(StepStarted(number, step.text))
        finding = await _run_step(work, step)
        if finding is not None:
            return finding
    return None


async def _run_step(work: Work, step: PlannedStep) -> Finding | None:
    match step:
        case PlaceTarget():
            await _place(work, step)
        case MakeContact():
            return await _make_contacts(work, step)
        case Rest():
            await work.bench.waits.sleep(step.for_s)
        case PowerCycle():
            await work.power_off()
            await work.bench.waits.sleep(step.off_s)
            await work.power_on()
        case AwaitAnswer():
            return await _await_answer(work, step)
        case _:
            return await _await_output(work, step)
    return None


async def _place(work: Work, step: PlaceTarget) -> None:
    if step.position_mm is None:
        await work.clear_beam()
    elif step.where == "cover":
        await work.cover_face()
    else:
        await work.place(step.where, step.position_mm)
    await work.bench.waits.sleep(work.plan.settle_s)


async def _make_contacts(work: Work, step: MakeContact) -> Finding | None:
    loop = asyncio.get_running_loop()
    before: ContactRecord | None = None
    for _ in range(step.times):
        if before is not None:
            await work.bench.waits.sleep(max(0.0, before.opened_at_s + step.gap_s - loop.time()))
        finding = _judge_moment(work, step)
        if finding is not None:
            return finding
        record, seen = await work.contact(step)
        if step.until is not None and (seen is None or not shows(seen, step.until)):
            return _judge_answer(work, step.until, seen)
        finding = _judge_times(step, before, record)
        if finding is not None:
            return finding
        before = record
        # In the pause, where there is time for it: a slow disk must not make the pause longer.
        await work.chronicle.durable()
    return None


def _judge_moment(work: Work, step: MakeContact) -> Finding | None:
    """Whether a contact that begins now would end in time; a unit waits for people only so long."""
    end_s = asyncio.get_running_loop().time() + step.longest_s
    waits_s = {work.powered_at_s: work.plan.teach_window_s}
    if work.contact_at_s is not None:
        waits_s[work.contact_at_s] = work.plan.teach_timeout_s
    for since_s, limit_s in waits_s.items():
        if end_s - since_s > limit_s:
            what = "power-up" if since_s == work.powered_at_s else "the contact before"
            return undecided(
                Reason.TOO_SLOW,
                f"{end_s - since_s:.0f} s from {what} to the end of this contact, the type waits "
                f"{limit_s:g} s at most: set it again without a pause",
            )
    return None


def _judge_times(step: MakeContact, before: ContactRecord | None, record: ContactRecord) -> Finding | None:
    if not step.shortest_s <= record.length_s <= step.longest_s:
        return undecided(
            Reason.CONTACT_LENGTH,
            f"contact took {record.length_s:.2f} s instead of {step.shortest_s:g} to {step.longest_s:g} s: "
            "check the teach relays",
        )
    pause_s = 0.0 if before is None else record.closed_at_s - before.opened_at_s
    if step.longest_gap_s is not None and pause_s > step.longest_gap_s:
        return undecided(
            Reason.CONTACT_LENGTH,
            f"pause between two contacts took {pause_s:.2f} s, the type stops counting after "
            f"{step.longest_gap_s:g} s: computer or its disk too slow",
        )
    return None


async def _await_answer(work: Work, step: AwaitAnswer) -> Finding | None:
    seen = await work.await_led(step.answer, step.within_s)
    accepted = seen is not None and shows(seen, step.answer)
    shown = seen or work.led_sign or work.led_now()
    work.chronicle.note(AnswerSeen(step.answer.words, pattern_words(shown), accepted))
    work.led_proven = work.led_proven or accepted
    return None if accepted else _judge_answer(work, step.answer, seen)


async def _await_output(work: Work, step: AwaitOutput) -> Finding | None:
    loop = asyncio.get_running_loop()
    output_type = work.plan.inspection.output_type
    await work.nest.pull_output(telling_load(output_type))
    end_s = loop.time() + step.within_s
    while is_on(output_type, await work.nest.settled_output(step.within_s)) is not step.on:
        if loop.time() >= end_s:
            return undecided(
                Reason.OUTPUT_STUCK,
                f"output did not go {'on' if step.on else 'off'} within {step.within_s:g} s: "
                "unit, output wire or load at fault",
            )
        await work.bench.waits.sleep(0.02)
    return None


def _judge_answer(work: Work, wanted: Answer, seen: LedPattern | None) -> Finding:
    if seen is not None:
        return bad(Reason.TEACH_REFUSED, f"unit refused the step: LED {pattern_words(seen)}")
    if work.nest.led is None:
        return undecided(
            Reason.LED_SILENT, f"nobody saw the LED show {wanted.words}: unit, teach wire or person too slow"
        )
    shown = work.led_now()
    if shown.noisy:
        return undecided(
            Reason.LED_ROOM_LIGHT, "LED pick-up sees only the flicker of the room light: put it over the LED"
        )
    if work.led_sign is not None:
        return undecided(
            Reason.ANSWER_FOREIGN,
            f"LED showed {pattern_words(work.led_sign)} instead of {wanted.words}: another sensor type in the nest, "
            "or an output that does not keep still",
        )
    return undecided(
        Reason.LED_SILENT,
        f"LED stayed {shown.kind} instead of {wanted.words}: LED, pick-up or teach wire at fault, or another "
        "sensor type in the nest",
    )
