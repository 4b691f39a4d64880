"""What was found of each unit of a lot, from its record.

A verdict that a fault of the bench could explain is settled here where the lot itself proves the bench: a unit that is
undecided twice for the same reason, while a unit that was tested between the two was sound, is to blame itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from rig.deciding.rule import SHOWN
from rig.events import (
    CharacteristicJudged,
    RequirementJudged,
    SettingLeft,
    Stamped,
    UnitJudged,
    UnitStarted,
    Verdict,
    WorkCutOff,
)
from rig.sequencer.findings import Reason
from sequences.receiving import Characteristic, DefectClass, ReceivingPlan

BROKEN_OFF = frozenset({Reason.INTERRUPTED, Reason.BENCH_TRIPPED})
"""Reasons of an attempt that says nothing of its unit: it is tested again as if it had not been."""

# What a sound unit in the same nest, between two tries, clears the bench of.
_TELLS_OF_UNIT = frozenset(
    {
        Reason.NO_CURRENT,
        Reason.HARNESS_SWAPPED,
        Reason.OUTPUT_OPEN,
        Reason.OUTPUT_STUCK,
        Reason.OUTPUT_UNCLEAR,
        Reason.OUTPUT_UNSTEADY,
        Reason.OUTPUT_CHATTERS,
        Reason.LED_SILENT,
        Reason.ANSWER_FOREIGN,
        Reason.NOT_DETECTED,
        Reason.CHANGES_ITS_MIND,
        Reason.SET_POINT_MOVED,
    }
)


class Settled(StrEnum):
    """What a verdict on a unit of a lot rests on."""

    BY_BENCH = "the bench"
    BY_COMPARISON = "two tries, and a sound unit between them"
    BY_HAND = "two persons"


def figure_words(one: CharacteristicJudged) -> str:
    """What was measured and allowed, in the unit that a meter shows; empty where nothing was measured."""
    if one.value is None:
        return ""
    unit, factor = SHOWN.get(one.unit, (one.unit, 1.0))
    measured = f"{one.value * factor:.4g} {unit}"
    if one.low is None or one.high is None:
        return measured
    return f"{measured}, allowed {one.low * factor:g} to {one.high * factor:g}"


@dataclass(slots=True)
class Try:
    """One time that a unit was in the nest; `verdict` None while it is in work."""

    serial: str
    utc: str
    simulated: bool = False
    verdict: Verdict | None = None
    reason: str = ""
    words: str = ""
    judged: list[CharacteristicJudged] = field(default_factory=list)
    values: dict[str, float] = field(default_factory=dict)
    left: SettingLeft | None = None

    @property
    def counts(self) -> bool:
        """Whether it came to an end that says something of the unit."""
        return self.verdict is not None and self.reason not in BROKEN_OFF


@dataclass(frozen=True, slots=True)
class UnitFound:
    """What is held of one unit.

    Attributes:
        defects: class of each characteristic with a defect.
        tries: how often it was in the nest and came to an end there.
        last: the last of these.

    """

    serial: str
    verdict: Verdict
    defects: Mapping[Characteristic, DefectClass]
    settled: Settled
    tries: int
    last: Try


def tries_of(events: Iterable[Stamped]) -> Iterator[Try]:
    """Every try at a unit, in the order of work, from the recorded events."""
    in_work: dict[str, Try] = {}
    order: list[Try] = []
    for stamped in events:
        if isinstance(stamped.event, UnitStarted):
            one = in_work[stamped.serial] = Try(stamped.serial, stamped.utc)
            order.append(one)
        elif stamped.serial in in_work:
            take_in(in_work[stamped.serial], stamped)
    return iter(order)


def take_in(one: Try, stamped: Stamped) -> None:
    """Fold one more event into the try that it belongs to."""
    match stamped.event:
        case CharacteristicJudged() as judged:
            one.judged.append(judged)
            if judged.value is not None:
                one.values[f"{judged.characteristic}, {judged.unit}"] = judged.value
        case RequirementJudged(requirement=name, value=value, unit=unit) if value is not None:
            one.values[f"{name}, {unit}" if unit else name] = value
        case SettingLeft() as left:
            one.left = left
        case UnitJudged() as judged if one.verdict is None:
            one.verdict, one.reason, one.words = judged.verdict, judged.reason, judged.words
        case WorkCutOff(words=words) if one.verdict is None:
            one.verdict, one.reason, one.words = Verdict.UNDECIDED, Reason.INTERRUPTED, words


def units_found(
    tries: Iterable[Try], receiving: ReceivingPlan, by_hand: Mapping[str, Verdict]
) -> dict[str, UnitFound]:
    """What is held of every unit that came to an end, by its serial; `by_hand`: what two persons have decided."""
    ended = [one for one in tries if one.counts]
    own: dict[str, list[int]] = {}
    for index, one in enumerate(ended):
        own.setdefault(one.serial, []).append(index)
    return {
        serial: _found(serial, [ended[at] for at in places], _between(ended, places), receiving, by_hand)
        for serial, places in own.items()
    }


def _between(ended: list[Try], places: list[int]) -> bool:
    """Whether a unit was sound that was tested between the last two tries at another."""
    *_, before, last = (-1, *places) if len(places) == 1 else places
    return before >= 0 and any(one.verdict is Verdict.GOOD for one in ended[before + 1 : last])


def _found(
    serial: str,
    tries: list[Try],
    sound_between: bool,
    receiving: ReceivingPlan,
    by_hand: Mapping[str, Verdict],
) -> UnitFound:
    last = tries[-1]
    assert last.verdict is not None, "only what came to an end is looked at"
    verdict, settled = last.verdict, Settled.BY_BENCH
    if verdict is Verdict.UNDECIDED and serial in by_hand:
        verdict, settled = by_hand[serial], Settled.BY_HAND
    elif verdict is Verdict.UNDECIDED and sound_between and tells_of_unit(tries):
        verdict, settled = Verdict.BAD, Settled.BY_COMPARISON
    defects = dict(_defects(last, verdict, receiving)) if verdict is Verdict.BAD else {}
    return UnitFound(serial, verdict, defects, settled, len(tries), last)


def tells_of_unit(tries: list[Try]) -> bool:
    """Whether the last two tries came to the same, of a kind that a sound unit between them clears the bench of."""
    return (
        len(tries) > 1
        and tries[-1].reason == tries[-2].reason
        and tries[-1].reason in map(str, _TELLS_OF_UNIT)
    )


def _defects(
    last: Try, verdict: Verdict, receiving: ReceivingPlan
) -> Iterator[tuple[Characteristic, DefectClass]]:
    """The characteristics that are to blame; those that the bench was undecided about where none was bad by itself."""
    blamed = [one for one in last.judged if one.verdict is verdict]
    blamed = blamed or [one for one in last.judged if one.verdict is Verdict.UNDECIDED]
    for one in blamed:
        yield Characteristic(one.characteristic), DefectClass(one.defect)
    if not blamed:
        # Decided by hand, or found in what the plan has no test for: it weighs as much as the gravest that is tested.
        yield receiving.test.asked[0], receiving.classes[0]
