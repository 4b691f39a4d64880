"""Teaching: the steps of the sequence, every contact confirmed."""

from __future__ import annotations

import asyncio

from hal.led import LedPattern
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
from rig.sequencer.work import Work, shows
from wiring.terms import LedKind


async def teach(work: Work) -> Finding | None:
    """Run the sequence, again after a refusal if the type allows; None when every step was confirmed."""
    for _ in range(work.plan.retries):
        finding = await _run_sequence(work)
        if finding is None or finding.reason is not Reason.TEACH_REFUSED:
            return finding
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
        case AwaitOutput():
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
    for count in range(step.times):
        record, seen = await work.contact(step)
        if step.until is not None and (seen is None or not shows(seen, step.until)):
            return _judge_answer(work, step.until, seen)
        if record.length_s > step.longest_s:
            return undecided(
                Reason.CONTACT_LENGTH, f"contact took {record.length_s:.2f} s, at most {step.longest_s:g} s"
            )
        if count + 1 < step.times:
            await work.bench.waits.sleep(max(0.0, record.opened_at_s + step.gap_s - loop.time()))
    return None


async def _await_answer(work: Work, step: AwaitAnswer) -> Finding | None:
    seen = await work.await_led(step.answer, step.within_s)
    accepted = seen is not None and shows(seen, step.answer)
    shown = seen if seen is not None else work.led_now()
    work.chronicle.note(AnswerSeen(step.answer.words, pattern_words(shown), accepted))
    work.led_proven = work.led_proven or accepted
    return None if accepted else _judge_answer(work, step.answer, seen)


async def _await_output(work: Work, step: AwaitOutput) -> Finding | None:
    loop = asyncio.get_running_loop()
    output_type = work.plan.inspection.output_type
    await work.nest.pull_output(telling_load(output_type))
    end_s = loop.time() + step.within_s
    while is_on(output_type, work.nest.output()) is not step.on:
        if loop.time() >= end_s:
            wanted = "on" if step.on else "off"
            return bad(Reason.ANSWER_FOREIGN, f"output did not go {wanted} within {step.within_s:g} s")
        await work.bench.waits.sleep(0.02)
    return None


def _judge_answer(work: Work, wanted: Answer, seen: LedPattern | None) -> Finding:
    if seen is not None:
        return bad(Reason.TEACH_REFUSED, f"unit refused the step: LED {pattern_words(seen)}")
    shown = work.led_now()
    if shown.noisy:
        return undecided(
            Reason.LED_ROOM_LIGHT, "LED pick-up sees only the flicker of the room light: put it over the LED"
        )
    if shown.kind in (LedKind.FLASHING, LedKind.BLINKS):
        return bad(
            Reason.ANSWER_FOREIGN,
            f"LED showed {pattern_words(shown)} instead of {wanted.words}: another sensor type in the nest?",
        )
    if work.nest.led is None:
        return undecided(Reason.LED_SILENT, f"nobody saw the LED show {wanted.words}")
    return undecided(
        Reason.LED_SILENT,
        f"LED stayed {shown.kind} instead of {wanted.words}: LED, pick-up or teach wire at fault",
    )


def pattern_words(pattern: LedPattern) -> str:
    """A pattern in the words of an answer."""
    return Answer("", pattern.kind, pattern.rate_hz, pattern.count).words
