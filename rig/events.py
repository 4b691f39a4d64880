"""Everything that can happen, as frozen facts; screens, records and reports are all read from these."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any, ClassVar

from wiring.terms import Rail


class Verdict(StrEnum):
    """What is said of a unit; missing evidence is `undecided`, never `good`."""

    GOOD = "good"
    BAD = "bad"
    UNDECIDED = "undecided"


class Purpose(StrEnum):
    """What is done with the units of an order."""

    SET = "set"
    VERIFY = "verify"
    SURVEY = "survey"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened; the chronicle adds when and to which unit."""

    kind: ClassVar[str] = "event"


@dataclass(frozen=True, slots=True)
class OrderStarted(Event):
    """Work on an order began."""

    kind: ClassVar[str] = "order-started"
    order: str
    customer: str
    purpose: Purpose
    sensor_type: str
    quantity: int
    rig: str
    simulated: bool
    software: str


@dataclass(frozen=True, slots=True)
class OrderInputs(Event):
    """The whole of what the plan was made from, as in the files: with it every verdict can be worked out again."""

    kind: ClassVar[str] = "order-inputs"
    order: dict[str, Any]
    sensor_type: dict[str, Any]
    rig: dict[str, Any]


@dataclass(frozen=True, slots=True)
class OrderEnded(Event):
    """Work on an order ended, finished or not."""

    kind: ClassVar[str] = "order-ended"
    order: str
    good: int
    bad: int
    undecided: int
    left: int


@dataclass(frozen=True, slots=True)
class UnitStarted(Event):
    """A unit stands in the nest and work on it begins."""

    kind: ClassVar[str] = "unit-started"
    nest: str
    index: int


@dataclass(frozen=True, slots=True)
class Asked(Event):
    """The person was asked for something."""

    kind: ClassVar[str] = "asked"
    request: str
    text: str
    position_mm: float | None


@dataclass(frozen=True, slots=True)
class SupplySwitched(Event):
    """The unit's supply was switched."""

    kind: ClassVar[str] = "supply-switched"
    on: bool


@dataclass(frozen=True, slots=True)
class SupplyMeasured(Event):
    """Supply current and voltage of the unit; None where the bench cannot measure."""

    kind: ClassVar[str] = "supply-measured"
    current_a: float | None
    voltage_v: float | None


@dataclass(frozen=True, slots=True)
class AirMeasured(Event):
    """The air at the bench by its probe; the pressure is the typed one, which no probe measures."""

    kind: ClassVar[str] = "air-measured"
    temperature_c: float
    humidity_percent: float
    pressure_kpa: float
    source: str


@dataclass(frozen=True, slots=True)
class TargetMoved(Event):
    """The target stands somewhere new; position None when the beam is clear."""

    kind: ClassVar[str] = "target-moved"
    where: str
    position_mm: float | None


@dataclass(frozen=True, slots=True)
class StepStarted(Event):
    """A step of the teach sequence began."""

    kind: ClassVar[str] = "step-started"
    number: int
    text: str


@dataclass(frozen=True, slots=True)
class ContactDue(Event):
    """A contact is about to be made: seconds since the unit got its supply, and since its last contact closed."""

    kind: ClassVar[str] = "contact-due"
    since_power_s: float
    since_contact_s: float | None


@dataclass(frozen=True, slots=True)
class PauseEnded(Event):
    """The pause between two contacts of one step, from opening to closing, as read back from the wire."""

    kind: ClassVar[str] = "pause-ended"
    length_s: float


@dataclass(frozen=True, slots=True)
class ContactEnded(Event):
    """One connection of the teach wire to a rail, as read back from the wire."""

    kind: ClassVar[str] = "contact-ended"
    rail: Rail
    length_s: float
    answer: str
    confirmed: bool


@dataclass(frozen=True, slots=True)
class LedSeen(Event):
    """What the LED did when it was looked at; `led` is `nothing` where what was waited for did not come."""

    kind: ClassVar[str] = "led-seen"
    moment: str
    led: str
    rate_hz: float | None
    count: int | None
    noisy: bool


@dataclass(frozen=True, slots=True)
class AnswerSeen(Event):
    """What the LED showed when an answer was expected."""

    kind: ClassVar[str] = "answer-seen"
    expected: str
    seen: str
    accepted: bool


@dataclass(frozen=True, slots=True)
class OutputRead(Event):
    """The output channel under one load direction."""

    kind: ClassVar[str] = "output-read"
    where: str
    position_mm: float | None
    load: Rail
    level: str
    steady: bool


@dataclass(frozen=True, slots=True)
class CheckDone(Event):
    """One check position: what the output had to be and what it was (None: it did not settle)."""

    kind: ClassVar[str] = "check-done"
    requirement: str
    where: str
    position_mm: float | None
    expected_on: bool
    read_on: bool | None


@dataclass(frozen=True, slots=True)
class ToleranceScanned(Event):
    """The target went out through the tolerance of a set point, and how often the output changed on the way.

    `outputs` has a sign for each reading: + at L+, - at L-, ? at neither; behind it ! if it did not keep still.
    """

    kind: ClassVar[str] = "tolerance-scanned"
    first_mm: float
    last_mm: float
    outputs: str
    changes: int


