"""Steps that a shop's own sensor type may have: power cycles, rests, an output that confirms; and their limits."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from hal.bench import Bench
from hal.simulated.bench import SimulatedBench
from hal.simulated.faults import BenchFault, UnitFault
from rig.events import ContactEnded, Stamped, StepStarted, SupplySwitched, UnitStarted, Verdict
from rig.planning.plan import AwaitOutput, MakeContact, PlaceTarget, PowerCycle, Rest
from rig.sequencer.findings import Reason
from sequences.steps import Sequence
from tests.rig.planned import Job
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through

FULL = SETTINGS["18 full"]
REFUSAL = "flashing 8 Hz"
COVER, CLEAR = {"do": "cover"}, {"do": "clear"}
CONTACT = {"do": "contact", "until": "accepted", "shortest_s": 1.0, "longest_s": 5.0}
FIRST, SECOND = CONTACT | {"rail": "L-"}, CONTACT | {"rail": "L+"}


def taught_by(*steps: dict[str, Any]) -> Job:
    """Full range, taught by other steps than those of the shipped type."""
    sequence = Sequence.model_validate({"mode": "full-range", "steps": steps})
    return Job(FULL.order, FULL.sensor_type.model_copy(update={"sequence": (sequence,)}), FULL.rig)


def test_a_power_cycle_a_rest_and_an_output_that_confirms() -> None:
    made = taught_by(
        {"do": "power-cycle", "off_s": 0.5},
        {"do": "rest", "for_s": 2.0},
        COVER,
        FIRST,
        CLEAR,
        SECOND,
        {"do": "expect", "output": "off", "within_s": 2.0},
    )
    shift = work_through(made)
    assert shift.finding.verdict is Verdict.GOOD, shift.finding.words
    assert [one.on for one in shift.noted(SupplySwitched)] == [True, False, True]
    kinds = [type(step) for step in shift.plan.steps]
    assert kinds == [PowerCycle, Rest, PlaceTarget, MakeContact, PlaceTarget, MakeContact, AwaitOutput]
    times_s = {one.event.number: one.at_s for one in shift.events if isinstance(one.event, StepStarted)}
    assert times_s[2] - times_s[1] > 0.5 + 0.3  # off, then available again
    assert times_s[3] - times_s[2] == pytest.approx(2.0)
    shift.assert_safe()


def test_an_output_that_does_not_confirm_leaves_the_unit_undecided() -> None:
    made = taught_by(COVER, FIRST, CLEAR, SECOND, {"do": "expect", "output": "on", "within_s": 2.0})
    shift = work_through(made)
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.OUTPUT_STUCK)
    assert shift.finding.words == ("output did not go on within 2 s: unit, output wire or load at fault")


def test_a_led_that_has_proven_nothing_is_no_witness() -> None:
    timed = {"do": "contact", "for_s": 1.5, "shortest_s": 1.0, "longest_s": 5.0}
    off = {"do": "expect", "output": "off", "within_s": 2.0}
    made = taught_by(COVER, timed | {"rail": "L-"}, off, CLEAR, timed | {"rail": "L+"}, off)
    assert work_through(made).finding.verdict is Verdict.GOOD
    # Dark in clear beam and with a target: of a LED that works this would say that nothing is detected.
    shift = work_through(made, (UnitFault(kind="led-dark"),), (BenchFault(kind="output-open"),))
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.OUTPUT_OPEN)


def test_a_power_cycle_starts_the_time_out_between_two_contacts_anew() -> None:
    pause = {"do": "rest", "for_s": 10.0}
    first_again = (COVER, FIRST, CLEAR, SECOND)
    cycled = taught_by(COVER, FIRST, pause, {"do": "power-cycle", "off_s": 0.5}, pause, *first_again)
    uncycled = taught_by(COVER, FIRST, pause, pause, *first_again)
    for made, reason in ((cycled, Reason.PROVEN), (uncycled, Reason.TOO_SLOW)):
        shift = work_through(made, shift=Shift(made, replace(made.plan, teach_timeout_s=20.0)))
        assert shift.finding.reason is reason, shift.finding.words


def shift_with(made: Job, **change: Any) -> Shift:
    """A shift whose plan has all its contacts changed."""
    plan = made.plan
    steps = tuple(replace(one, **change) if isinstance(one, MakeContact) else one for one in plan.steps)
    return Shift(made, replace(plan, steps=steps))


def test_a_contact_shorter_than_the_type_takes_is_no_contact() -> None:
    made = SETTINGS["12 point"]
    shift = work_through(made, shift=shift_with(made, for_s=0.3, shortest_s=0.35))
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.CONTACT_LENGTH)
    assert shift.finding.words == "contact took 0.30 s instead of 0.35 to 0.5 s: check the teach relays"
    assert len(shift.contacts) == 1
    shift.assert_safe()


def test_a_contact_beyond_its_longest_time_is_opened_by_the_interlock() -> None:
    made = SETTINGS["12 point"]
    shift = work_through(made, shift=shift_with(made, for_s=0.6, longest_s=0.5))
    assert shift.order.trip is not None
    assert shift.order.trip.kind == "contact-too-long"
    closed_ns, *_, opened_ns = (one.at_ns for one in shift.record.relays if one.relay == "A.teach_contact")
    assert (opened_ns - closed_ns) / 1e9 <= 0.5
    shift.assert_safe()


@pytest.mark.parametrize("setting", SETTINGS)
def test_every_contact_keeps_to_the_plan(setting: str) -> None:
    shift = work_through(SETTINGS[setting])
    planned = [step for step in shift.plan.steps if isinstance(step, MakeContact) for _ in range(step.times)]
    ended = shift.noted(ContactEnded)
    assert [one.rail for one in ended] == [step.rail for step in planned]
    assert [one.rail for one in shift.contacts] == [step.rail for step in planned]
    for step, one, really in zip(planned, ended, shift.contacts, strict=True):
        assert step.shortest_s <= one.length_s <= step.longest_s
        assert one.length_s == pytest.approx(really.length_s, abs=0.004)
        if step.for_s is not None:
            assert one.length_s == pytest.approx(step.for_s, abs=0.006)


def heal_after_a_refusal(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
    unit, event = simulated.world.nests["A"].unit, stamped.event
    if unit is not None and isinstance(event, UnitStarted):
        unit.refuses = True
    elif unit is not None and REFUSAL in (getattr(event, "answer", ""), getattr(event, "seen", "")):
        unit.refuses = False


@pytest.mark.parametrize("setting", ["18 full", "18 point", "30 window", "12 point"])
def test_a_refused_sequence_is_tried_once_more(setting: str) -> None:
    shift = work_through(SETTINGS[setting], look=heal_after_a_refusal)
    assert shift.finding.verdict is Verdict.GOOD, shift.finding.words
    numbers = [one.number for one in shift.noted(StepStarted)]
    assert numbers.count(1) == 2


def test_a_refused_sequence_is_not_tried_again_where_the_type_does_not_allow_it() -> None:
    shift = work_through(FULL, shift=Shift(FULL, replace(FULL.plan, retries=0)), look=heal_after_a_refusal)
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.BAD, Reason.TEACH_REFUSED)
    assert len(shift.noted(ContactEnded)) == 1


def test_another_answer_than_the_one_that_was_waited_for_is_undecided() -> None:
    made = SETTINGS["12 point"]
    plan = made.plan
    fewer = tuple(
        replace(one, times=4) if isinstance(one, MakeContact) and one.times == 6 else one
        for one in plan.steps
    )
    shift = work_through(made, shift=Shift(made, replace(plan, steps=fewer)))
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.ANSWER_FOREIGN)
    assert "LED showed 4 blinks instead of 6 blinks: another sensor type in the nest" in shift.finding.words


def test_a_unit_that_is_taught_too_late_after_power_up_is_not_taught_at_all() -> None:
    plan = replace(FULL.plan, teach_window_s=8.0)
    shift = work_through(
        FULL, shift=Shift(FULL, plan), bench=(BenchFault(kind="person-silent", from_unit=2),)
    )
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.TOO_SLOW)
    assert "from power-up to the end of this contact, the type waits 8 s at most" in shift.finding.words
