"""What charts and capability come to, in words: for terminal, screen and paper alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from rig.control.capability import Capability
from rig.control.chart import BASELINE, ControlChart, Signal, Watching
from rig.control.check_unit import Account, State
from rig.control.rules import FOUR_RULES
from rig.control.series import FEWEST

_MOST_SPANS = 6


def standing_words(account: Account) -> str:
    """How a check unit stands."""
    match account.state:
        case State.NOT_MEASURED:
            return "not measured yet"
        case State.SIGNAL:
            return f"SIGNAL, no verdicts until somebody has looked: {account.signal_words()}"
        case State.NO_RESULT:
            assert account.last is not None, "it has come to nothing"
            return f"the last measurement came to nothing ({account.last.words})"
        case State.NOT_AGAIN:
            return "looked into; to be measured again"
        case State.LEARNING:
            return f"no signal; its limits are still being learnt ({_counted(len(account.measured), 'measurement')})"
        case State.IN_CONTROL:
            return "in control"


def control_words(chart: ControlChart) -> str:
    """Whether a chart is in control, in a cell of a table."""
    if chart.signals:
        return f"NO, {_counted(len(chart.signals), 'signal')}"
    return "too few" if chart.is_short else "yes"


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


_FALSE_ALARMS: Mapping[Watching, int] = {
    Watching(): 170,
    Watching(FOUR_RULES): 80,
    Watching(FOUR_RULES, ranges=True): 55,
}
"""After how many values on average an undisturbed process gives a signal all the same; tried by simulation."""


def false_alarm_words(watching: Watching) -> str:
    """How rarely a signal is a false alarm, where that is known; else empty."""
    every = _FALSE_ALARMS.get(watching)
    return "" if every is None else f"a process that nothing disturbs gives a signal in about {every} values"


def limit_words(chart: ControlChart, unit: str) -> str:
    """Where the limits are, and from what."""
    base = chart.baseline
    if base is None:
        return f"no limits yet: they need {FEWEST} undisturbed values that differ"
    low, high = base.limits() if chart.fixed else base.limits_of_next()
    told = (
        f"centre {base.centre:+.3f} {unit}, limits {low:+.3f} and {high:+.3f} {unit}, standard deviation "
        f"{base.sigma:.3f} {unit} from the mean of {_counted(base.count - 1, 'moving range')}"
    )
    if chart.fixed and chart.is_short:
        return f"{told}; no word on control: {base.count} values are too few, {BASELINE} are wanted"
    if chart.fixed:
        return told
    return f"{told}; provisional, and wider than three standard deviations because {base.count} values tell so little"


def capability_words(one: Capability, unit: str) -> Iterator[tuple[str, str]]:
    """The figures with their bounds for 95 %."""
    potential, actual = one.names
    yield "values", f"{one.count}, mean {one.mean:+.3f} {unit}, standard deviation {one.spread:.3f} {unit}"
    yield "limits", f"{one.low:+g} to {one.high:+g} {unit}; {one.outside} of {one.count} values beyond them"
    yield potential, f"{one.potential:.2f}, with 95 % confidence {_between(one.potential_bounds)}"
    yield (
        actual,
        f"{one.actual:.2f}, with 95 % confidence {_between(one.actual_bounds)} (normal approximation)",
    )
    yield "beyond the limits", f"{_share(one.expected_outside)} expected if the values are normal"
    if one.normality is not None:
        stands = "not normal" if one.normality.doubtful else "nothing against normal"
        yield "normality", f"{stands}: Anderson-Darling test, p = {one.normality.p_value:.2g}"


def _between(bounds: tuple[float, float]) -> str:
    return f"between {bounds[0]:.2f} and {bounds[1]:.2f}"


def _share(share: float) -> str:
    if share < 1e-9:
        return "less than one in a billion"
    return f"{100 * share:.2g} %" if share >= 1e-4 else f"{1e6 * share:.2g} in a million"


def places(numbers: Sequence[int]) -> str:
    """Rising numbers in a few words: `3, 5 to 8`; the last ones where there are many."""
    spans: list[list[int]] = []
    for number in numbers:
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    told = [str(first) if first == last else f"{first} to {last}" for first, last in spans]
    more = len(told) - _MOST_SPANS
    return ", ".join(told) if more <= 0 else f"{more} more, {', '.join(told[-_MOST_SPANS:])}"


def by_rule(signals: Iterable[Signal]) -> Mapping[str, Sequence[Signal]]:
    """Signals together by the rule that speaks, as each spoke first."""
    rules: dict[str, list[Signal]] = {}
    for one in signals:
        rules.setdefault(one.rule, []).append(one)
    return rules


def places_of(signals: Iterable[Signal]) -> str:
    """Where signals are, by the numbers of their values."""
    return places([one.at + 1 for one in signals])