@dataclass(frozen=True, slots=True)
class EdgeBegun(Event):
    """Measuring of one edge began: `edge` is inner or outer, `method` how it is found."""

    kind: ClassVar[str] = "edge-begun"
    edge: str
    method: str
    wanted_mm: float


@dataclass(frozen=True, slots=True)
class EdgeRead(Event):
    """One answer of the unit on the way to an edge.

    `position_mm` None: a clear beam. `detected` None: the output was neither on nor off. `steady`: it did not change
    while it was watched. `changes` counts the edges on the inputs of the output from the target's arrival on.
    """

    kind: ClassVar[str] = "edge-read"
    where: str
    position_mm: float | None
    detected: bool | None
    steady: bool
    changes: int


@dataclass(frozen=True, slots=True)
class EdgePassed(Event):
    """The target passed an edge at constant speed; times in seconds from the start of the pass.

    `switched_s` is None if the output did not change once, and only once.
    """

    kind: ClassVar[str] = "edge-passed"
    start_mm: float
    end_mm: float
    speed_mm_s: float
    detected: bool
    switched_s: float | None


@dataclass(frozen=True, slots=True)
class EdgeSlid(Event):
    """A person slid the target across an edge; times in seconds from the request on.

    It could end at the edge with `stop_at_edge`; `hint` stood before the words of the request. `switched_s` is None if
    the output did not change once, and only once; `changes` counts its changes. `told_mm` is the number that the
    person read from the scale. `track` is what a gauge told, seconds and mm: its first and last
    reading, and those about the switching; `fault` what silenced it.
    """

    kind: ClassVar[str] = "edge-slid"
    start_mm: float
    end_mm: float
    detected: bool
    stop_at_edge: bool
    hint: str
    switched_s: float | None
    changes: int
    told_mm: float | None
    track: list[list[float]]
    fault: str


@dataclass(frozen=True, slots=True)
class EdgeMeasured(Event):
    """What was found of one edge; every uncertainty is expanded, for 95 % coverage; None: not measured."""

    kind: ClassVar[str] = "edge-measured"
    edge: str
    method: str
    operate_mm: float
    operate_u_mm: float
    release_mm: float
    release_u_mm: float
    travel_mm: float
    travel_u_mm: float
    repeat_mm: float | None
    response_on_s: float | None
    response_on_u_s: float | None
    response_off_s: float | None
    response_off_u_s: float | None
    readings: int
    moves: int


@dataclass(frozen=True, slots=True)
class EdgeNotMeasured(Event):
    """One edge could not be measured, why, and what to look at."""

    kind: ClassVar[str] = "edge-not-measured"
    edge: str
    trouble: str
    words: str
    check: str


@dataclass(frozen=True, slots=True)
class PoweredUp(Event):
    """The unit got its supply where its output must be on, and when the output came on; None: not in time.

    Seconds from the moment at which the supply came; `doubt_s` is how far that moment may be wrong.
    """

    kind: ClassVar[str] = "powered-up"
    position_mm: float | None
    on_after_s: float | None
    doubt_s: float


@dataclass(frozen=True, slots=True)
class FigureMeasured(Event):
    """A figure of the whole unit, such as its time delay before availability; value None: the bench cannot tell."""

    kind: ClassVar[str] = "figure-measured"
    name: str
    value: float | None
    expanded: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class UnitRecognised(Event):
    """What a unit that was already set is set to; mode "" where that cannot be told, and `doubts` say why."""

    kind: ClassVar[str] = "unit-recognised"
    mode: str
    output_function: str
    output_type: str
    doubts: str


@dataclass(frozen=True, slots=True)
class RequirementJudged(Event):
    """One requirement held against its evidence.

    `low` and `high` are its limits (None: there is none), `risk` the chance that the verdict is wrong if it
    is good or bad (None: not known).
    """

    kind: ClassVar[str] = "requirement-judged"
    requirement: str
    verdict: Verdict
    rule: str
    value: float | None
    expanded: float | None
    unit: str
    low: float | None
    high: float | None
    risk: float | None
    words: str


@dataclass(frozen=True, slots=True)
class PersonSilent(Event):
    """The person did not do in time what was asked."""

    kind: ClassVar[str] = "person-silent"
    words: str


@dataclass(frozen=True, slots=True)
class BenchTripped(Event):
    """The interlock opened everything."""

    kind: ClassVar[str] = "bench-tripped"
    cause: str
    words: str
    check: str


@dataclass(frozen=True, slots=True)
class BenchReset(Event):
    """A person has reset the bench after a trip."""

    kind: ClassVar[str] = "bench-reset"


@dataclass(frozen=True, slots=True)
class UnitJudged(Event):
    """The verdict on a unit, with its reason."""

    kind: ClassVar[str] = "unit-judged"
    verdict: Verdict
    reason: str
    words: str


@dataclass(frozen=True, slots=True)
class UnitRemoved(Event):
    """The unit left the nest."""

    kind: ClassVar[str] = "unit-removed"


