"""A gauge study as the screen says it: who goes on, with which unit, and what it comes to."""

from __future__ import annotations

from dataclasses import replace

from rig.events import Stamped, UnitJudged, UnitStarted, Verdict
from rig.gauge.components import Part
from rig.gauge.course import Course
from rig.gauge.design import Factor
from rig.gauge.desk import Asks, Wanted
from rig.gauge.figures import Figures
from rig.gauge.plot import by_level, by_unit
from rig.gauge.verdict import Fitness, Mending, fitness_of, mending
from rig.planning.plan import Plan
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import Instruction
from rig.screen.view.lines import Line, Role, Span, joined, line
from rig.screen.view.standing import Standing, UnitStanding
from rig.screen.view.wording import Words

_ROLES = {Fitness.FIT: Role.GOOD, Fitness.RESERVED: Role.WARN, Fitness.UNFIT: Role.BAD}
_WIDE = 100


class StudyStanding(Standing):
    """How a study stands: its trials in the place of an order's units."""

    def __init__(self, course: Course) -> None:
        super().__init__([str(trial.number) for trial in course.design.trials])
        self._course = course

    def take(self, stamped: Stamped) -> None:
        """Take note of the pace; the rest is the course's."""
        match stamped.event:
            case UnitStarted():
                self._last_s = stamped.at_s if self._last_s is None else self._last_s
            case UnitJudged(reason=reason):
                self._note_pace(UnitStanding(Verdict.GOOD, reason), stamped.at_s)

    @property
    def open_serials(self) -> tuple[str, ...]:
        """The units of the trials that are left, in their order."""
        return tuple(trial.unit for trial in self._course.left)

    @property
    def to_put_aside(self) -> tuple[str, ...]:
        """None: what could not be measured is tried again."""
        return ()


def only_edge(plan: Plan, edge: str) -> Plan:
    """The plan of an order without what a study does not do: it teaches nothing, and measures one edge."""
    assert plan.measuring is not None, "studies are opened for orders that measure"
    tasks = tuple(task for task in plan.measuring.tasks if task.called == edge)
    return replace(plan, steps=(), measuring=replace(plan.measuring, tasks=tasks))


def study_instruction(board: Board, wanted: Wanted | None, figures: Figures | None) -> Instruction | None:
    """What a study says otherwise than an order; None where it says the same."""
    if board.phase is Phase.ENDED and figures is not None:
        return _ended(board.words, figures)
    if board.phase is Phase.TAKE_OUT:
        return _take_out(board)
    if wanted is None:
        return None
    if board.phase.takes_serial:
        return _wanted(board, wanted)
    return _fit(board, wanted) if board.phase is Phase.FIT else None


def _wanted(board: Board, wanted: Wanted) -> Instruction:
    words, trial = board.words, wanted.trial
    values = {"number": trial.number, "of": wanted.of, "level": trial.level, "unit": trial.unit}
    more = words("more.ended", why=words.tell(board.ended_by)) if board.ended_by else words("study.more-scan")
    if wanted.asks is Asks.UNIT:
        return Instruction(trial.unit.upper(), words("study.do-unit", **values), more)
    if wanted.factor is Factor.PERSON:
        return Instruction(
            trial.level.upper(), words("study.do-person", **values), words("study.more-person")
        )
    return Instruction(
        words("study.big-setting"), words("study.do-setting", **values), words("study.more-setting")
    )


def _fit(board: Board, wanted: Wanted) -> Instruction:
    words, nest = board.words, str(board.job.inputs.rig["nest"][0]["name"])
    sentence = words("study.do-fit", level=wanted.trial.level, serial=board.serial, nest=nest)
    return Instruction(words("big.fit"), sentence, words("more.fit"))


def _take_out(board: Board) -> Instruction | None:
    words, nest = board.words, str(board.job.inputs.rig["nest"][0]["name"])
    if board.judged is None:
        return None
    if board.judged.verdict is Verdict.GOOD:
        sentence = words("study.do-out", serial=board.serial, nest=nest)
        return Instruction(words("study.big-measured"), sentence, words("study.more-out"), Role.GOOD)
    sentence = words("study.not-measured", serial=board.serial, why=words.tell(board.judged.words))
    return Instruction(words("study.big-again"), sentence, words("study.more-again", nest=nest), Role.WARN)


def _ended(words: Words, figures: Figures) -> Instruction:
    share, between = figures.share_of_tolerance(Part.GAUGE), figures.shares_of_tolerance
    fitness = fitness_of(share)
    sentence = words(
        "study.judging",
        share=words.number(100 * share),
        tolerance=words.short(figures.tolerance_mm),
        low=words.number(100 * between.low),
        high=words.number(100 * between.high, 0),
    )
    large = words(f"study.big-{fitness.name.lower()}")
    return Instruction(large, sentence, _mend(words, mending(figures)), _ROLES[fitness])


def _mend(words: Words, mend: Mending) -> str:
    values = {"unit": mend.unit, "level": mend.level, "off": words.mm(mend.off_mm, 3)}
    return words(f"study.mend-{mend.what}", **values)


def study_tally(board: Board, course: Course, width: int) -> Line:
    """Done, the round, left, pace and time left."""
    words, standing = board.words, board.standing
    left, of = len(course.left), len(course.design.trials)
    groups = [line(Span(f" {words('study.done', done=of - left, of=of)}", Role.STRONG))]
    if course.left:
        groups.append(line(words("study.round", number=course.left[0].repeat, of=course.design.repeats)))
    pace_s, left_s = standing.seconds_a_unit, standing.left_s
    if course.left and pace_s and left_s is not None:
        groups.append(line(words("tally.pace", rate=f"{3600 / pace_s:.0f}")))
        groups.append(line(words("tally.time", time=words.clock(left_s))))
    return joined(groups, "   " if width >= _WIDE else "  ", width)


def study_plots(figures: Figures, words: Words, rows: int) -> list[Line]:
    """The plots by unit, and below, where there is room, by level."""
    first = [words("study.by-unit"), *by_unit(figures)]
    second = ["", words("study.by-level"), *by_level(figures)]
    told = [*first, *second] if len(first) + len(second) <= rows else first
    return [line(f" {one}") for one in told[:rows]]
