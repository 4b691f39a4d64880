"""Telling output stages apart by pulling them both ways: what is wired and built decides, nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import pytest

from hal.nest import OutputLevel
from rig.events import Verdict
from rig.sequencer.findings import Reason
from rig.sequencer.output_type import Drive, drive, is_on, judge_output, telling_load
from wiring.terms import OutputType, Rail

PNP, NPN, PUSH_PULL = OutputType
FOLLOWS, PLUS, MINUS, UNCLEAR = Drive
LEVEL_AT = {Rail.PLUS: OutputLevel.AT_PLUS, Rail.MINUS: OutputLevel.AT_MINUS}

# A stage as built: what its output does when on and when off, under a load pulled to a rail.
# Common practice, no source: PNP sources, NPN sinks, push-pull does both; a stage that is off lets go.
Stage = Callable[[bool, Rail], Rail]


def follows_load(_: bool, load: Rail) -> Rail:
    return load


STAGES: dict[OutputType, Stage] = {
    PNP: lambda on, load: Rail.PLUS if on else load,
    NPN: lambda on, load: Rail.MINUS if on else load,
    PUSH_PULL: lambda on, _: Rail.PLUS if on else Rail.MINUS,
}


def drive_of(stage: Stage, on: bool) -> Drive:
    return drive(LEVEL_AT[stage(on, Rail.MINUS)], LEVEL_AT[stage(on, Rail.PLUS)])


@pytest.mark.parametrize(
    ("load_to_minus", "load_to_plus", "expected"),
    [
        (OutputLevel.AT_MINUS, OutputLevel.AT_PLUS, FOLLOWS),
        (OutputLevel.AT_PLUS, OutputLevel.AT_PLUS, PLUS),
        (OutputLevel.AT_MINUS, OutputLevel.AT_MINUS, MINUS),
        (OutputLevel.AT_PLUS, OutputLevel.AT_MINUS, UNCLEAR),  # no stage does the opposite of its load
        *[
            (*pair, UNCLEAR)
            for pair in product(OutputLevel, OutputLevel)
            if not set(pair) <= set(LEVEL_AT.values())
        ],
    ],
)
def test_drive_from_both_load_directions(
    load_to_minus: OutputLevel, load_to_plus: OutputLevel, expected: Drive
) -> None:
    assert drive(load_to_minus, load_to_plus) is expected


@pytest.mark.parametrize("wanted", OutputType)
@pytest.mark.parametrize("built", OutputType)
@pytest.mark.parametrize("led_follows", [True, False, None])
def test_a_sound_stage_passes_as_what_it_is_and_as_nothing_else(
    wanted: OutputType, built: OutputType, led_follows: bool | None
) -> None:
    finding = judge_output(wanted, drive_of(STAGES[built], True), drive_of(STAGES[built], False), led_follows)
    if built is wanted:
        assert finding is None
    else:
        assert finding is not None
        assert (finding.verdict, finding.reason) == (Verdict.BAD, Reason.OUTPUT_TYPE)
        assert finding.words == f"output is {built}, the order asks for {wanted}"


@pytest.mark.parametrize("wanted", OutputType)
@pytest.mark.parametrize("led_follows", [True, False, None])
def test_a_stage_that_is_on_where_it_must_be_off_is_inverse(
    wanted: OutputType, led_follows: bool | None
) -> None:
    stage = STAGES[wanted]
    finding = judge_output(wanted, drive_of(stage, False), drive_of(stage, True), led_follows)
    assert finding is not None
    assert (finding.verdict, finding.reason) == (Verdict.BAD, Reason.OUTPUT_INVERSE)


STILL = {
    "open wire": follows_load,
    "short to L+": lambda _on, _load: Rail.PLUS,
    "short to L-": lambda _on, _load: Rail.MINUS,
}


@pytest.mark.parametrize("wanted", OutputType)
@pytest.mark.parametrize(
    ("fault", "led_follows", "verdict", "reason", "words"),
    [
        (
            "open wire",
            True,
            Verdict.UNDECIDED,
            Reason.OUTPUT_OPEN,
            "the LED switches but the output does not",
        ),
        ("open wire", None, Verdict.UNDECIDED, Reason.OUTPUT_OPEN, "output never comes on"),
        ("open wire", False, Verdict.BAD, Reason.NOT_DETECTED, "does not switch"),
        ("short to L+", True, Verdict.UNDECIDED, Reason.OUTPUT_STUCK, "stays at L+"),
        ("short to L+", None, Verdict.UNDECIDED, Reason.OUTPUT_STUCK, "stays at L+"),
        ("short to L+", False, Verdict.BAD, Reason.NOT_DETECTED, "does not switch"),
        ("short to L-", True, Verdict.UNDECIDED, Reason.OUTPUT_STUCK, "stays at L-"),
        ("short to L-", None, Verdict.UNDECIDED, Reason.OUTPUT_STUCK, "stays at L-"),
        ("short to L-", False, Verdict.BAD, Reason.NOT_DETECTED, "does not switch"),
    ],
)
def test_an_output_that_never_changes_is_blamed_on_the_unit_only_if_its_led_never_changes(
    wanted: OutputType, fault: str, led_follows: bool | None, verdict: Verdict, reason: Reason, words: str
) -> None:
    always = drive_of(STILL[fault], True)
    finding = judge_output(wanted, always, always, led_follows)
    assert finding is not None
    assert (finding.verdict, finding.reason) == (verdict, reason)
    assert words in finding.words


# What each pair of drives (where it must be on, where off) means to an order for PNP, NPN and push-pull.
RIGHT, TYPE, INVERSE = "right", Reason.OUTPUT_TYPE, Reason.OUTPUT_INVERSE
OPEN, STUCK = Reason.OUTPUT_OPEN, Reason.OUTPUT_STUCK
TABLE = {
    (PLUS, FOLLOWS): (RIGHT, TYPE, TYPE),
    (MINUS, FOLLOWS): (TYPE, RIGHT, TYPE),
    (PLUS, MINUS): (TYPE, TYPE, RIGHT),
    (FOLLOWS, PLUS): (INVERSE, INVERSE, INVERSE),
    (FOLLOWS, MINUS): (INVERSE, INVERSE, INVERSE),
    (MINUS, PLUS): (INVERSE, INVERSE, INVERSE),
    (FOLLOWS, FOLLOWS): (OPEN, OPEN, OPEN),
    (PLUS, PLUS): (STUCK, STUCK, STUCK),
    (MINUS, MINUS): (STUCK, STUCK, STUCK),
}


@pytest.mark.parametrize("column", range(3))
def test_every_pair_of_drives(column: int) -> None:
    wanted = tuple(OutputType)[column]
    for when_on, when_off in product(Drive, Drive):
        finding = judge_output(wanted, when_on, when_off, None)
        if UNCLEAR in (when_on, when_off):
            assert finding is not None
            assert (finding.verdict, finding.reason) == (Verdict.UNDECIDED, Reason.OUTPUT_UNCLEAR)
        else:
            found = RIGHT if finding is None else finding.reason
            assert found == TABLE[when_on, when_off][column], (when_on, when_off)


@pytest.mark.parametrize("output_type", OutputType)
def test_under_the_telling_load_on_and_off_look_different(output_type: OutputType) -> None:
    load = telling_load(output_type)
    for on in (True, False):
        assert is_on(output_type, LEVEL_AT[STAGES[output_type](on, load)]) is on
    for level in set(OutputLevel) - set(LEVEL_AT.values()):
        assert is_on(output_type, level) is None
    # Under the other load PNP and NPN would look the same on as off.
    if output_type is not PUSH_PULL:
        assert len({STAGES[output_type](on, load.other) for on in (True, False)}) == 1
