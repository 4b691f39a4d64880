"""What the working screen says of a lot: which place of the box comes next, the decision, the tests of one unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from rig.events import (
    CharacteristicJudged,
    Stamped,
    StepStarted,
    TargetMoved,
    UnitJudged,
    UnitStarted,
    Verdict,
)
from rig.lots.decision import Standing
from rig.lots.draw import place_of
from rig.planning.plan import Plan, Requirement
from rig.sampling.plan import Decision
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import Instruction, instruction
from rig.screen.view.lines import Role
from rig.screen.view.steps import State, Step, Steps
from rig.screen.view.wording import Words
from sequences.receiving import Characteristic

_TURNS: Mapping[str, Characteristic] = {
    str(Requirement.DETECTS_INSIDE): Characteristic.OUTPUT,
    str(Requirement.BLIND_END): Characteristic.BLIND_ZONE,
    str(Requirement.RANGE_END): Characteristic.FAR_END,
    "LED": Characteristic.LED,
}
"""What the target goes to each of its places for, before anything is taught."""
_STATES = {Verdict.GOOD: State.DONE, Verdict.BAD: State.WRONG, Verdict.UNDECIDED: State.WRONG}


class LotSteps(Steps):
    """The tests of one unit after another, as the receiving plan asks for them."""

    def __init__(self, asked: tuple[Characteristic, ...], plan: Plan, words: Words) -> None:
        self._asked = asked
        self._teaches = False
        super().__init__(plan, words)

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        at_s = stamped.at_s
        match stamped.event:
            case UnitStarted():
                self.rows, self._teaches = list(self._fresh()), False
                self._begin(_key(Characteristic.SUPPLY_CURRENT), at_s)
            case TargetMoved(where=where) if where in _TURNS and not self._teaches:
                self._begin(_key(_TURNS[where]), at_s)
            case StepStarted() if not self._teaches:
                self._teaches = True
                self._begin(_key(Characteristic.TRIAL_SETTING), at_s)
            case CharacteristicJudged(characteristic=characteristic, verdict=verdict):
                self._judged(f"test/{characteristic}", verdict)
            case UnitJudged(verdict=verdict):
                self._finish(at_s, good=verdict is Verdict.GOOD)

    def _fresh(self) -> Iterator[Step]:
        for one in self._asked:
            yield Step(_key(one), self._words(f"lot.{one.key.replace('_', '-')}"))

    def _judged(self, key: str, verdict: Verdict) -> None:
        row = self._row(key)
        if row is not None and row.state is not State.NOW:
            row.state = _STATES[verdict]


def _key(one: Characteristic) -> str:
    return f"test/{one}"


@dataclass(frozen=True, slots=True)
class LotView:
    """How a lot stands, for the screen.

    Attributes:
        next_serial: the unit to take now; None once the lot is decided, or only a person can.
        tried: how often that one was tested already.
        sound: whether that one was found sound before: it is tested to clear the bench of a doubt.
        not_aside: units with a defect of which nobody has said that they are put aside.
        closed: the decision that was entered; empty as long as none was.
        next_lot: how the supplier's next lot is inspected: normal, tightened, stopped; empty if no lot changes that.

    """

    standing: Standing
    next_serial: str | None
    tried: int
    sound: bool
    not_aside: tuple[str, ...]
    closed: str
    next_lot: str


def lot_instruction(board: Board, view: LotView) -> Instruction:
    """The instruction of this moment."""
    if board.barred is None and board.phase.takes_serial and view.next_serial is not None:
        return _take(board, view, view.next_serial)
    if board.phase is Phase.TAKE_OUT and not board.in_nest_not_good:
        nest = str(board.job.inputs.rig["nest"][0]["name"])
        return replace(
            instruction(board), more=board.words("lot.take-out", nest=nest, place=place_of(board.serial))
        )
    if board.phase is Phase.ENDED or (board.phase.takes_serial and view.next_serial is None):
        return _ended(board.words, view)
    return instruction(board)


def _take(board: Board, view: LotView, serial: str) -> Instruction:
    words, place = board.words, place_of(serial)
    nest = str(board.job.inputs.rig["nest"][0]["name"])
    more = words("lot.left", left=len(view.standing.left))
    if view.tried:
        more = words("lot.sound-again" if view.sound else "lot.again")
    sentence = words("lot.take", place=place, nest=nest)
    if board.ended_by:
        more = words("more.ended", why=board.ended_by)
    return Instruction(words("lot.place", place=place), sentence, more)


def _ended(words: Words, view: LotView) -> Instruction:
    standing = view.standing
    found = words("lot.found", tested=standing.tested, defective=standing.defective)
    if view.closed:
        next_lot = words(f"lot.next-{view.next_lot}") if view.next_lot else ""
        role = Role.GOOD if view.closed == Decision.ACCEPTED else Role.BAD
        return Instruction(
            words(f"lot.{view.closed}"), found, f"{words('lot.closed')} {next_lot}".strip(), role
        )
    decision = standing.decision
    if decision is None:
        places = ", ".join(str(place_of(one)) for one in standing.undecided)
        return Instruction(words("lot.open"), found, words("lot.undecided", places=places), Role.WARN)
    role = Role.GOOD if decision is Decision.ACCEPTED else Role.BAD
    places = ", ".join(str(place_of(one)) for one in view.not_aside)
    more = words("lot.not-aside", places=places) if places else words("lot.close")
    return Instruction(words(f"lot.{decision}"), found, more, role)
