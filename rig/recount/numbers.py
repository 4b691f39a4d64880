"""The numbers behind a verdict, worked out: where the output was read, or what the guard leaves of each limit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rig.events import CheckDone, RequirementJudged, Verdict
from rig.explained.explain import explain
from rig.explained.sheet import Chapter, Given, Sheet, given
from rig.recount.attempt import Attempt
from rig.statistics.uncertainty import coverage_factor
from sequences.words import Rule
from wiring.saying import say
from wiring.terms import Verification

_GUARDED = "guarded acceptance and rejection (JCGM 106, 8)"
# A smaller risk is told, but worked out only in full.
_TELLING = 1e-6
_NORMAL = "Phi: table of the normal distribution (JCGM 106, 7)"


def numbers_of(attempt: Attempt, *, full: bool = False) -> tuple[Chapter, ...]:
    """The formulas that decided, or, in full, all of them up to the guard; raises NotRebuilt."""
    planned = attempt.planned
    if planned.plan.method is not Verification.POSITIONS:
        return _limits(attempt, full)
    chapters = explain(planned)
    if full:
        wanted = ("air", "uncertainty", "check positions")
        return tuple(chapter for chapter in chapters if chapter.title.startswith(wanted))
    return tuple(_that_decided(attempt, chapters))


def _that_decided(attempt: Attempt, chapters: tuple[Chapter, ...]) -> Iterator[Chapter]:
    """Where the output was read: everywhere for a good unit, else where it was wrong."""
    done = [one.event for one in attempt.account if isinstance(one.event, CheckDone)]
    wrong = {one.requirement for one in done if one.read_on is not one.expected_on}
    asked = tuple(wrong) if wrong else tuple(one.requirement for one in done)
    for chapter in chapters:
        formulas = tuple(one for one in chapter.formulas if one.what.startswith(asked)) if asked else ()
        if chapter.title.startswith("check positions") and formulas:
            yield replace(chapter, formulas=formulas)


def _limits(attempt: Attempt, full: bool) -> tuple[Chapter, ...]:
    """What the guard leaves of each limit; in short only of those that the verdict hangs on."""
    judged = [one.event for one in attempt.account if isinstance(one.event, RequirementJudged)]
    measured = [one for one in judged if one.value is not None]
    hangs_on = [one for one in measured if one.verdict is not Verdict.GOOD] or measured
    sheet = Sheet()
    for one in measured if full else hangs_on:
        sheet.begin(one.requirement)
        _guarded(sheet, one, attempt.planned.plan.rule)
        if one.risk is not None and (full or one.risk >= _TELLING):
            _risk(sheet, one)
    return sheet.chapters()


def _guarded(sheet: Sheet, judged: RequirementJudged, rule: Rule) -> None:
    """What the guard leaves of the limits; where the risk sets it, the risk itself is worked out instead."""
    if rule is not Rule.GUARDED or judged.expanded is None:
        return
    guard = given(_rounded(judged.expanded), "expanded uncertainty of the value")
    bad = judged.verdict is Verdict.BAD
    what = "bad" if bad else "good"
    if judged.low is not None:
        formula = "a = L - U" if bad else "a = L + U"
        numbers = {"L": given(_rounded(judged.low), "lower limit"), "U": guard}
        sheet.work(
            say("{verdict} {side}", verdict=what, side="below" if bad else "from"),
            formula,
            numbers,
            judged.unit,
            _GUARDED,
        )
    if judged.high is not None:
        formula = "b = H + U" if bad else "b = H - U"
        numbers = {"H": given(_rounded(judged.high), "upper limit"), "U": guard}
        sheet.work(
            say("{verdict} {side}", verdict=what, side="above" if bad else "up to"),
            formula,
            numbers,
            judged.unit,
            _GUARDED,
        )


def _risk(sheet: Sheet, judged: RequirementJudged) -> None:
    if judged.value is None or not judged.expanded:
        return
    numbers = {
        "v": given(_rounded(judged.value), "the value"),
        "U": Given(f"{_rounded(judged.expanded):.10g}"),
        "k": given(round(coverage_factor(0.95), 4), "coverage factor of U for 95 %"),
    }
    outside = []
    if judged.low is not None:
        numbers["L"] = Given(f"{_rounded(judged.low):.10g}")
        outside.append("Phi((L - v) * k / U)")
    if judged.high is not None:
        numbers["H"] = Given(f"{_rounded(judged.high):.10g}")
        outside.append("Phi((v - H) * k / U)")
    share = " + ".join(outside)
    formula = f"p = 1 - ({share})" if judged.verdict is Verdict.BAD else f"p = {share}"
    sheet.work("chance that this is wrong", formula, numbers, "of one", _NORMAL, digits=3)


def _rounded(value: float) -> float:
    """So many digits tell all that was measured."""
    return float(f"{value:.7g}")
