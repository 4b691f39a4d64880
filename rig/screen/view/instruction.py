"""The instruction: the single next thing to do, large, with a sentence and what to know about it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from hal.errors import BenchError, TripKind
from hal.operator import RequestKind
from rig.events import Verdict
from rig.journal import JournalError
from rig.screen.view.board import Board, Phase
from rig.screen.view.lines import Role
from wiring.profile import TargetKind
from wiring.saying import said_by

MARKS = {Verdict.GOOD: "+", Verdict.BAD: "x", Verdict.UNDECIDED: "?"}
"""Beside each verdict, so that it can be told without colour."""

VERDICT_ROLES = {Verdict.GOOD: Role.GOOD, Verdict.BAD: Role.BAD, Verdict.UNDECIDED: Role.WARN}

_REQUESTS = {
    RequestKind.PLACE_TARGET: "place",
    RequestKind.CLEAR_BEAM: "clear",
    RequestKind.COVER_FACE: "cover",
    RequestKind.SLIDE_IN: "slide-in",
    RequestKind.SLIDE_OUT: "slide-out",
    RequestKind.READ_SCALE: "read-scale",
}


_MORE = {
    RequestKind.SLIDE_IN: "slide",
    RequestKind.SLIDE_OUT: "slide",
    RequestKind.READ_SCALE: "number",
}


@dataclass(frozen=True, slots=True)
class Instruction:
    """What the screen says.

    Attributes:
        large: a word or two, to be read from far.
        sentence: the same in full.
        more: why, or what comes after.

    """

    large: str
    sentence: str
    more: str = ""
    role: Role = Role.WISH


def instruction(board: Board) -> Instruction:
    """The instruction of this moment."""
    return _INSTRUCTIONS[board.phase](board)


def _ready(board: Board) -> Instruction:
    words = board.words
    if board.barred is not None:
        why, about = words(board.barred.key, **board.barred.values), board.barred.about
        return Instruction(
            words(f"big.{about}"), words("do.barred", why=why), words(f"more.{about}"), Role.WARN
        )
    sentence = words("do.scan", nest=_nest(board))
    if board.ended_by:
        return Instruction(words("big.scan"), sentence, words("more.ended", why=words.tell(board.ended_by)))
    return Instruction(words("big.scan"), sentence, words("more.ready"))


def _opening(board: Board) -> Instruction:
    return Instruction(board.words("big.opening"), board.words("do.opening"), role=Role.PLAIN)


def _scan(board: Board) -> Instruction:
    words = board.words
    left = len(board.standing.open_serials)
    return Instruction(words("big.scan"), words("do.scan", nest=_nest(board)), words("more.scan", left=left))


def _fit(board: Board) -> Instruction:
    words = board.words
    return Instruction(
        words("big.fit"), words("do.fit", serial=board.serial, nest=_nest(board)), words("more.fit")
    )


def _asked(board: Board) -> Instruction:
    words, asked = board.words, board.request
    assert asked is not None, "this phase begins with a request"
    name = _REQUESTS.get(RequestKind(asked.request))
    if name is None:
        return Instruction(words("big.confirm"), words.tell(asked.text), words("more.done"))
    at = words.mm(asked.position_mm) if asked.position_mm is not None else ""
    more = words(f"more.{_MORE.get(RequestKind(asked.request), 'done')}")
    sentence = words(f"do.{name}", text=words.tell(asked.text))
    if name == "place" and board.job.inputs.rig["target"]["kind"] == TargetKind.MANUAL:
        sentence = words("do.place-from-side" if board.target_out else "do.place-slide", at=at)
    return Instruction(words(f"big.{name}", at=at), sentence, more)


def _work(board: Board) -> Instruction:
    words, step = board.words, board.steps.now
    if step is None:
        return Instruction(words("big.work"), words("do.work", serial=board.serial), role=Role.PLAIN)
    stage = step.key.partition("/")[0]
    return Instruction(
        words(f"big.{stage}"), f"{board.serial}: {step.text}", words("more.work"), role=Role.PLAIN
    )


def _take_out(board: Board) -> Instruction:
    words, judged = board.words, board.judged
    assert judged is not None, "nothing is taken out before its verdict"
    goes_on = judged.verdict is Verdict.GOOD and bool(board.standing.open_serials)
    return Instruction(
        f"{words(f'verdict.{judged.verdict}').upper()} {MARKS[judged.verdict]}",
        verdict_sentence(board),
        words(
            "more.take-out-good" if goes_on else "more.take-out-aside", serial=board.serial, nest=_nest(board)
        ),
        VERDICT_ROLES[judged.verdict],
    )


def verdict_sentence(board: Board) -> str:
    """Serial, verdict and why."""
    judged = board.judged
    assert judged is not None, "asked for a verdict before there is one"
    reason = board.words.of("reason", judged.reason)
    key = "verdict.line-good" if judged.verdict is Verdict.GOOD else "verdict.line"
    why = board.words.tell(judged.words) if board.words.knows(judged.words) else ""
    return board.words(key, serial=board.serial, reason=reason, why=why)


def _aside(board: Board) -> Instruction:
    words, judged = board.words, board.judged
    verdict = judged.verdict if judged is not None else Verdict.UNDECIDED
    said = words(f"verdict.{verdict}")
    return Instruction(
        words("big.aside"),
        words("do.aside", serial=board.serial, verdict=said),
        words("more.aside", serial=board.serial),
        VERDICT_ROLES[verdict],
    )


def _tripped(board: Board) -> Instruction:
    words, cause = board.words, board.cause
    kind = TripKind.PROGRAM if cause is None else cause.kind
    still = words("more.still") if board.still else ""
    again = words("more.interrupted", serial=board.interrupted) if board.interrupted else ""
    parts = (still, words.of("trip-check", kind), again, words("more.reset"))
    return Instruction(
        words("big.tripped"),
        words("do.tripped", cause=words.of("trip", kind)),
        " ".join(part for part in parts if part),
        Role.BAD,
    )


def _ended(board: Board) -> Instruction:
    words = board.words
    counts = {str(verdict): board.standing.count(verdict) for verdict in Verdict}
    role = Role.GOOD if counts["good"] == len(board.standing.units) else Role.WARN
    more = words("more.done-order-undecided" if counts["undecided"] else "more.done-order")
    return Instruction(words("big.ended"), words("do.ended", **counts), more, role)


def _failed(board: Board) -> Instruction:
    words, failure = board.words, board.failure
    if isinstance(failure, JournalError):
        return Instruction(
            words("big.failed"),
            words("do.no-record", why=_short(words.tell(said_by(failure)))),
            words("more.no-record"),
            Role.BAD,
        )
    if board.cause is not None:
        kind = board.cause.kind
        more = f"{words(f'trip-check.{kind}')} {words('more.reopen')}"
        cause = words.of("trip", kind)
        return Instruction(words("big.failed"), words("do.tripped", cause=cause), more, Role.BAD)
    check = words.tell(failure.check) if isinstance(failure, BenchError) else ""
    more = f"{check} {words('more.reopen')}".strip()
    why = "" if failure is None else words.tell(said_by(failure))
    return Instruction(words("big.failed"), words("do.failed", why=why), more, Role.BAD)


def _short(failure: str) -> str:
    """What happened, without the folders before the name of the file and the advice behind it."""
    return re.sub(r"\S*/", "", failure).partition("; ")[0]


def _nest(board: Board) -> str:
    return str(board.job.inputs.rig["nest"][0]["name"])


_INSTRUCTIONS = {
    Phase.READY: _ready,
    Phase.OPENING: _opening,
    Phase.SCAN: _scan,
    Phase.FIT: _fit,
    Phase.ASKED: _asked,
    Phase.WORK: _work,
    Phase.TAKE_OUT: _take_out,
    Phase.ASIDE: _aside,
    Phase.TRIPPED: _tripped,
    Phase.ENDED: _ended,
    Phase.FAILED: _failed,
}
