"""Teach sequences in sensor type files: every step that cannot be is refused on its line."""

from __future__ import annotations

import pytest

from sequences.library import shipped_types
from sequences.sensor_type import SensorType
from tests.badfiles import Slip, check_slip, problems_of
from wiring.tomlfile import parse_toml_model

RAIL = shipped_types()["barrel-18-rail"].read_text(encoding="utf-8")
COUNT = shipped_types()["barrel-12-count"].read_text(encoding="utf-8")

# The last step of the first sequence of RAIL: full range, clear beam, L+.
STEP = '  { do = "contact", rail = "L+", until = "accepted", shortest_s = 1.0, longest_s = 5.0 },\n'
STEP_KEY = "sequence#1.steps#4"
CHECKED = '  { do = "expect", output = "off", within_s = 2 },\n'
COVER = '{ do = "cover" }'


def parse(text: str, file_name: str = "type.toml") -> SensorType:
    return parse_toml_model(text, file_name, SensorType, what="sensor type")


def in_step(name: str, old: str, new: str, key: str, message: str, given: str, allowed: str) -> Slip:
    return Slip(name, STEP, STEP.replace(old, new), f"{STEP_KEY}.{key}", message, given, allowed)


STEPS = (
    in_step("rail in words", '"L+"', '"plus"', "rail", "not a word known here", '"plus"', '"L+" or "L-"'),
    in_step(
        "sign mistyped", "accepted", "acepted", "until", "no such sign in [led]", '"acepted"', "accepted"
    ),
    in_step(
        "waits for a no", "accepted", "refused", "until", "a refusal cannot confirm", '"refused"', "accepted"
    ),
    in_step(
        "contact too long",
        "5.0",
        "10.5",
        "longest_s",
        "beyond what this type takes",
        "10.5",
        "1 to 10, as in",
    ),
    in_step(
        "contact too short",
        "1.0",
        "0.9",
        "shortest_s",
        "beyond what this type takes",
        "0.9",
        "1 to 10, as in",
    ),
    in_step(
        "limits crossed", "1.0", "5.0", "shortest_s", "must be less than longest_s", "5.0", "longest_s = 5"
    ),
    in_step(
        "longest missing", ", longest_s = 5.0", "", "longest_s", "is missing", "", "a number above 0 up to 60"
    ),
    in_step(
        "contact for minutes", "5.0", "300", "longest_s", "too large", "300", "a number above 0 up to 60"
    ),
    in_step(
        "contact that does not end",
        'until = "accepted", ',
        "",
        "for_s",
        "either at a LED sign or after a fixed time",
        "neither until nor for_s",
        "until or for_s",
    ),
    in_step(
        "contact that ends twice",
        "until =",
        "for_s = 2.0, until =",
        "for_s",
        "either at a LED sign or after a fixed time",
        "both until and for_s",
        "until or for_s",
    ),
    in_step(
        "contact bad by its own limits",
        'until = "accepted"',
        "for_s = 5.1",
        "for_s",
        "its own limits would call the contact bad",
        "5.1",
        "1 to 5",
    ),
    in_step(
        "touches without a gap",
        'until = "accepted"',
        "for_s = 2.0, times = 2",
        "gap_s",
        "several contacts need a gap",
        "",
        "gap_s together with times of 2 or more",
    ),
    in_step(
        "gap after a single touch",
        'until = "accepted"',
        "for_s = 2.0, gap_s = 0.4",
        "gap_s",
        "a single one has none",
        "0.4",
        "gap_s together with times of 2 or more",
    ),
    Slip(
        "contact that nothing confirms",
        STEP,
        STEP.replace('until = "accepted"', "for_s = 2.0"),
        STEP_KEY,
        "nothing confirms this contact",
        "no expect step after it",
        "expect as the next step",
    ),
    Slip(
        "counts although rails tell",
        STEP,
        STEP.replace('until = "accepted"', "for_s = 2.0, times = 2, gap_s = 0.4") + CHECKED,
        f"{STEP_KEY}.times",
        "teach method rail-order does not count contacts",
        "2",
        "1",
    ),
    Slip(
        "expects nothing",
        COVER,
        COVER + ',\n  { do = "expect", within_s = 2 }',
        "sequence#1.steps#2.led",
        "either a LED sign or an output state",
        "neither led nor output",
        "led or output",
        at='{ do = "expect"',
    ),
    Slip(
        "expects a sign and a state",
        COVER,
        COVER + ',\n  { do = "expect", led = "accepted", output = "on", within_s = 2 }',
        "sequence#1.steps#2.led",
        "either a LED sign or an output state",
        "both led and output",
        "led or output",
        at='{ do = "expect"',
    ),
    Slip(
        "expects a sign that is not there",
        COVER,
        COVER + ',\n  { do = "expect", led = "stored", within_s = 2 }',
        "sequence#1.steps#2.led",
        "there is no such sign in [led]",
        '"stored"',
        "accepted",
        at='{ do = "expect"',
    ),
    Slip(
        "step mistyped",
        '"cover"',
        '"covr"',
        "sequence#1.steps#1.do",
        "did you mean cover?",
        '"covr"',
        '"rest"',
    ),
    Slip(
        "step without do",
        COVER,
        '{ at = "only" }',
        "sequence#1.steps#1.do",
        "is missing",
        "",
        '"power-cycle"',
    ),
    Slip(
        "cover with a distance",
        COVER,
        '{ do = "cover", at = "near" }',
        "sequence#1.steps#1.at",
        "unknown key",
        '"near"',
        "do",
    ),
)

