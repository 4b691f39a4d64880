"""What was done with a unit and what was read of it, row by row, beside what had to be there."""

from __future__ import annotations

from collections.abc import Iterator

from hal.nest import OutputLevel
from rig.events import (
    AirMeasured,
    AnswerSeen,
    BenchTripped,
    CheckDone,
    ContactDue,
    ContactEnded,
    EdgeBegun,
    LedSeen,
    OutputRead,
    PauseEnded,
    PersonSilent,
    RequirementJudged,
    Stamped,
    StepStarted,
    SupplyMeasured,
    SupplySwitched,
    ToleranceScanned,
    UnitJudged,
    UnitRecognised,
)
from rig.planning.plan import Answer, AwaitAnswer, MakeContact, Plan, PlannedStep
from rig.planning.plan import Requirement as Proves
from rig.recount.attempt import Attempt
from rig.recount.edge_rows import EdgeRows
from rig.recount.inspected import air_row, led_row, supply_row
from rig.recount.row import Part, Row
from rig.sequencer.any_work import CONFIRMATION, LEAVES, WITHOUT_SUPPLY
from rig.sequencer.output_type import drive_of
from wiring.profile import RigProfile
from wiring.saying import say, together
from wiring.terms import OutputType

_STATES = {True: "on", False: "off", None: "neither on nor off"}
_COMES = {"from the last position": "from last"}
_CLEAR = "beam clear"
_SEARCHED = "search"  # what readings of a survey are recorded as, before the edges
_CHECK_POSITIONS = frozenset(str(one) for one in Proves)


def rows_of(attempt: Attempt) -> Iterator[Row]:
    """Every row up to the verdict, in order; raises NotRebuilt."""
    if attempt.is_survey:
        # Only here: it needs numpy, whose import takes longer than all the rest.
        from rig.recount.surveyed import survey_made

        made = survey_made(attempt)
        return _Teller(attempt, made.plan, made.rig, 1.0).rows()
    planned = attempt.planned
    return _Teller(attempt, planned.plan, planned.case.rig, planned.zone.scale).rows()


