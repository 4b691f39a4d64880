"""What a label may say of a unit, taken from the record of its last attempt."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rig.events import DecidedByHand, UnitJudged, Verdict
from rig.papers.label_code import UnitCode
from rig.papers.label_parts import CodeDatum, Shown, Use
from rig.planning.planned import Planned
from rig.records import Listed, Records
from rig.recount.attempt import Attempt, NotRebuilt
from sequences.words import SetPoint
from wiring.plainwords import printable


class NoLabel(ValueError):
    """This unit gets no label; its text says why."""


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """What the labels of one unit are made from.

    `texts` has what can be named in a label's texts, empty where it is not known.
    """

    serial: str
    order: str
    sensor_type: str | None
    verdict: Verdict
    judged_on: date
    texts: Mapping[Shown, str]

    @property
    def use(self) -> Use:
        """Which labels it may get."""
        return Use.GOOD if self.verdict is Verdict.GOOD else Use.DO_NOT_USE

    def code(self, holds: Collection[CodeDatum]) -> UnitCode:
        """What a code says that holds these data."""
        return UnitCode(
            self.serial,
            self.order if CodeDatum.ORDER in holds else None,
            self.sensor_type if CodeDatum.TYPE in holds else None,
            self.judged_on if CodeDatum.DATE in holds else None,
        )


def facts_of_last(attempts: Sequence[Listed], records: Records, order: str | None = None) -> UnitFacts:
    """What the last attempt at a unit says, of `order` if one is given: whatever came before, it may have changed it.

    Raises NoLabel.
    """
    if not attempts:
        raise NoLabel("not begun yet")
    last = attempts[-1]
    if order is not None and last.order != order:
        raise NoLabel(f"it was last set for another order, {printable(last.order)}")
    decided = records.decision(last)
    by_hand = decided.event if decided is not None and isinstance(decided.event, DecidedByHand) else None
    return facts_of(records.attempt(last), by_hand)


def facts_of(attempt: Attempt, by_hand: DecidedByHand | None = None) -> UnitFacts:
    """What the labels of a unit are made from; `by_hand` is what was decided of it where the bench was undecided.

    Raises NoLabel for a unit without a verdict on its setting, or with a record that does not tell enough.
    """
    judged = attempt.judged
    if attempt.is_received:
        raise NoLabel("it was tested as a unit of a lot, and not set: set it for an order")
    if attempt.started is not None and attempt.started.purpose.judges_no_setting:
        raise NoLabel(attempt.started.purpose.why_no_paper)
    if judged is None:
        raise NoLabel("it has no verdict, its last run was not finished: set it again")
    verdict = judged.verdict if by_hand is None else by_hand.verdict
    planned = _planned(attempt, verdict)
    stamp = attempt.account[-1]
    judged_on = datetime.fromisoformat(stamp.utc).date()
    simulated = attempt.started is not None and attempt.started.simulated
    told = {Shown.SERIAL: stamp.serial, Shown.ORDER: stamp.order, Shown.DATE: judged_on.isoformat()}
    return UnitFacts(
        serial=stamp.serial,
        order=stamp.order,
        sensor_type=None if planned is None else planned.case.sensor_type.name,
        verdict=verdict,
        judged_on=judged_on,
        texts=dict.fromkeys(Shown, "")
        | _asked(planned)
        | _found(judged, by_hand, simulated=simulated)
        | told,
    )


def _planned(attempt: Attempt, verdict: Verdict) -> Planned | None:
    """The plan made once more; None if it cannot be, for a unit whose label warns whatever it was to be set to."""
    try:
        return attempt.planned
    except NotRebuilt as reason:
        if verdict is Verdict.GOOD:
            raise NoLabel(str(reason)) from None
        return None


def _asked(planned: Planned | None) -> dict[Shown, str]:
    """What the order asks for, with what was proposed for what it left open."""
    if planned is None:
        return {}
    order, sensor_type, setting = planned.case.order, planned.case.sensor_type, planned.setting
    points_mm = setting.set_points_mm
    return {
        Shown.CUSTOMER: order.customer,
        Shown.TYPE: sensor_type.name,
        Shown.TITLE: sensor_type.title,
        Shown.MODE: str(setting.mode),
        Shown.OUTPUT_FUNCTION: str(setting.output_function),
        Shown.OUTPUT_TYPE: str(setting.output_type),
        Shown.SET_POINTS: _points(points_mm),
        Shown.TOLERANCE: f"\u00b1 {setting.tolerance_mm:g} mm" if points_mm else "",
        Shown.DESIGNATION: setting.reference_designation or "",
    }


def _points(points_mm: Mapping[SetPoint, float]) -> str:
    return f"{' to '.join(f'{at_mm:g}' for at_mm in points_mm.values())} mm" if points_mm else ""


def _found(judged: UnitJudged, by_hand: DecidedByHand | None, *, simulated: bool) -> dict[Shown, str]:
    # A made-up unit's label must not end on a real one.
    made_up = "SIMULATED " if simulated else ""
    if by_hand is None:
        return {
            Shown.VERDICT: f"{made_up}{judged.verdict}",
            Shown.REASON: judged.reason.replace("-", " "),
            Shown.WORDS: judged.words,
        }
    good = by_hand.verdict is Verdict.GOOD
    return {
        Shown.VERDICT: f"{made_up}{by_hand.verdict}{', decided by hand' if good else ''}",
        Shown.REASON: "decided by hand",
        Shown.WORDS: printable(by_hand.why),
    }
