"""What seldom happens: instruments that die, trips at odd moments, a hand in the beam, wires that come off and on."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hal.bench import Bench
from hal.errors import TripCause, TripKind
from hal.simulated.bench import SimulatedBench
from hal.simulated.faults import BenchFault, UnitFault
from rig.events import (
    Asked,
    BenchTripped,
    CheckDone,
    Event,
    OutputRead,
    Stamped,
    TargetMoved,
    UnitJudged,
    Verdict,
)
from rig.planning.plan import Requirement
from rig.sequencer.findings import Reason
from tests.rig.planned import STAGE, job, rig_with
from tests.rig.sequencer.floor import SETTINGS, Look, work_through
from wiring.terms import Rail

GOOD, BAD, UNDECIDED = Verdict.GOOD, Verdict.BAD, Verdict.UNDECIDED
POINT = SETTINGS["18 point"]


def once(fits: Callable[[Event], bool], do: Callable[[SimulatedBench, Bench], object]) -> Look:
    """Let something happen at the first event that fits."""
    waiting = [True]

    def look(stamped: Stamped, simulated: SimulatedBench, bench: Bench) -> None:
        if waiting and fits(stamped.event):
            waiting.clear()
            do(simulated, bench)

    return look


def kind(name: str) -> Callable[[Event], bool]:
    return lambda event: event.kind == name


def check_of(requirement: Requirement) -> Callable[[Event], bool]:
    return lambda event: isinstance(event, CheckDone) and event.requirement == requirement


# -- instruments ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("moment", ["unit-started", "supply-switched", "contact-ended", "check-done"])
@pytest.mark.parametrize("port", ["sim:supply", "sim:stage"])
def test_an_instrument_that_is_unplugged_trips_and_is_named(port: str, moment: str) -> None:
    shift = work_through(
        POINT, units=2, look=once(kind(moment), lambda simulated, _: simulated.wires[port].unplug())
    )
    trip = shift.order.trip
    assert trip is not None
    assert trip.kind is TripKind.INSTRUMENT_LOST
    assert f"port {port} is lost: unplugged" in trip.words
    assert "cable and port" in trip.check
    assert [finding.verdict for finding in shift.findings] == [UNDECIDED]
    assert shift.order.left == 1
    shift.assert_safe()


@pytest.mark.parametrize(
    ("port", "moment", "cause", "reason"),
    [
        ("sim:supply", "supply-switched", TripKind.INSTRUMENT_LOST, Reason.BENCH_TRIPPED),
        ("sim:stage", "step-started", TripKind.DRIVE_LATE, Reason.DRIVE_LATE),
    ],
)
def test_an_instrument_that_falls_silent_trips_and_is_named(
    port: str, moment: str, cause: TripKind, reason: Reason
) -> None:
    shift = work_through(
        POINT,
        units=2,
        look=once(kind(moment), lambda simulated, _: simulated.wires[port].set_receiver(lambda _: None)),
    )
    trip = shift.order.trip
    assert trip is not None
    assert trip.kind is cause
    assert port in trip.words
    assert [one.cause for one in shift.noted(BenchTripped)] == [str(cause)]
    assert [finding.reason for finding in shift.findings] == [reason]
    assert shift.condition.name == "TRIPPED"
    shift.assert_safe()


# -- trips at odd moments -------------------------------------------------------------------------------------

ASKED = TripCause(TripKind.ASKED, "stopped by SIGINT", "Start again when ready.")


def stop(_: SimulatedBench, bench: Bench) -> None:
    bench.interlock.trip(ASKED)


def test_a_stop_just_after_a_verdict_asks_for_nothing_any_more() -> None:
    shift = work_through(POINT, units=3, look=once(kind("unit-judged"), stop))
    assert [finding.verdict for finding in shift.findings] == [GOOD]
    assert shift.order.left == 2
    assert [one.request for one in shift.noted(Asked)] == ["fit-unit"]
    assert shift.events[-1].at_s < 60.0
    shift.assert_safe()


@pytest.mark.parametrize("moment", ["unit-started", "supply-switched", "contact-ended", "check-done"])
def test_a_stop_interrupts_the_unit_in_work(moment: str) -> None:
    shift = work_through(POINT, units=2, look=once(kind(moment), stop))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.INTERRUPTED)
    assert shift.finding.words == "interrupted: stopped by SIGINT; set it again from the start"
    shift.assert_safe()


def test_a_stop_before_the_first_unit_judges_none() -> None:
    shift = work_through(POINT, units=2, look=once(kind("order-started"), stop))
    assert shift.order.verdicts == {}
    assert shift.order.left == 2
    assert shift.noted(UnitJudged) == []
    shift.assert_safe()


# -- what comes and goes --------------------------------------------------------------------------------------


def cut(simulated: SimulatedBench, cut_now: bool) -> None:
    nest = simulated.world.nests["A"]
    with simulated.world.timeline:
        nest.output_cut = cut_now
        nest.rewire()


def short(simulated: SimulatedBench, rail: Rail | None) -> None:
    nest = simulated.world.nests["A"]
    with simulated.world.timeline:
        nest.output_shorted_to = rail
        nest.rewire()


def test_an_output_that_is_wrong_once_is_undecided() -> None:
    def look(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
        event = stamped.event
        if isinstance(event, TargetMoved) and event.where == Requirement.DETECTS_INSIDE:
            seen.append(event)
            # The first time the wire touches L- while the target is inside: an NPN output, one would say.
            short(simulated, Rail.MINUS if len(seen) == 1 else None)
        if isinstance(event, CheckDone) and event.requirement == Requirement.DETECTS_INSIDE:
            short(simulated, None)

    seen: list[TargetMoved] = []
    shift = work_through(POINT, look=look)
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.OUTPUT_UNSTEADY)
    assert shift.finding.words == "output is NPN, the order asks for PNP; right only at the second reading"


def test_a_hand_in_the_beam_while_the_release_point_is_read_is_no_wide_differential() -> None:
    # Near the end of the blind zone a unit must be on; a wire that is off for a moment is no evidence.
    def look(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
        event = stamped.event
        if isinstance(event, CheckDone) and event.requirement == Requirement.OUTER_RELEASE:
            cut(simulated, True)
        if isinstance(event, OutputRead) and event.where == Requirement.BLIND_END:
            cut(simulated, False)

    shift = work_through(POINT, look=look)
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.OUTPUT_UNSTEADY)
    assert shift.finding.words == (
        "wrong close to the blind zone: output off at 62.0 mm, must be on; right only at the second reading"
    )


def test_an_output_that_flickers_while_its_stage_is_read_proves_no_stage() -> None:
    def flicker(simulated: SimulatedBench, _: Bench) -> None:
        # On and held against its load at both ends of every reading, but not all the time between.
        for number in range(20):
            at_ns = simulated.world.now_ns + (number + 1) * 70_000_000
            for late_ns, cut_now in ((0, True), (20_000_000, False)):
                simulated.world.at(at_ns + late_ns, lambda cut_now=cut_now: cut(simulated, cut_now))

    def comes(event: Event) -> bool:
        return isinstance(event, TargetMoved) and event.where == Requirement.DETECTS_INSIDE

    shift = work_through(POINT, look=once(comes, flicker))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.OUTPUT_UNCLEAR)
    assert "does not keep still" in shift.finding.words


def test_an_output_that_flickers_before_it_keeps_still_is_not_steady() -> None:
    def flicker(simulated: SimulatedBench, _: Bench) -> None:
        for number in range(4):
            at_ns = simulated.world.now_ns + (number + 1) * 20_000_000
            simulated.world.at(at_ns, lambda cut_now=number % 2 == 0: cut(simulated, cut_now))

    def comes(event: Event) -> bool:
        return isinstance(event, TargetMoved) and event.where == Requirement.OUTER_NOT_NEAR

    shift = work_through(POINT, look=once(comes, flicker))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.NEAR_TOLERANCE)
    assert shift.finding.words.startswith("set point too near: output not steady at 393.3 mm, must be on")


@pytest.mark.parametrize(
    "requirement", [Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR, Requirement.OUTER_RELEASE]
)
def test_a_wire_that_comes_off_while_it_is_checked_is_not_the_units_fault(requirement: Requirement) -> None:
    shift = work_through(POINT, look=once(check_of(requirement), lambda simulated, _: cut(simulated, True)))
    assert shift.finding.verdict is UNDECIDED, shift.finding.words
    assert shift.finding.reason is Reason.OUTPUT_UNCLEAR
    assert "yet by its LED it is: check output wire" in shift.finding.words


def stick_load_relay(simulated: SimulatedBench, _: Bench) -> None:
    simulated.world.nests["A"].relays["load"].stuck = True


@pytest.mark.parametrize("setting", ["18 point", "12 point", "30 window"])
@pytest.mark.parametrize("moment", ["supply-switched", "step-started", "contact-ended"])
def test_a_load_relay_that_sticks_after_it_was_tried_is_not_the_units_fault(
    setting: str, moment: str
) -> None:
    shift = work_through(SETTINGS[setting], look=once(kind(moment), stick_load_relay))
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (UNDECIDED, Reason.OUTPUT_STUCK), finding.words
    assert finding.words.endswith("or the load relay is stuck")


def test_an_output_that_does_not_keep_still_at_rest_is_undecided() -> None:
    def slow_down(simulated: SimulatedBench, _: Bench) -> None:
        # Its load comes while the output is watched.
        simulated.world.nests["A"].relays["load"].slowness = 25.0

    shift = work_through(POINT, look=once(kind("supply-switched"), slow_down))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.OUTPUT_UNCLEAR)
    assert shift.finding.words == "output is at neither rail or does not keep still at rest"


def test_a_wrong_reading_whose_proof_is_out_of_reach_leaves_the_unit_undecided() -> None:
    made = job("barrel-18-rail", rig=rig_with(STAGE, farthest_mm=408.0), at_mm=400, tolerance_mm=8)
    shift = work_through(made, (UnitFault(kind="stores-wrongly", offset_mm=20.0),))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.NEAR_TOLERANCE)
    assert shift.finding.words == (
        "set point too far out: output on at 406.7 mm, must be off; too near the tolerance to tell"
    )


def test_no_led_that_was_proven_no_word_on_the_output_wire() -> None:
    silent = POINT.sensor_type.model_copy(update={"led_shows_output": False})
    made = type(POINT)(POINT.order, silent, POINT.rig)
    shift = work_through(made, bench=(BenchFault(kind="output-open"),))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.OUTPUT_OPEN)
    assert shift.finding.words.startswith("output never comes on: output wire open")