@dataclass(frozen=True, slots=True)
class WorkCutOff(Event):
    """The program had ended in the middle of this unit, or order, without being asked to; noted at its next start."""

    kind: ClassVar[str] = "work-cut-off"
    words: str


@dataclass(frozen=True, slots=True)
class PersonSignedIn(Event):
    """Who works at the bench from now on, and how they said so; an empty name signs out."""

    kind: ClassVar[str] = "person-signed-in"
    person: str
    how: str


@dataclass(frozen=True, slots=True)
class DocumentMade(Event):
    """A paper was made of this unit or order: what kind, the SHA-256 of its file, by whom, and where it went."""

    kind: ClassVar[str] = "document-made"
    document: str
    sha256: str
    person: str
    where: str


@dataclass(frozen=True, slots=True)
class Corrected(Event):
    """An earlier entry of this bench is wrong: which one, in which field, what is right, who says so and why.

    The earlier entry stays as it is. `field` is one of its own, or empty where only a remark is made.
    """

    kind: ClassVar[str] = "corrected"
    corrects: int
    field: str
    right: str
    person: str
    why: str


@dataclass(frozen=True, slots=True)
class DecidedByHand(Event):
    """A person has decided about a unit that the bench was undecided about, and a second one has released it.

    The bench's verdict stays as it is. The attempt is named by the uuid of its bench and the number of its first
    entry in the account of that bench.
    """

    kind: ClassVar[str] = "decided-by-hand"
    bench: str
    attempt: int
    verdict: Verdict
    person: str
    released_by: str
    why: str


@dataclass(frozen=True, slots=True)
class SelfCheckStarted(Event):
    """A self-check of a rig began; the SHA-256 is that of its profile, as in `OrderInputs`."""

    kind: ClassVar[str] = "self-check-started"
    rig: str
    rig_sha256: str
    simulated: bool
    software: str


@dataclass(frozen=True, slots=True)
class PartMeasured(Event):
    """One figure of a part of the rig; `low` and `high` are its limits (None: there is none)."""

    kind: ClassVar[str] = "part-measured"
    part: str
    figure: str
    value: float
    low: float | None
    high: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class PartChecked(Event):
    """One check of the rig is done: what was done, how it came out, in words, and what to look at."""

    kind: ClassVar[str] = "part-checked"
    part: str
    done: str
    outcome: str
    words: str
    check: str


@dataclass(frozen=True, slots=True)
class SelfCheckEnded(Event):
    """A self-check ended, with how it came out as a whole."""

    kind: ClassVar[str] = "self-check-ended"
    rig: str
    outcome: str


@dataclass(frozen=True, slots=True)
class ReferenceRead(Event):
    """A reference distance: where the target was by its own scale, and what the reference said."""

    kind: ClassVar[str] = "reference-read"
    shown_mm: float
    true_mm: float


@dataclass(frozen=True, slots=True)
class CalibrationMade(Event):
    """A nest of a rig was calibrated; the whole of it, which the store keeps by its hash too."""

    kind: ClassVar[str] = "calibration-made"
    rig: str
    nest: str
    calibration: dict[str, Any]


@dataclass(frozen=True, slots=True)
class RigStepDone(Event):
    """One step of building a rig is done: what was to be done, and what was measured (empty: nothing was)."""

    kind: ClassVar[str] = "rig-step-done"
    rig: str
    step: str
    words: str
    measured: str
    low: float | None
    high: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class RigSignedOff(Event):
    """A rig is built, measured and self-checked: signed by who built it and by who checked the wiring."""

    kind: ClassVar[str] = "rig-signed-off"
    rig: str
    rig_sha256: str
    steps: int
    built_by: str
    checked_by: str
    self_check: str


@dataclass(frozen=True, slots=True)
class Stamped:
    """An event with its place in time: nanoseconds of the engine's clock, and UTC for the record."""

    number: int
    at_ns: int
    utc: str
    order: str
    serial: str
    event: Event

    @property
    def at_s(self) -> float:
        """Engine time in seconds."""
        return self.at_ns / 1e9

    def body(self) -> dict[str, Any]:
        """The event's own fields, ready for JSON."""
        event = self.event
        return {name: getattr(event, name) for name in _FIELDS[event.kind]}


EVENT_TYPES: dict[str, type[Event]] = {cls.kind: cls for cls in Event.__subclasses__()}
_FIELDS = {cls.kind: tuple(field.name for field in fields(cls)) for cls in EVENT_TYPES.values()}


def event_from(kind: str, body: dict[str, Any]) -> Event:
    """Rebuild an event read from a record.

    Raises:
        ValueError: for a kind this version does not know, or a body with other fields.

    """
    cls = EVENT_TYPES.get(kind)
    if cls is None:
        raise ValueError(f"unknown event kind {kind!r}")
    names = {field.name for field in fields(cls)}
    if names != body.keys():
        raise ValueError(f"event {kind!r} has fields {sorted(body)}, expected {sorted(names)}")
    enums: dict[str, type[StrEnum]] = {
        "rail": Rail,
        "load": Rail,
        "verdict": Verdict,
        "purpose": Purpose,
    }
    return cls(**{key: enums[key](value) if key in enums else value for key, value in body.items()})
