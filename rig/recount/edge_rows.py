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
from wiring.saying import say, together

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
                wanted = say("to {wanted_mm:.3g} mm", wanted_mm=begun.wanted_mm)
                yield self._row(
                    one,
                    at_s,
                    say("{edge} edge, {begun}", edge=begun.edge, begun=self._way(begun)),
                    wanted=wanted,
                )
            case EdgeMeasured() as measured:
                yield from self._gathered()
                for what, told in _found(measured):
                    yield Row(
                        Part.FIGURES,
                        one.number,
                        at_s,
                        say("{what}, {edge}", what=what, edge=measured.edge),
                        told,
                    )
            case EdgeNotMeasured() as failed:
                yield from self._gathered()
                yield self._row(
                    one, at_s, say("{edge} edge not measured", edge=failed.edge), failed.words, failed.check
                )
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
            return begun.method if before is None else say("{method}, on", method=begun.method)
        return say("{method}, anew: {before} left it open", method=begun.method, before=before)

    @staticmethod
    def _row(one: Stamped, at_s: float, what: str, read: str = "", wanted: str = "") -> Row:
        return Row(Part.PROOF, one.number, at_s, what, read, wanted)

    def _gather(self, one: Stamped, at_s: float, what: str, answer: str) -> None:
        self._first.setdefault(what, (one.number, at_s))
        self._answers.setdefault(what, []).append(answer)

    def _gathered(self) -> Iterator[Row]:
        for what, answers in self._answers.items():
            yield Row(Part.ANSWERS, *self._first[what], what, together(", ", _counted(answers)))
        self._answers, self._first = {}, {}


def _counted(answers: list[str]) -> Iterator[str]:
    """The answers in order, equal ones that follow one another counted."""
    for answer, alike in groupby(answers):
        count = sum(1 for _ in alike)
        yield answer if count == 1 else say("{count}x {answer}", count=count, answer=answer)


def value_words(value: float | None, expanded: float | None, unit: str, *, sign: bool = False) -> str:
    """A value with its expanded uncertainty, such as `300.12 ± 0.41 mm`; with its `sign` even if that is +."""
    if value is None:
        return "the bench cannot tell"
    shown, factor = SHOWN.get(unit, (unit, 1.0))
    plus = "+" if sign else ""
    if expanded is None:
        return say("{value} {unit}", value=f"{value * factor:{plus}.4g}", unit=shown)
    decimals = decimals_of(expanded * factor)
    figure, half = f"{value * factor:{plus}.{decimals}f}", f"{expanded * factor:.{decimals}f}"
    return say("{value} \u00b1 {expanded} {unit}", value=figure, expanded=half, unit=shown)


def limit_words(judged: RequirementJudged) -> str:
    """The limits of a requirement; empty where it has none."""
    shown, factor = SHOWN.get(judged.unit, (judged.unit, 1.0))
    low = "" if judged.low is None else say("{low:.6g}", low=judged.low * factor)
    high = "" if judged.high is None else say("{high:.6g}", high=judged.high * factor)
    if low and high:
        return say("{low} to {high} {shown}", low=low, high=high, shown=shown)
    if low or high:
        return (
            say("{low} {shown} or more", low=low, shown=shown)
            if low
            else say("{high} {shown} or less", high=high, shown=shown)
        )
    return ""


def _answer(answered: EdgeRead | EdgePassed | EdgeSlid) -> tuple[str, str]:
    """What was done, and what came of it."""
    if isinstance(answered, EdgeRead):
        at_mm = answered.position_mm
        still = "" if answered.steady else " (not still)"
        if at_mm is None:
            return say("{where}: detected", where=answered.where), say(
                "{detected}{still}", detected=_DETECTED[answered.detected], still=still
            )
        return (
            say("{where}: target at mm, detected", where=answered.where),
            say(
                "{at_mm:.1f} {detected}{still}",
                at_mm=at_mm,
                detected=_DETECTED[answered.detected],
                still=still,
            ),
        )
    way = say("{start_mm:.1f} to {end_mm:.1f} mm", start_mm=answered.start_mm, end_mm=answered.end_mm)
    if isinstance(answered, EdgePassed):
        return say(
            "pass {way}, {speed_mm_s:g} mm/s: output after", way=way, speed_mm_s=answered.speed_mm_s
        ), _seconds(answered.switched_s)
    return say("slid {way}: output after", way=way), say(
        "{switched_s}{answered}", switched_s=_seconds(answered.switched_s), answered=_stood(answered)
    )


def _seconds(seconds: float | None) -> str:
    return "not one change" if seconds is None else say("{seconds:.4f} s", seconds=seconds)


def _found(found: EdgeMeasured) -> Iterator[tuple[str, str]]:
    yield "operate point", value_words(found.operate_mm, found.operate_u_mm, "mm")
    yield "release point", value_words(found.release_mm, found.release_u_mm, "mm")
    yield "differential travel", value_words(found.travel_mm, found.travel_u_mm, "mm")
    if found.repeat_mm is not None:
        yield "repeat accuracy", say("{repeat_mm:.2f} mm", repeat_mm=found.repeat_mm)
    on, off = found.response_on_s, found.response_off_s
    if on is not None:
        yield "response time on", value_words(on, found.response_on_u_s, "s")
    if off is not None:
        yield "response time off", value_words(off, found.response_off_u_s, "s")
    yield "effort", say("{readings} readings, {moves} moves", readings=found.readings, moves=found.moves)


def _stood(slid: EdgeSlid) -> str:
    """By what is known where the target was then."""
    if slid.told_mm is not None:
        return say(" ({told_mm:g} mm, as read)", told_mm=slid.told_mm)
    return say(" ({count}x gauge)", count=len(slid.track)) if slid.track else ""


def _verdict(judged: RequirementJudged) -> str:
    if judged.risk is None:
        return str(judged.verdict)
    return say("{verdict}, wrong with {risk}", verdict=judged.verdict, risk=percent_words(judged.risk))


def percent_words(share: float) -> str:
    """A chance in percent; what is less than a millionth is not told apart."""
    percent = 100 * share
    return say("{percent:.2g} %", percent=percent) if percent >= 0.0001 else "less than 0.0001 %"
