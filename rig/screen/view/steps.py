"""The steps of the work on one unit, with their state and time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from rig.edges.edge import Edge
from rig.events import (
    CheckDone,
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    Stamped,
    StepStarted,
    TargetMoved,
    ToleranceScanned,
    UnitJudged,
    UnitStarted,
    Verdict,
)
from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    Plan,
    PlannedStep,
    PowerCycle,
    Requirement,
)
from rig.screen.view.wording import Words
from rig.sequencer.checking import SCANNING
from wiring.terms import DetectionMode, LedKind, Verification


class State(StrEnum):
    """How far a step is."""

    TODO = "todo"
    NOW = "now"
    DONE = "done"
    WRONG = "wrong"


_SLOWEST_HZ = 0.05
"""More slowly, no LED flashes by itself."""


@dataclass(slots=True)
class Step:
    """One row of the list; times in seconds of the engine's clock."""

    key: str
    text: str
    state: State = State.TODO
    began_s: float | None = None
    took_s: float | None = None


class Steps:
    """The list for one unit after another; feed it every event of the order."""

    def __init__(self, plan: Plan, words: Words) -> None:
        self._plan = plan
        self._words = words
        self.rows = list(self._fresh())

    @property
    def now(self) -> Step | None:
        """The step in work."""
        return next((row for row in self.rows if row.state is State.NOW), None)

    @property
    def contact(self) -> MakeContact | None:
        """The contact that the step in work makes."""
        row = self.now
        if row is None or not row.key.startswith("step/"):
            return None
        step = self._plan.steps[int(row.key[5:]) - 1]
        return step if isinstance(step, MakeContact) else None

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        at_s = stamped.at_s
        match stamped.event:
            case UnitStarted():
                self.rows = list(self._fresh())
                self._begin("inspect", at_s)
            case StepStarted(number=number):
                self._begin(f"step/{number}", at_s)
            case TargetMoved(where=where) if self._row(f"check/{where}") is not None:
                self._begin(f"check/{where}", at_s)
            case TargetMoved(where=where, position_mm=at_mm) if where == SCANNING and at_mm is not None:
                self._begin(self._scan_at(at_mm), at_s)
            case ToleranceScanned(first_mm=first_mm, changes=changes):
                self._end(f"scan/{first_mm}", at_s, right=changes <= 1)
            case CheckDone() as done:
                self._end(f"check/{done.requirement}", at_s, right=done.read_on is done.expected_on)
            case UnitJudged(verdict=verdict):
                self._finish(at_s, good=verdict is Verdict.GOOD)
            case _:
                self._take_edge(stamped)

    def _take_edge(self, stamped: Stamped) -> None:
        at_s = stamped.at_s
        match stamped.event:
            case EdgeBegun(edge=edge):
                self._begin(f"edge/{edge}", at_s)
            case EdgeMeasured(edge=edge):
                self._end(f"edge/{edge}", at_s, right=True)
            case EdgeNotMeasured(edge=edge):
                self._end(f"edge/{edge}", at_s, right=False)

    def _fresh(self) -> Iterator[Step]:
        words = self._words
        yield Step("inspect", words("step.inspect"))
        for number, step in enumerate(self._plan.steps, start=1):
            yield Step(f"step/{number}", step_words(step, words))
        if self._plan.method is Verification.POSITIONS:
            for check in self._plan.checks:
                at = words.mm(check.position_mm) if check.position_mm is not None else words("check.nothing")
                text = requirement_words(check.requirement, self._plan.mode, words)
                yield Step(f"check/{check.requirement}", f"{text}: {at}")
            for scan_mm in self._plan.scans_mm:
                first, last = words.tenths(scan_mm[0]), words.mm(scan_mm[-1])
                yield Step(f"scan/{scan_mm[0]}", words("step.scan", first=first, last=last))
        if self._plan.measuring is not None:
            for task in self._plan.measuring.tasks:
                yield self._edge(task.called)

    def _scan_at(self, at_mm: float) -> str:
        """The scan on whose way a position lies."""
        scans_mm = self._plan.scans_mm
        return f"scan/{min(scans_mm, key=lambda one: min(abs(at_mm - place) for place in one))[0]}"

    def _edge(self, edge: Edge) -> Step:
        name = edge_words(edge, self._plan.mode, self._words)
        at_mm = self._expected_mm(edge)
        near = "" if at_mm is None else self._words("step.edge-near", at=self._words.mm(at_mm))
        return Step(f"edge/{edge}", self._words("step.edge", edge=name) + near)

    def _expected_mm(self, edge: Edge) -> float | None:
        """Where the set point of an edge lies on the bench; None for one that nobody sets."""
        points = self._plan.grounds.points
        ends = {Edge.INNER: points[0], Edge.OUTER: points[-1]} if points else {}
        return ends[edge].bench_mm if edge in ends else None

    def _row(self, key: str) -> Step | None:
        return next((row for row in self.rows if row.key == key), None)

    def _begin(self, key: str, at_s: float) -> None:
        row = self._row(key)
        if row is None or row.state is State.NOW:
            return
        for other in self.rows:
            if other.state is State.NOW:
                self._close(other, at_s, State.DONE)
        for later in self.rows[self.rows.index(row) :] if key.startswith("step/") else ():
            later.state, later.began_s, later.took_s = State.TODO, None, None
        row.state, row.began_s = State.NOW, at_s

    def _end(self, key: str, at_s: float, *, right: bool) -> None:
        row = self._row(key)
        if row is None:
            return
        if row.state is not State.NOW:
            self._begin(key, at_s)
        self._close(row, at_s, State.DONE if right else State.WRONG)

    def _finish(self, at_s: float, *, good: bool) -> None:
        row = self.now
        if row is not None:
            self._close(row, at_s, State.DONE if good else State.WRONG)

    @staticmethod
    def _close(row: Step, at_s: float, state: State) -> None:
        row.state = state
        row.took_s = at_s - row.began_s if row.began_s is not None else None


