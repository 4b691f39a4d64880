"""Charts on the terminal and as JSON: values, limits, signals with what they mean, capability with its doubts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from rig.cli.layout import Page
from rig.cli.listing import time_words
from rig.control.capability import Capability
from rig.control.chart import OTHERS, ControlChart, Signal
from rig.control.check_unit import CAUSES, Account
from rig.control.plot import chart_lines
from rig.control.rules import EXPLAINED
from rig.control.said import (
    by_rule,
    capability_words,
    false_alarm_words,
    limit_words,
    places_of,
    standing_words,
)
from wiring.plainwords import printable


def print_rules(page: Page) -> None:
    """What each run rule looks for, and what is often behind it."""
    page.pairs([(str(rule), f"{one.looks_for}; often {one.often}") for rule, one in EXPLAINED.items()])
    page.heading("beside the run rules")
    page.pairs([(name, f"{looks_for}; often {often}") for name, (looks_for, often) in OTHERS.items()])


def print_account(account: Account, suspects: Sequence[str], page: Page) -> None:
    """A check unit with its charts; `suspects` got a verdict since it was last measured without a signal."""
    unit = account.unit
    page.say(f"check unit {unit.serial} of rig {unit.rig}: {standing_words(account)}")
    page.pairs(
        (
            ("kept since", f"{time_words(unit.utc)} UTC{_by(unit.person)}{_why(unit.why)}"),
            ("measured", f"{_times(len(account.measured))}{_last(account)}"),
            ("watched by", _watched(account)),
        )
    )
    if suspects:
        page.heading("verdicts since the last measurement before the signal, to be looked at again")
        page.say(", ".join(suspects))
    for edge, chart in account.charts.items():
        page.heading(f"{edge} edge: deviation from its set point at the machine")
        print_chart(chart, page, "mm")
    if account.looked:
        page.heading("looked into")
        rows = [
            (time_words(one.utc), printable(one.person), CAUSES[one.cause], printable(one.found, 200))
            for one in account.looked
        ]
        page.table(("UTC", "who", "cause", "found"), rows)


def _times(count: int) -> str:
    return {0: "not yet", 1: "once"}.get(count, f"{count} times")


def _by(person: str) -> str:
    return f" by {printable(person)}" if person else ""


def _why(why: str) -> str:
    return f": {printable(why, 200)}" if why else ""


def _last(account: Account) -> str:
    return (
        "" if account.last is None else f", last {time_words(account.last.utc)} UTC{_by(account.last.person)}"
    )


def _watched(account: Account) -> str:
    watching = account.unit.watching
    mean = () if watching.weight is None else (f"EWMA ({watching.weight:g} of the newest value)",)
    alarms = false_alarm_words(watching)
    return ", ".join((*watching.rules, *mean)) + (f"; {alarms}" if alarms else "")


def print_chart(chart: ControlChart, page: Page, unit: str) -> None:
    """A chart, its limits and its signals."""
    page.lines(chart_lines(chart, unit, page.width))
    page.say("")
    page.say(limit_words(chart, unit))
    if chart.signals:
        page.table(("signal", "at", "what the rule looks for", "often"), list(_signal_rows(chart.signals)))


def _signal_rows(signals: Sequence[Signal]) -> Iterator[tuple[str, ...]]:
    """A row for each rule that speaks, with where."""
    for rule, own in by_rule(signals).items():
        yield rule, places_of(own), own[0].looks_for, own[0].often


def print_capability(capability: Capability, page: Page, unit: str) -> None:
    """Capability, and what a reader has to know first."""
    page.pairs(list(capability_words(capability, unit)))
    for warning in capability.warnings():
        page.item(warning)


def account_as_dict(account: Account, suspects: Sequence[str]) -> dict[str, Any]:
    """A check unit for a program."""
    unit, last = account.unit, account.last
    return {
        "rig": unit.rig,
        "serial": unit.serial,
        "kept_utc": unit.utc,
        "person": unit.person,
        "why": unit.why,
        "standing": standing_words(account),
        "open_signals": account.signal_words(),
        "judged_since_trusted": list(suspects),
        "measured": len(account.measured),
        "last": None if last is None else {**asdict(last), "deviations": dict(last.deviations)},
        "charts": {edge: chart_as_dict(chart) for edge, chart in account.charts.items()},
        "looked": [asdict(one) for one in account.looked],
    }


def chart_as_dict(chart: ControlChart) -> dict[str, Any]:
    """A chart for a program."""
    base = chart.baseline
    return {
        "values": list(chart.values),
        "limits": [None if one is None else list(one) for one in chart.limits],
        "moving_ranges": list(chart.ranges),
        "ewma": [
            None if one is None else dict(zip(("mean", "low", "high"), one, strict=True))
            for one in chart.smoothed
        ],
        "centre": None if base is None else base.centre,
        "sigma": None if base is None else base.sigma,
        "range_limit": None if base is None else base.range_limit,
        "limits_fixed": chart.fixed,
        "in_control": chart.in_control,
        "too_few_to_say": chart.is_short,
        "signals": [_signal_as_dict(one) for one in chart.signals],
    }


def _signal_as_dict(one: Signal) -> dict[str, Any]:
    return {"at": one.at + 1, "rule": one.rule, "looks_for": one.looks_for, "often": one.often}


def capability_as_dict(capability: Capability) -> dict[str, Any]:
    """Capability for a program."""
    potential, actual = capability.names
    told = asdict(capability)
    return {**told, "called": [potential, actual], "warnings": list(capability.warnings())}