class _Teller:
    """Goes through the events of one attempt; what belongs together becomes one row."""

    def __init__(self, attempt: Attempt, plan: Plan, rig: RigProfile, scale: float) -> None:
        self._events = attempt.account
        self._begin_s = attempt.begin.at_s
        self._plan, self._rig, self._scale = plan, rig, scale
        self._part = Part.INSPECTION
        self._step: PlannedStep | None = None
        self._pause_s: float | None = None
        self._outputs: list[OutputRead] = []
        self._read_before: set[str] = set()
        self._edges = EdgeRows()

    def rows(self) -> Iterator[Row]:
        """Every row."""
        for one, after in zip(self._events, (*self._events[1:], None), strict=True):
            self._part = _part(one, self._part)
            told = self._told(one, after)
            if told is not None:
                what, read, wanted, *proves = told
                yield Row(self._part, one.number, self._since_s(one), what, read, wanted, *proves)
            yield from self._edges.told(one, self._since_s(one))

    def _since_s(self, one: Stamped) -> float:
        return round(one.at_s - self._begin_s, 3)

    def _told(self, one: Stamped, after: Stamped | None) -> tuple[str, ...] | None:
        match one.event:
            case OutputRead() as reading:
                return self._output(reading, after)
            case CheckDone() as done:
                return self._check(done)
            case ToleranceScanned() as scanned:
                return _scan(scanned)
            case UnitRecognised() as found:
                setting = (found.mode, found.output_function, found.output_type)
                return "set to", " ".join(word for word in setting if word), "", found.doubts or "no doubt"
            case PersonSilent(words=words):
                return "the person", words, "an answer"
            case BenchTripped(words=words, check=check):
                return "TRIPPED, everything off", words, check
        return self._taught(one, after) or self._inspected(one)

    def _inspected(self, one: Stamped) -> tuple[str, ...] | None:
        match one.event:
            case SupplySwitched(on=on):
                return say("supply {what}", what="on" if on else "off"), "", ""
            case SupplyMeasured() as measured:
                return supply_row(measured, self._plan, self._rig)
            case AirMeasured() as air:
                return air_row(air, self._rig)
            case LedSeen() as seen:
                return led_row(seen)
        return None

    def _taught(self, one: Stamped, after: Stamped | None) -> tuple[str, ...] | None:
        match one.event:
            case StepStarted(number=number):
                return self._begun(number)
            case ContactDue() as due if after is not None and isinstance(after.event, UnitJudged):
                return self._too_late(due)
            case PauseEnded(length_s=length_s):
                self._pause_s = length_s
            case ContactEnded() as ended:
                return self._contact(ended)
            case AnswerSeen(expected=expected, seen=seen):
                return "LED answers", Answer.said_again(seen), Answer.said_again(expected)
        return None

    def _begun(self, number: int) -> tuple[str, ...] | None:
        steps = self._plan.steps
        self._step = steps[number - 1] if 0 < number <= len(steps) else None
        if self._step is None or isinstance(self._step, MakeContact | AwaitAnswer):
            return None
        return self._step.text, "", ""

    def _too_late(self, due: ContactDue) -> tuple[str, ...]:
        read = [say("{since_power_s:.1f} s after power-up", since_power_s=due.since_power_s)]
        wanted = [
            say("its end within {teach_window_s:g} s of power-up", teach_window_s=self._plan.teach_window_s)
        ]
        if (since_s := due.since_contact_s) is not None:
            timeout_s = self._plan.teach_timeout_s
            read.append(say("{since_s:.1f} s after the contact before", since_s=since_s))
            wanted.append(say("{timeout_s:g} s of the contact before", timeout_s=timeout_s))
        return "a contact would begin", together(", ", read), together(", ", wanted)

    def _contact(self, ended: ContactEnded) -> tuple[str, ...]:
        read: list[str] = [say("{length_s:.3f} s", length_s=ended.length_s)]
        wanted: list[str] = []
        if ended.answer not in ("timed", "none"):
            read.append(say("LED {answer}", answer=Answer.said_again(ended.answer)))
        if self._pause_s is not None:
            read.append(say("{pause_s:.3f} s after the one before", pause_s=self._pause_s))
        if isinstance(self._step, MakeContact):
            wanted.append(
                say(
                    "{shortest_s:g} to {longest_s:g} s",
                    shortest_s=self._step.shortest_s,
                    longest_s=self._step.longest_s,
                )
            )
            if self._step.until is not None:
                wanted.append(say("LED {words}", words=self._step.until.words))
            if self._pause_s is not None and self._step.longest_gap_s is not None:
                wanted.append(
                    say(
                        "at most {longest_gap_s:g} s after the one before",
                        longest_gap_s=self._step.longest_gap_s,
                    )
                )
        self._pause_s = None
        return say("teach wire to {rail}", rail=ended.rail), together(", ", read), together(", ", wanted)

    def _output(self, reading: OutputRead, after: Stamped | None) -> tuple[str, ...] | None:
        self._outputs.append(reading)
        if reading.where in _CHECK_POSITIONS:
            return None
        at_mm = reading.position_mm
        if reading.where.startswith(_SEARCHED):
            where = _CLEAR if at_mm is None else say("at {position_mm:.1f} mm", position_mm=at_mm)
            what = say("{where}, pulled to {load}", where=where, load=reading.load)
            return what, _levels([self._outputs.pop()]), "still, at a rail"
        if reading.where == LEAVES:
            place = _CLEAR if at_mm is None else say("target at {position_mm:.1f} mm", position_mm=at_mm)
            what = say("{where}: {place}", where=reading.where, place=place)
            return what, _levels([self._outputs.pop()]), "another one without the target"
        if reading.where not in (WITHOUT_SUPPLY, CONFIRMATION, "at rest"):
            # Measuring says what it was read for in an event of its own.
            self._outputs.clear()
            return None
        if after is not None and isinstance(after.event, OutputRead) and after.event.where == reading.where:
            return None
        readings, self._outputs = self._outputs, []
        levels = _levels(readings)
        if reading.where == CONFIRMATION:
            return "output confirms", levels, "" if self._step is None else self._step.text
        drive = drive_of({one.load: one for one in readings}) if len(readings) > 1 else ""
        return (
            say("output {where}", where=reading.where),
            say("{levels}: {drive}", levels=levels, drive=drive),
            self._resting(reading.where),
        )

    def _resting(self, where: str) -> str:
        if where == WITHOUT_SUPPLY:
            return "follows the load"
        pnp = self._plan.inspection.output_type is OutputType.PNP
        return "at a rail, not held at L-" if pnp else "at a rail"

    def _check(self, done: CheckDone) -> tuple[str, ...]:
        readings, self._outputs = self._outputs, []
        where = _CLEAR if done.position_mm is None else self._at(done.position_mm, done.where)
        again = done.requirement in self._read_before
        self._read_before.add(done.requirement)
        proves = "the same, once more" if again else done.requirement
        return (
            where,
            say("{readings}: {states}", readings=_levels(readings), states=_STATES[done.read_on]),
            _STATES[done.expected_on],
            proves,
        )

    def _at(self, position_mm: float, comes: str) -> str:
        machine = (
            ""
            if self._scale == 1
            else say(" ({position_mm:.1f} mm at the machine)", position_mm=position_mm / self._scale)
        )
        return say(
            "at {position_mm:.1f} mm{machine}, {comes}",
            position_mm=position_mm,
            machine=machine,
            comes=_COMES.get(comes, comes),
        )


def _part(one: Stamped, now: Part) -> Part:
    match one.event:
        case StepStarted():
            return Part.TEACHING
        case OutputRead(where=where) if where in _CHECK_POSITIONS:
            return Part.PROOF
        case RequirementJudged():
            return Part.DECISION
        case EdgeBegun():
            return Part.PROOF
        case OutputRead(where=where) if where.startswith(_SEARCHED):
            return Part.SEARCH
        case UnitRecognised():
            return Part.RECOGNISED
    return now


def _scan(scanned: ToleranceScanned) -> tuple[str, ...]:
    what = say(
        "{count} readings from {first_mm:.1f} to {last_mm:.1f} mm",
        count=len(scanned.outputs.replace("!", "")),
        first_mm=scanned.first_mm,
        last_mm=scanned.last_mm,
    )
    changes = "1 change" if scanned.changes == 1 else say("{changes} changes", changes=scanned.changes)
    return (
        what,
        say("{outputs}: {changes}", outputs=scanned.outputs, changes=changes),
        "1 change at most",
        "output changes once",
    )


def _levels(readings: list[OutputRead]) -> str:
    return together(", ", (one.level if one.steady else _not_still(one) for one in readings))


def _not_still(reading: OutputRead) -> str:
    return say("{level}, not still", level=_short(reading))


def _short(reading: OutputRead) -> str:
    return "moving" if reading.level == OutputLevel.UNSTEADY else reading.level
