"""A plan: every step, position and limit for one setting on one rig, fixed before anything moves."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from rig.deciding.requirement import Requirement as Required
from rig.deciding.rule import DecisionRule
from rig.edges.task import EdgeTask
from rig.planning.grounds import Grounds, TimePart
from rig.statistics.uncertainty import Component
from sequences.words import Rule, SetPoint
from wiring.saying import say
from wiring.terms import DetectionMode, LedKind, OutputFunction, OutputType, Rail, Verification

_FLASHING, _BLINKS = re.compile(r"flashing ([\d.]+) Hz"), re.compile(r"(\d+) blinks?")


@dataclass(frozen=True, slots=True)
class Answer:
    """What the LED has to show, as the sensor type names and describes it."""

    name: str
    kind: LedKind
    rate_hz: float | None = None
    count: int | None = None

    @property
    def words(self) -> str:
        """The pattern in words, such as `flashing 2 Hz`."""
        if self.kind is LedKind.FLASHING:
            return say("flashing {rate_hz:g} Hz", rate_hz=self.rate_hz)
        if self.kind is LedKind.BLINKS:
            return say("{count} blink{what}", count=self.count, what="s" if self.count != 1 else "")
        return str(self.kind)

    @staticmethod
    def said_again(words: str) -> str:
        """The same words out of a record, with their facts."""
        if flashing := _FLASHING.fullmatch(words):
            return Answer("", LedKind.FLASHING, float(flashing[1])).words
        if blinks := _BLINKS.fullmatch(words):
            return Answer("", LedKind.BLINKS, count=int(blinks[1])).words
        return words


@dataclass(frozen=True, slots=True)
class PlaceTarget:
    """Put the target at a position on the bench, cover the face (position 0) or clear the beam (None).

    `machine_mm` is the distance at the machine that a set point there is taught for.
    """

    where: str
    position_mm: float | None
    machine_mm: float | None = None

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        if self.position_mm is None:
            return "clear the beam"
        if self.where == "cover":
            return "cover the face"
        if self.where == "only":
            return say("target at {position_mm:.1f} mm", position_mm=self.position_mm)
        return say("target at {position_mm:.1f} mm ({where})", position_mm=self.position_mm, where=self.where)


@dataclass(frozen=True, slots=True)
class MakeContact:
    """Hold the teach wire to a rail until the LED answers (`until`) or for a fixed time (`for_s`).

    `longest_gap_s`: what the type allows between two of several contacts before it stops counting.
    """

    rail: Rail
    until: Answer | None
    for_s: float | None
    shortest_s: float
    longest_s: float
    times: int = 1
    gap_s: float = 0.0
    longest_gap_s: float | None = None

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        how = (
            say("until {words}", words=self.until.words)
            if self.until
            else say("for {for_s:g} s", for_s=self.for_s)
        )
        often = say(" {times} times", times=self.times) if self.times > 1 else ""
        return say("teach wire to {rail}{often} {how}", rail=self.rail, often=often, how=how)


@dataclass(frozen=True, slots=True)
class Rest:
    """Leave everything as it is for a time."""

    for_s: float

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        return say("wait {for_s:g} s", for_s=self.for_s)


@dataclass(frozen=True, slots=True)
class PowerCycle:
    """Take the supply away and give it back."""

    off_s: float

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        return say("supply off for {off_s:g} s, then on", off_s=self.off_s)


@dataclass(frozen=True, slots=True)
class AwaitAnswer:
    """Wait for the LED to show a pattern."""

    answer: Answer
    within_s: float

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        return say("LED must show {words}", words=self.answer.words)


@dataclass(frozen=True, slots=True)
class AwaitOutput:
    """Wait for the output to be on or off."""

    on: bool
    within_s: float

    @property
    def text(self) -> str:
        """The step as a person would say it."""
        return say("output must be {what}", what="on" if self.on else "off")


PlannedStep = PlaceTarget | MakeContact | Rest | PowerCycle | AwaitAnswer | AwaitOutput


class Requirement(StrEnum):
    """What a check position proves."""

    DETECTS_INSIDE = "detects inside its zone"
    BLIND_END = "output near the end of the blind zone"
    CLEAR_BEAM = "output with the beam clear"
    OUTER_NOT_FAR = "outer set point not too far out"
    OUTER_NOT_NEAR = "outer set point not too far in"
    OUTER_RELEASE = "outer release point"
    INNER_NOT_NEAR = "inner set point not too far in"
    INNER_NOT_FAR = "inner set point not too far out"
    INNER_RELEASE = "inner release point"
    RANGE_END = "output near the end of the range"


class Approach(StrEnum):
    """Where the target comes from: hysteresis makes the answer depend on it."""

    FROM_CLEAR = "from clear"
    FROM_LAST = "from the last position"


@dataclass(frozen=True, slots=True)
class Check:
    """One reading of the output.

    Attributes:
        requirement: what a right reading proves.
        position_mm: where the target stands on the bench; None for a clear beam.
        approach: where the target comes from.
        expected_on: the output of a unit inside tolerance.
        proof_mm: where a reading that is still wrong proves the unit bad; the same position
            when the first wrong reading does; None when nothing within reach could.
        machine_mm: the distance at the machine that the position stands for.

    """

    requirement: Requirement
    position_mm: float | None
    approach: Approach
    expected_on: bool
    proof_mm: float | None = None
    machine_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Inspection:
    """What a unit of the type must show before it is taught."""

    output_type: OutputType
    current_min_a: float
    current_max_a: float
    availability_s: float


@dataclass(frozen=True, slots=True)
class Measuring:
    """What is measured of each unit, and what it is held against.

    Attributes:
        tasks: the edges, the outer one first.
        required: what is judged of a unit; all of it has to be good.
        air: what the air adds to the doubt of one millimetre of distance.
        response_s: the longer response time of the type.

    """

    tasks: tuple[EdgeTask, ...]
    required: tuple[Required, ...]
    air: tuple[Component, ...]
    response_s: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One setting of one sensor type on one rig. Set points and tolerance hold at the machine, positions on the bench.

    They hold in the middle of the machine's air. What the rest of it does, and all that the correction of a compensated
    type leaves over, which no check on the bench can show, comes on top of the tolerance: `PointGrounds.drift_*`.

    Attributes:
        set_points: distance of each set point at the machine, nearest first; empty for full range.
        guard_mm: expanded uncertainty on the bench at the outer end of the zone.
        teach_window_s: time from power-up in which the type can be taught.
        teach_timeout_s: time from one contact to the next after which the type forgets the first.
        method: how a set unit is proved.
        rule: when a value proves a requirement.
        largest_risk: of a wrong verdict on one limit; None unless the rule is that of the largest risk.
        measuring: what is measured; None where positions are read.
        scale: bench distance over machine distance.
        refused: LED pattern by which the type says no, if it has one.
        retries: how often the whole sequence may be repeated after a refusal.
        led_shows_output: whether the LED is lit when the output is on, apart from teaching.
        settle_s: time from a change of target or load until the output is read.
        watch_s: time for which it is then watched for changes.
        expected_s: expected time on the bench for one unit, without the person's: the sum of `times`.
        warnings: what is left out, or less sure than it looks, in words.
        grounds: why the plan is as it is.
        scans_mm: for each set point, positions from within its tolerance outwards, and for the end of the range up to
            it; on each way the output changes once at most.

    """

    sensor_type: str
    mode: DetectionMode
    output_function: OutputFunction
    set_points: tuple[tuple[SetPoint, float], ...]
    tolerance_mm: float
    guard_mm: float
    inspection: Inspection
    steps: tuple[PlannedStep, ...]
    checks: tuple[Check, ...]
    method: Verification
    rule: Rule
    largest_risk: float | None
    measuring: Measuring | None
    scale: float
    teach_window_s: float
    teach_timeout_s: float
    refused: Answer | None
    retries: int
    led_shows_output: bool
    settle_s: float
    watch_s: float
    expected_s: float
    times: tuple[TimePart, ...]
    warnings: tuple[str, ...]
    grounds: Grounds
    scans_mm: tuple[tuple[float, ...], ...] = ()

    @property
    def decision(self) -> DecisionRule:
        """The rule of the order."""
        return DecisionRule(self.rule, self.largest_risk)

    @property
    def inside_mm(self) -> float:
        """A position on the bench at which every good unit detects the target."""
        inside = next(one for one in self.checks if one.requirement is Requirement.DETECTS_INSIDE)
        assert inside.position_mm is not None, "a target inside the zone stands somewhere"
        return inside.position_mm