SEQUENCES = (
    Slip(
        "far end of a single point",
        '{ do = "place", at = "only" }',
        '{ do = "place", at = "far" }',
        "sequence#2.steps#3.at",
        "mode single-point has no such set point",
        '"far"',
        "only",
    ),
    Slip(
        "target in full range",
        COVER,
        COVER + ',\n  { do = "place", at = "only" }',
        "sequence#1.steps#2.at",
        "mode full-range has no such set point",
        '"only"',
        "cover or clear instead",
        at='{ do = "place", at = "only" }',
    ),
    Slip(
        "window without its near end",
        '{ do = "place", at = "near" }',
        '{ do = "clear" }',
        "sequence#4.steps",
        "mode window is taught without a target at near",
        "an array of 4",
        'a step { do = "place", at = "near" }',
        at='steps = [\n  { do = "clear" },\n  { do = "contact", rail = "L-", until = "accepted", '
        'shortest_s = 1.0, longest_s = 5.0 },\n  { do = "place", at = "far"',
    ),
    Slip(
        "contact before the target",
        f"  {COVER},\n",
        "",
        "sequence#1.steps#1",
        "before the target has a place",
        "contact",
        "place, cover or clear first",
        at='{ do = "contact"',
    ),
    Slip(
        "nothing taught",
        'mode = "full-range"\nsteps = [\n',
        f'mode = "full-range"\nsteps = [{COVER}]\n[[sequence]]\nmode = "single-point"\nsteps = [\n',
        "sequence#1.steps",
        "nothing is taught",
        "no contact",
        "a contact step",
        at="steps = [{",
    ),
    Slip(
        "no steps",
        'mode = "full-range"\nsteps = [\n',
        'mode = "full-range"\nsteps = []\n[[sequence]]\nmode = "single-point"\nsteps = [\n',
        "sequence#1.steps",
        "too few",
        "an array of 0",
        "of 1 to 50",
        at="steps = []",
    ),
    Slip(
        "taught twice",
        '[[sequence]]\nmode = "single-point"\noutput_function = "NC"',
        '[[sequence]]\nmode = "single-point"\noutput_function = "NO"',
        "sequence#3",
        "teaches the same as sequence#2",
        "single-point NO",
        "each mode and output function once",
    ),
    Slip(
        "function left out beside one given",
        '[[sequence]]\nmode = "single-point"\noutput_function = "NO"\n',
        '[[sequence]]\nmode = "single-point"\n',
        "sequence#3.output_function",
        "another sequence says that mode single-point has no choice",
        '"NC"',
        "output_function in every sequence of a mode",
        at='output_function = "NC"',
    ),
    Slip(
        "mode mistyped",
        'mode = "single-point"',
        'mode = "single point"',
        "sequence#2.mode",
        "did you mean single-point?",
        '"single point"',
        '"full-range" or "single-point" or "window"',
    ),
)

COUNTED = (
    Slip(
        "gap that ends the count",
        "times = 4, gap_s = 0.4",
        "times = 4, gap_s = 1.1",
        "sequence#1.steps#2.gap_s",
        "stops counting during this gap",
        "1.1",
        "up to contact.longest_gap_s = 1",
    ),
    Slip(
        "counted until a sign",
        "for_s = 0.3, shortest_s = 0.2, longest_s = 0.5, times = 4, gap_s = 0.4",
        'until = "stored-4", shortest_s = 0.2, longest_s = 0.5',
        "sequence#1.steps#2.until",
        "counted contacts have a fixed length",
        '"stored-4"',
        "for_s",
    ),
    Slip(
        "no gap to count by",
        "longest_gap_s = 1.0 ",
        "# ",
        "contact.longest_gap_s",
        "teach method contact-count needs longest_gap_s",
        "",
        'teach_method = "contact-count"',
        at="[contact]",
    ),
    Slip(
        "rest that outlasts the unit's patience",
        'do = "expect", led = "stored-4", within_s = 6.0 },',
        'do = "expect", led = "stored-4", within_s = 6.0 },\n  { do = "rest", for_s = 60 },',
        "sequence#1.steps#4.for_s",
        "the unit gives up during this rest",
        "60",
        "less than timing.teach_timeout_s = 60",
        at='{ do = "rest"',
    ),
    Slip(
        "two signs of four blinks",
        'stored-5 = { kind = "blinks", count = 5 }',
        'stored-5 = { kind = "blinks", count = 4 }',
        "led.stored-5",
        "cannot tell this sign from stored-4",
        "4 blinks",
        "one name for one sign",
    ),
)


@pytest.mark.parametrize("slip", STEPS + SEQUENCES, ids=lambda slip: slip.name)
def test_wrong_step_is_told_with_its_place(slip: Slip) -> None:
    check_slip(slip, RAIL, parse)


@pytest.mark.parametrize("slip", COUNTED, ids=lambda slip: slip.name)
def test_wrong_step_of_a_counting_type_is_told_with_its_place(slip: Slip) -> None:
    check_slip(slip, COUNT.replace("teach_timeout_s = 90", "teach_timeout_s = 60"), parse)


def test_every_contact_beyond_the_limits_is_told() -> None:
    text = RAIL.replace("longest_s = 10.0", "longest_s = 4.0")
    problems = problems_of(lambda: parse(text))
    assert len(problems) == text.count('do = "contact"')
    assert {problem.given for problem in problems} == {"5.0"}
