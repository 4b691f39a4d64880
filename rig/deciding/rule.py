"""The decision rule of an order (JCGM 106, ISO 14253-1): value and uncertainty in, verdict and risk out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from rig.deciding.requirement import Requirement
from rig.edges.edge import Measured
from rig.events import Verdict
from rig.statistics.conformity import (
    Interval,
    NothingAcceptable,
    conformance_probability,
    guard_band_for_risk,
    specific_risk,
)
from rig.statistics.uncertainty import coverage_factor
from sequences.words import Rule
from wiring.saying import say, together


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """When a measured value proves that a requirement is met, or that it is not.

    Simple acceptance: by the value alone. Guarded: by its whole expanded uncertainty, w = U. Risk: the chance of a
    wrong verdict is at most `largest_risk`. Raises ValueError for a risk without its rule or outside 0 to 1/2.
    """

    kind: Rule
    largest_risk: float | None = None

    def __post_init__(self) -> None:
        if (self.largest_risk is not None) != (self.kind is Rule.RISK):
            raise ValueError(f"rule {self.kind} with a largest risk of {self.largest_risk}")
        if self.largest_risk is not None and not 0 < self.largest_risk < 0.5:
            raise ValueError(f"largest risk is {self.largest_risk:g}; allowed: between 0 and 0.5")

    @property
    def words(self) -> str:
        """The rule as it stands in a record."""
        if self.largest_risk is not None:
            return say("risk of at most {largest_risk:g} %", largest_risk=100 * self.largest_risk)
        return "simple acceptance" if self.kind is Rule.SIMPLE else "guarded acceptance, w = U"

    def guard(self, standard: float, expanded: float) -> float:
        """How far inside a single limit a value has to lie, and as far outside to condemn."""
        if self.largest_risk is not None:
            return -NormalDist().inv_cdf(self.largest_risk) * standard
        return 0.0 if self.kind is Rule.SIMPLE else expanded

    def acceptance(self, measured: Measured, limits: Interval) -> Interval | None:
        """The values that prove the requirement met; None where no value could."""
        try:
            if self.largest_risk is not None and standard_of(measured) > 0:
                return limits.guarded(guard_band_for_risk(self.largest_risk, standard_of(measured), limits))
            return limits.guarded(self.guard(standard_of(measured), measured.expanded))
        except NothingAcceptable:
            return None

    def rejection(self, measured: Measured, limits: Interval) -> Interval:
        """The values outside this interval prove the requirement not met."""
        return limits.guarded(-self.guard(standard_of(measured), measured.expanded))


@dataclass(frozen=True, slots=True)
class Judged:
    """A requirement held against its evidence.

    Attributes:
        measured: None where the output was only read, or nothing is known.
        risk: chance that the verdict is wrong, if it is good or bad and rests on a value; else None.
        acceptance: the values that would have been good; None where there are none.
        rejection: the values outside it would have been bad.
        words: the decision in one line.

    """

    requirement: Requirement
    verdict: Verdict
    words: str
    measured: Measured | None = None
    risk: float | None = None
    acceptance: Interval | None = None
    rejection: Interval | None = None

    @property
    def reach(self) -> float:
        """How far the value lies from the limit that it is nearest to; endless without a value."""
        if self.measured is None:
            return math.inf
        limits = self.requirement.limits
        return min(abs(limit - self.measured.value) for limit in (limits.lower, limits.upper))


def standard_of(measured: Measured) -> float:
    """The standard uncertainty of the normal distribution with the same expanded uncertainty.

    Larger than the combined one where that rests on few readings.
    """
    return measured.expanded / coverage_factor(measured.budget.coverage)


def judge(requirement: Requirement, measured: Measured | None, rule: DecisionRule) -> Judged:
    """Hold a measured value against its limits. No value, or none that is a finite number, is undecided."""
    if measured is None or not (math.isfinite(measured.value) and math.isfinite(measured.expanded)):
        return Judged(requirement, Verdict.UNDECIDED, "not measured")
    limits = requirement.limits
    acceptance, rejection = rule.acceptance(measured, limits), rule.rejection(measured, limits)
    verdict = _verdict(measured.value, acceptance, rejection)
    risk = _risk(verdict, measured, limits)
    words = _words(verdict, requirement, measured, acceptance, rejection)
    return Judged(requirement, verdict, words, measured, risk, acceptance, rejection)


def judge_reading(requirement: Requirement, right: bool | None, words: str) -> Judged:
    """Hold what was read against what had to be; None: it could not be read, or not twice the same."""
    verdict = Verdict.UNDECIDED if right is None else Verdict.GOOD if right else Verdict.BAD
    return Judged(requirement, verdict, words)


def unit_verdict(required: Iterable[Requirement], judged: Sequence[Judged]) -> Verdict:
    """The worst verdict; a requirement without one is undecided, and so is a unit of which nothing is required."""
    known = {one.requirement for one in judged}
    found = {one.verdict for one in judged} | {Verdict.UNDECIDED for one in required if one not in known}
    if Verdict.BAD in found:
        return Verdict.BAD
    return Verdict.GOOD if found == {Verdict.GOOD} else Verdict.UNDECIDED


def worst_of(judged: Sequence[Judged]) -> Judged | None:
    """The first of the worst judgements; None where there is none."""
    order = (Verdict.BAD, Verdict.UNDECIDED, Verdict.GOOD)
    return min(judged, key=lambda one: order.index(one.verdict), default=None)


def _verdict(value: float, acceptance: Interval | None, rejection: Interval) -> Verdict:
    if acceptance is not None and value in acceptance:
        return Verdict.GOOD
    return Verdict.UNDECIDED if value in rejection else Verdict.BAD


def _risk(verdict: Verdict, measured: Measured, limits: Interval) -> float | None:
    standard = standard_of(measured)
    if verdict is Verdict.UNDECIDED:
        return None
    if standard == 0:
        return 0.0
    wrong = specific_risk if verdict is Verdict.GOOD else conformance_probability
    return wrong(measured.value, standard, limits)


def _words(
    verdict: Verdict,
    requirement: Requirement,
    measured: Measured,
    acceptance: Interval | None,
    rejection: Interval,
) -> str:
    value, unit = figure_words(measured, requirement.unit), requirement.unit
    bad_words = say("bad {rejection}", rejection=_beyond(rejection, unit))
    if verdict is Verdict.BAD:
        return say("{value}: {bad_words}", value=value, bad_words=bad_words)
    if acceptance is None:
        return say(
            "{value}: too uncertain for its limits, {requirement}",
            value=value,
            requirement=limit_words(requirement),
        )
    good_words = say("good {acceptance}", acceptance=span_words(acceptance, unit))
    if verdict is Verdict.GOOD:
        return say("{value}: {good_words}", value=value, good_words=good_words)
    return say(
        "{value}: too near a limit to tell, {good_words}, {bad_words}",
        value=value,
        good_words=good_words,
        bad_words=bad_words,
    )


def figure_words(measured: Measured, unit: str) -> str:
    """A value with its expanded uncertainty, such as `300.12 ± 0.41 mm`."""
    shown, factor = SHOWN[unit]
    decimals = decimals_of(measured.expanded * factor)
    value, expanded = (f"{one * factor:.{decimals}f}" for one in (measured.value, measured.expanded))
    return say("{value} \u00b1 {expanded} {unit}", value=value, expanded=expanded, unit=shown)


def decimals_of(expanded: float) -> int:
    """Decimals that show two digits of an uncertainty (JCGM 100, 7.2.6), three at most."""
    if not 0 < expanded < math.inf:
        return 1
    return min(3, max(0, 1 - math.floor(math.log10(expanded))))


SHOWN = {"mm": ("mm", 1.0), "s": ("ms", 1e3), "A": ("mA", 1e3), "V": ("V", 1.0)}
"""In which unit a figure is shown, and the factor to it, by the unit in which it is kept."""


def limit_words(requirement: Requirement) -> str:
    """The limits in the unit in which they are shown."""
    return span_words(requirement.limits, requirement.unit)


def span_words(interval: Interval, unit: str) -> str:
    """An interval in the unit in which figures are shown."""
    low, high = _limits(interval, unit)
    if not low:
        return say("up to {high}", high=high)
    return (
        say("from {low} on", low=low)
        if not high
        else say("from {low} to {high}", low=low.partition(" ")[0], high=high)
    )


def _beyond(interval: Interval, unit: str) -> str:
    low, high = _limits(interval, unit)
    sides = ([say("below {low}", low=low)] if low else []) + (
        [say("above {high}", high=high)] if high else []
    )
    return together(" or ", sides)


def _limits(interval: Interval, unit: str) -> tuple[str, str]:
    """Both limits with their unit; empty for one that does not exist."""
    shown, factor = SHOWN[unit]
    low, high = (
        "" if math.isinf(limit) else say("{limit:.5g} {unit}", limit=limit * factor, unit=shown)
        for limit in (interval.lower, interval.upper)
    )
    return low, high
