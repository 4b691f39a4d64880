"""Control charts as a paper of their own, to be signed: of a check unit, or over production."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.control.chart import BASELINE, Watching
from rig.control.check_unit import Account, State
from rig.control.production import Studied
from rig.control.said import false_alarm_words, standing_words
from rig.papers.certificate import SIMULATED
from rig.papers.control_part import check_unit_blocks, edge_blocks
from rig.papers.paper import Block, Pairs, Paper, Part, Said, Signatures, Stated, Tone

_SIGNED = Part("", (Signatures(("looked at by", "date", "released by", "date")),))
_NOBODY = "nobody signed in"
_MOST_ORDERS = 12
_TONES = {State.SIGNAL: Tone.BAD, State.IN_CONTROL: Tone.GOOD, State.LEARNING: Tone.GOOD}


def charts_paper(charts: Sequence[Studied], watching: Watching, made_by: str, *, simulated: bool) -> Paper:
    """Charts over production, one part each; `made_by` names the program."""
    out = [one.title for one in charts if not one.chart.in_control]
    parts = [
        Part("", (_summary(out, charts),)),
        *(
            Part(one.title, tuple(edge_blocks(one.chart, one.capability, one.edge, one.unit)))
            for one in charts
        ),
        Part("What was charted, and how it was watched", (Pairs((*_charted(charts), *_watched(watching))),)),
        _SIGNED,
    ]
    return _paper("Control charts", "Deviations of set points", parts, made_by, simulated=simulated)


def check_unit_paper(account: Account, suspects: Sequence[str], made_by: str, *, simulated: bool) -> Paper:
    """The check unit of a rig; `suspects` are the units judged since it was measured without a signal."""
    unit = account.unit
    parts = [
        Part("", tuple(_standing(account, suspects))),
        Part("Charts", tuple(check_unit_blocks(account))),
        Part("How it is watched", (Pairs(tuple(_watched(unit.watching))),)),
        _SIGNED,
    ]
    return _paper("Check unit", f"{unit.serial}, rig {unit.rig}", parts, made_by, simulated=simulated)


def _paper(kind: str, name: str, parts: Sequence[Part], made_by: str, *, simulated: bool) -> Paper:
    told = f"{kind} (SIMULATED)" if simulated else kind
    warning = SIMULATED.replace("a made-up unit", "made-up units") if simulated else ""
    return Paper(told, name, warning, tuple(parts), f"{told}: {name}. {made_by}.")


def _summary(out: Sequence[str], charts: Sequence[Studied]) -> Stated:
    count, short = len(charts), sum(one.chart.is_short for one in charts)
    if out:
        return Stated(
            "Not in control", f"Signals in {len(out)} of {count} charts: {'; '.join(out)}.", Tone.UNDECIDED
        )
    if short:
        told = f"No signal in {count} charts, but {short} of them rest on fewer than {BASELINE} values: too few to say."
        return Stated("No signal", told, Tone.UNDECIDED)
    return Stated("In control", f"No signal in {count} charts.", Tone.GOOD)


def _standing(account: Account, suspects: Sequence[str]) -> Iterator[Block]:
    words = {State.SIGNAL: "Signal", State.IN_CONTROL: "In control", State.LEARNING: "No signal"}
    word = words.get(account.state, "To be measured")
    yield Stated(word, f"{standing_words(account)}.", _TONES.get(account.state, Tone.UNDECIDED))
    if suspects:
        listed = ", ".join(suspects)
        yield Said(
            f"Judged since the last measurement before the signal, to be looked at again: {listed}.",
            Tone.WARNING,
        )
    unit, last = account.unit, account.last
    why = f": {unit.why}" if unit.why else ""
    rows = [("kept since", f"{unit.utc[:10]} by {unit.person or _NOBODY}{why}")]
    if last is not None:
        when = f"last {last.utc[:16].replace('T', ' ')} UTC by {last.person or _NOBODY}"
        rows.append(("measured", f"{len(account.measured)} times, {when}"))
    yield Pairs(tuple(rows))


def _charted(charts: Sequence[Studied]) -> Iterator[tuple[str, str]]:
    """Which units these are."""
    points = [point for one in charts for point in one.points]
    units, orders = {point.serial for point in points}, sorted({point.order for point in points})
    first, last = min(point.utc for point in points), max(point.utc for point in points)
    more = "" if len(orders) <= _MOST_ORDERS else f" and {len(orders) - _MOST_ORDERS} more"
    yield "units", f"{len(units)}, worked on from {first[:10]} to {last[:10]}"
    yield "orders", f"{', '.join(orders[:_MOST_ORDERS])}{more}"


def _watched(watching: Watching) -> Iterator[tuple[str, str]]:
    yield "run rules", ", ".join(watching.rules)
    if watching.weight is not None:
        yield (
            "EWMA",
            f"{watching.weight:g} of the newest value, limits {watching.width:g} of its standard deviations",
        )
    if alarms := false_alarm_words(watching):
        yield "false alarms", alarms