def step_words(step: PlannedStep, words: Words) -> str:
    """A planned step in the words of the catalogue."""
    match step:
        case PlaceTarget(position_mm=None):
            return words("step.clear")
        case PlaceTarget(where="cover"):
            return words("step.cover")
        case PlaceTarget(position_mm=position_mm):
            assert position_mm is not None
            return words("step.place", at=words.mm(position_mm))
        case MakeContact(rail=rail, until=until, for_s=for_s, times=times):
            often = f" {times}x" if times > 1 else ""
            if until is not None:
                return words("step.contact-until", rail=rail, often=often, answer=answer_words(until, words))
            return words("step.contact-for", rail=rail, often=often, time=words.seconds(for_s or 0.0))
        case PowerCycle(off_s=off_s):
            return words("step.power-cycle", time=words.seconds(off_s))
        case AwaitAnswer(answer=answer):
            return words("step.answer", answer=answer_words(answer, words))
        case AwaitOutput(on=on):
            return words("step.output", state=words("state.on" if on else "state.off"))
        case _:
            return words("step.rest", time=words.seconds(step.for_s))


def answer_words(answer: Answer, words: Words) -> str:
    """A LED pattern in the words of the catalogue."""
    return led_words(answer.kind, answer.rate_hz, answer.count, words)


def led_words(kind: LedKind, rate_hz: float | None, count: int | None, words: Words) -> str:
    """What a LED does, in the words of the catalogue."""
    if kind is LedKind.FLASHING and rate_hz is not None and rate_hz < _SLOWEST_HZ:
        return words("led.slow")  # it follows a target that is moved by hand
    return words(f"led.{kind}", rate=words.tenths(rate_hz or 0.0), count=count or 0)


def requirement_words(requirement: Requirement, mode: DetectionMode, words: Words) -> str:
    """What a check proves."""
    name = requirement.name.lower().replace("_", "-")
    return words(f"check.{name}", edge=edge_words(name.partition("-")[0], mode, words))


def edge_words(edge: str, mode: DetectionMode, words: Words) -> str:
    """What an edge of the zone is called: an end of a window, or the set point of a mode that has a single one."""
    if edge == Edge.BLIND or (mode is DetectionMode.WINDOW and edge in (Edge.INNER, Edge.OUTER)):
        return words(f"edge.{edge}")
    return words("edge.only")
