"""The check unit of a rig: what is known of it, its charts, and whether a signal is open; pure.

A check unit is a sensor that was set once and kept. What moves between its measurements is the rig, or the unit
itself; both have to be known before anybody believes a verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from rig.control.chart import BASELINE, ControlChart, Signal, Watching
from rig.control.series import learning_chart
from rig.events import CheckUnitGivenUp, CheckUnitKept, CheckUnitLookedAt, CheckUnitMeasured, Stamped
from wiring.check_unit import RunRule

_PREFIX = "CHECK-"
# An order number has no room for more.
_LONGEST_NUMBER = 30


class Cause(StrEnum):
    """Where the cause of a signal was."""

    RIG = "rig"
    CHECK_UNIT = "check-unit"
    HANDLING = "handling"
    NOT_FOUND = "not-found"


CAUSES: Mapping[Cause, str] = {
    Cause.RIG: "in the rig, and mended",
    Cause.CHECK_UNIT: "in the check unit itself",
    Cause.HANDLING: "in how it was put in or measured",
    Cause.NOT_FOUND: "not found",
}


class State(StrEnum):
    """How a check unit stands."""

    NOT_MEASURED = "not-measured"
    SIGNAL = "signal"
    NO_RESULT = "no-result"
    NOT_AGAIN = "not-again"
    LEARNING = "learning"
    IN_CONTROL = "in-control"


def order_number(serial: str) -> str:
    """Under which number the measurements of a check unit stand in the record."""
    return f"{_PREFIX}{serial}"[:_LONGEST_NUMBER]


@dataclass(frozen=True, slots=True)
class CheckUnit:
    """A unit that a rig keeps.

    Attributes:
        order: the order that it was set by, for the measurements; `sensor_type` likewise.
        watching: how its charts are watched.
        baseline_count: how many undisturbed measurements make the limits.
        person: who made it the check unit, `utc` when, and `why`.

    """

    rig: str
    serial: str
    order: Mapping[str, Any]
    sensor_type: Mapping[str, Any]
    watching: Watching
    baseline_count: int = BASELINE
    person: str = ""
    utc: str = ""
    why: str = ""

    @property
    def tolerance_mm(self) -> float | None:
        """The tolerance of the order that it was set by, for the eye."""
        tolerance = self.order.get("setting", {}).get("tolerance_mm")
        return None if tolerance is None else float(tolerance)

    def kept(self) -> CheckUnitKept:
        """As it is recorded."""
        watching = {
            "rules": [str(rule) for rule in self.watching.rules],
            "weight": self.watching.weight,
            "width": self.watching.width,
            "baseline": self.baseline_count,
        }
        return CheckUnitKept(
            self.rig, self.serial, dict(self.order), dict(self.sensor_type), watching, self.person, self.why
        )

    @classmethod
    def from_event(cls, event: CheckUnitKept, utc: str) -> CheckUnit:
        """As it was recorded."""
        told = event.watching
        watching = Watching(tuple(RunRule(one) for one in told["rules"]), told["weight"], told["width"])
        return cls(
            event.rig,
            event.unit,
            event.order,
            event.sensor_type,
            watching,
            int(told["baseline"]),
            event.person,
            utc,
            event.why,
        )


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement of the check unit: deviation and expanded uncertainty of each set point at the machine, in mm.

    Empty `deviations`: it came to nothing, for the reason in `words`.
    """

    utc: str
    deviations: Mapping[str, tuple[float, float]]
    person: str = ""
    words: str = ""
    run: str = ""


@dataclass(frozen=True, slots=True)
class LookedAt:
    """Somebody has looked; `after` so many measurements that came to something."""

    after: int
    utc: str
    person: str
    found: str
    cause: Cause
    signals: str


