"""How edges were measured, and what was held against its limits, as rows of the account."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from rig.deciding.rule import SHOWN, decimals_of
from rig.events import (
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    EdgePassed,
    EdgeRead,
    EdgeSlid,
    FigureMeasured,
    PoweredUp,
    RequirementJudged,
    Stamped,
)
from rig.recount.row import Part, Row

_DETECTED = {True: "yes", False: "no", None: "neither"}


class EdgeRows:
    """Gathers the answers on the way to an edge, and tells them with what was found."""

    def __init__(self) -> None:
        self._answers: dict[str, list[str]] = {}
        self._first: dict[str, tuple[int, float]] = {}
        self._methods: dict[str, str] = {}

    def told(self, one: Stamped, at_s: float) -> Iterator[Row]:
        """The rows that an event completes."""
        match one.event:
            case EdgeRead() | EdgePassed() | EdgeSlid() as answered:
                self._gather(one, at_s, *_answer(answered))
            case EdgeBegun() as begun:
                wanted = f"to {begun.wanted_mm:.3g} mm"
                yield self._row(one, at_s, f"{begun.edge} edge, {self._way(begun)}", wanted=wanted)
            case EdgeMeasured() as measured:
                yield from self._gathered()
                for what, told in _found(measured):
                    yield Row(Part.FIGURES, one.number, at_s, f"{what}, {measured.edge}", told)
            case EdgeNotMeasured() as failed:
                yield from self._gathered()
                yield self._row(one, at_s, f"{failed.edge} edge not measured", failed.words, failed.check)
            case PoweredUp() as powered:
                yield self._row(one, at_s, "powered up: output after", _seconds(powered.on_after_s))
            case FigureMeasured() as figure:
                told = value_words(figure.value, figure.expanded, figure.unit)
                yield Row(Part.FIGURES, one.number, at_s, figure.name, told)
            case RequirementJudged() as judged:
                follows = _verdict(judged)
                whole = (judged.requirement, judged.words, limit_words(judged), follows)
                yield Row(Part.DECISION, one.number, at_s, *whole)

    def _way(self, begun: EdgeBegun) -> str:
        before, self._methods[begun.edge] = self._methods.get(begun.edge), begun.method
        if before in (None, begun.method):
            return begun.method if before is None else f"{begun.method}, on"
        return f"{begun.method}, anew: {before} left it open"

    @staticmethod
    def _row(one: Stamped, at_s: float, what: str, read: str = "", wanted: str = "") -> Row:
        return Row(Part.PROOF, one.number, at_s, what, read, wanted)

    def _gather(self, one: Stamped, at_s: float, what: str, answer: str) -> None:
        self._first.setdefault(what, (one.number, at_s))
        self._answers.setdefault(what, []).append(answer)

    def _gathered(self) -> Iterator[Row]:
        for what, answers in self._answers.items():
            yield Row(Part.ANSWERS, *self._first[what], what, ", ".join(_counted(answers)))
        self._answers, self._first = {}, {}


def _counted(answers: list[str]) -> Iterator[str]:
    """The answers in order, equal ones that follow one another counted."""
    for answer, alike in groupby(answers):
        count = sum(1 for _ in alike)
        yield answer if count == 1 else f"{count}x {answer}"


def value_words(value: float | None, expanded: float | None, unit: str, *, sign: bool = False) -> str:
    """A value with its expanded uncertainty, such as `300.12 ± 0.41 mm`; with its `sign` even if that is +."""
    if value is None:
        return "the bench cannot tell"
    shown, factor = SHOWN.get(unit, (unit, 1.0))
    plus = "+" if sign else ""
    if expanded is None:
        return f"{value * factor:{plus}.4g} {shown}"
    decimals = decimals_of(expanded * factor)
    return f"{value * factor:{plus}.{decimals}f} \u00b1 {expanded * factor:.{decimals}f} {shown}"


def limit_words(judged: RequirementJudged) -> str:
    """The limits of a requirement; empty where it has none."""
    shown, factor = SHOWN.get(judged.unit, (judged.unit, 1.0))
    low = "" if judged.low is None else f"{judged.low * factor:.6g}"
    high = "" if judged.high is None else f"{judged.high * factor:.6g}"
    if low and high:
        return f"{low} to {high} {shown}"
    if low or high:
        return f"{low} {shown} or more" if low else f"{high} {shown} or less"
    return ""


def _answer(answered: EdgeRead | EdgePassed | EdgeSlid) -> tuple[str, str]:
    """What was done, and what came of it."""
    if isinstance(answered, EdgeRead):
        at_mm = answered.position_mm
        still = "" if answered.steady else " (not still)"
        if at_mm is None:
            return f"{answered.where}: detected", f"{_DETECTED[answered.detected]}{still}"
        return (
            f"{answered.where}: target at mm, detected",
            f"{at_mm:.1f} {_DETECTED[answered.detected]}{still}",
        )
    way = f"{answered.start_mm:.1f} to {answered.end_mm:.1f} mm"
    if isinstance(answered, EdgePassed):
        return f"pass {way}, {answered.speed_mm_s:g} mm/s: output after", _seconds(answered.switched_s)
    return f"slid {way}: output after", f"{_seconds(answered.switched_s)}{_stood(answered)}"


def _seconds(seconds: float | None) -> str:
    return "not one change" if seconds is None else f"{seconds:.4f} s"


def _found(found: EdgeMeasured) -> Iterator[tuple[str, str]]:
    yield "operate point", value_words(found.operate_mm, found.operate_u_mm, "mm")
    yield "release point", value_words(found.release_mm, found.release_u_mm, "mm")
    yield "differential travel", value_words(found.travel_mm, found.travel_u_mm, "mm")
    if found.repeat_mm is not None:
        yield "repeat accuracy", f"{found.repeat_mm:.2f} mm"
    on, off = found.response_on_s, found.response_off_s
    if on is not None:
        yield "response time on", value_words(on, found.response_on_u_s, "s")
    if off is not None:
        yield "response time off", value_words(off, found.response_off_u_s, "s")
    yield "effort", f"{found.readings} readings, {found.moves} moves"


def _stood(slid: EdgeSlid) -> str:
    """By what is known where the target was then."""
    if slid.told_mm is not None:
        return f" ({slid.told_mm:g} mm, as read)"
    return f" ({len(slid.track)}x gauge)" if slid.track else ""


def _verdict(judged: RequirementJudged) -> str:
    if judged.risk is None:
        return str(judged.verdict)
    return f"{judged.verdict}, wrong with {percent_words(judged.risk)}"


def percent_words(share: float) -> str:
    """A chance in percent; what is less than a millionth is not told apart."""
    percent = 100 * share
    return f"{percent:.2g} %" if percent >= 0.0001 else "less than 0.0001 %"