@dataclass(frozen=True)
class Account:
    """All that is known of the check unit of a rig.

    Attributes:
        measured: what came to something, in the order in which it was measured.
        looked: who has looked into signals.
        last: the last measurement, whatever came of it.

    """

    unit: CheckUnit
    measured: tuple[Measured, ...] = ()
    looked: tuple[LookedAt, ...] = ()
    last: Measured | None = None
    charts: Mapping[str, ControlChart] = field(default_factory=dict)

    @property
    def edges(self) -> tuple[str, ...]:
        """Its set points, by the names of their edges."""
        return tuple(self.measured[0].deviations) if self.measured else ()

    @property
    def looked_after(self) -> int:
        """How many measurements were there when somebody looked last."""
        return self.looked[-1].after if self.looked else 0

    def open_signals(self) -> tuple[tuple[str, Signal], ...]:
        """Signals that nobody has looked into, each with its edge, as they came."""
        found = [
            (edge, signal)
            for edge, chart in self.charts.items()
            for signal in chart.signals
            if signal.at >= self.looked_after
        ]
        return tuple(sorted(found, key=lambda one: one[1].at))

    @property
    def last_trusted(self) -> Measured | None:
        """The last measurement before the first open signal; None without a signal, or if none was before."""
        signals = self.open_signals()
        return self.measured[signals[0][1].at - 1] if signals and signals[0][1].at > 0 else None

    def signal_words(self) -> str:
        """The open signals in a few words: each edge, since when, by which rules; empty for none."""
        since: dict[str, int] = {}
        rules: dict[str, dict[str, None]] = {}
        for edge, signal in self.open_signals():
            since.setdefault(edge, signal.at + 1)
            rules.setdefault(edge, {})[signal.rule] = None
        return "; ".join(
            f"{edge} edge since measurement {since[edge]}: {', '.join(named)}"
            for edge, named in rules.items()
        )

    @property
    def state(self) -> State:
        """How it stands."""
        if self.last is None:
            return State.NOT_MEASURED
        if self.open_signals():
            return State.SIGNAL
        if not self.measured or self.measured[-1] is not self.last:
            return State.NO_RESULT
        if not self.measured_since_looked:
            return State.NOT_AGAIN
        return State.IN_CONTROL if all(chart.fixed for chart in self.charts.values()) else State.LEARNING

    @property
    def measured_since_looked(self) -> bool:
        """Whether it was measured again since somebody looked last, or nobody had to."""
        return not self.looked or len(self.measured) > self.looked_after

    def with_measurement(self, measured: Measured) -> Account:
        """The same after one more measurement."""
        kept = (*self.measured, measured) if self._fits(measured) else self.measured
        return charted(replace(self, measured=kept, last=measured))

    def _fits(self, measured: Measured) -> bool:
        """Whether it came to something that stands beside what was measured before."""
        edges = set(measured.deviations)
        return bool(edges) and (not self.measured or edges == set(self.edges))


def account_of(events: Iterable[Stamped]) -> Account | None:
    """Fold the recorded events of the check units of one rig; None if it has none now."""
    account: Account | None = None
    for stamped in events:
        event = stamped.event
        match event:
            case CheckUnitKept():
                account = Account(CheckUnit.from_event(event, stamped.utc))
            case CheckUnitGivenUp():
                account = None
            case CheckUnitMeasured() if account is not None and event.unit == account.unit.serial:
                account = _with_measured(account, event, stamped.utc)
            case CheckUnitLookedAt() if account is not None and event.unit == account.unit.serial:
                looked = LookedAt(
                    len(account.measured),
                    stamped.utc,
                    event.person,
                    event.found,
                    Cause(event.cause),
                    event.signals,
                )
                account = replace(account, looked=(*account.looked, looked))
    return None if account is None else charted(account)


def _with_measured(account: Account, event: CheckUnitMeasured, utc: str) -> Account:
    deviations = {edge: (float(at), float(expanded)) for edge, (at, expanded) in event.deviations.items()}
    one = Measured(utc, deviations, event.person, event.words, event.run)
    kept = (*account.measured, one) if account._fits(one) else account.measured
    return replace(account, measured=kept, last=one)


def charted(account: Account) -> Account:
    """The same with its charts; each begins anew where somebody has looked."""
    return replace(account, charts=dict(_charts(account)))


def _charts(account: Account) -> Iterator[tuple[str, ControlChart]]:
    unit = account.unit
    restarts = {one.after for one in account.looked}
    for edge in account.edges:
        values, expanded = zip(*(one.deviations[edge] for one in account.measured), strict=True)
        yield (
            edge,
            learning_chart(
                values, expanded, unit.watching, restarts=restarts, baseline_count=unit.baseline_count
            ),
        )
