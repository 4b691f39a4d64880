"""What a label may say of a unit, taken from the record of its last run."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pydantic import ValidationError

from rig.events import OrderInputs, OrderStarted, Purpose, Stamped, UnitJudged, UnitStarted, Verdict
from rig.journal import read_journal
from rig.papers.label_code import UnitCode
from rig.papers.label_parts import CodeDatum, Shown, Use
from rig.planning.compile import make_plan
from rig.planning.planned import whole_setting
from rig.planning.refusal import PlanRefused
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile

_OF_ORDER = (OrderStarted.kind, OrderInputs.kind)
_OF_UNIT = (UnitStarted.kind, UnitJudged.kind)
# Events of an order that belong to no unit.
_NO_SERIAL = ""


class NoLabel(ValueError):
    """This unit gets no label; its text says why."""


@dataclass(frozen=True, slots=True)
class UnitRun:
    """One run of a unit as recorded; None: the record does not tell."""

    serial: str
    order: str
    started: OrderStarted | None
    inputs: OrderInputs | None
    judged: UnitJudged | None = None
    judged_utc: str = ""


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """What the labels of one unit are made from.

    `texts` has what can be named in a label's texts, empty where it is not known.
    """

    serial: str
    order: str
    sensor_type: str
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


def serials_of_order(journal: Path, number: str) -> tuple[str, ...]:
    """The serials of an order as it was last begun, in its order; none if the record does not know it.

    Raises JournalError, and NoLabel if the order was recorded by another version.
    """
    found: tuple[str, ...] = ()
    for stamped in read_journal(journal, serials=(_NO_SERIAL,), kinds=(OrderInputs.kind,)):
        if stamped.order == number and isinstance(stamped.event, OrderInputs):
            found = _order(stamped.event).unit_serials()
    return found


def last_runs(journal: Path, serials: Collection[str]) -> dict[str, UnitRun]:
    """The last run of each of these units that the record knows.

    Raises JournalError.
    """
    started: dict[str, OrderStarted] = {}
    inputs: dict[str, OrderInputs] = {}
    runs: dict[str, UnitRun] = {}
    chosen = dict.fromkeys((_NO_SERIAL, *serials))
    for stamped in read_journal(journal, serials=tuple(chosen), kinds=(*_OF_ORDER, *_OF_UNIT)):
        match stamped.event:
            case OrderStarted() as begun:
                started[stamped.order] = begun
            case OrderInputs() as given:
                inputs[stamped.order] = given
            case UnitStarted():
                order = stamped.order
                runs[stamped.serial] = UnitRun(stamped.serial, order, started.get(order), inputs.get(order))
            case UnitJudged() as judged:
                _judge(runs, stamped, judged)
    return runs


def _judge(runs: dict[str, UnitRun], stamped: Stamped, judged: UnitJudged) -> None:
    run = runs.get(stamped.serial)
    if run is not None and run.order == stamped.order:
        runs[run.serial] = UnitRun(run.serial, run.order, run.started, run.inputs, judged, stamped.utc)


def facts_of(run: UnitRun) -> UnitFacts:
    """What the labels of a unit are made from.

    Raises NoLabel for a unit without a verdict on its setting, or with a record that does not tell enough.
    """
    if run.started is None or run.inputs is None:
        raise NoLabel(f"the record does not hold what order {run.order} asked for: set the unit again")
    if run.started.purpose is Purpose.SURVEY:
        raise NoLabel("it was last surveyed, which says nothing of its setting: set or verify it")
    if run.judged is None:
        raise NoLabel("it has no verdict, its last run was not finished: set it again")
    order, sensor_type, setting = _order(run.inputs), _sensor_type(run.inputs), _setting(run.inputs)
    judged_on = datetime.fromisoformat(run.judged_utc).date()
    return UnitFacts(
        serial=run.serial,
        order=run.order,
        sensor_type=sensor_type.name,
        verdict=run.judged.verdict,
        judged_on=judged_on,
        texts=_texts(run, run.judged, order, sensor_type, setting) | {Shown.DATE: judged_on.isoformat()},
    )


def _texts(
    run: UnitRun, judged: UnitJudged, order: Order, sensor_type: SensorType, setting: Setting
) -> dict[Shown, str]:
    # A made-up unit's label must not end on a real one.
    made_up = "SIMULATED " if run.started is not None and run.started.simulated else ""
    points_mm = [f"{at_mm:g}" for at_mm in setting.set_points_mm.values()]
    return {
        Shown.SERIAL: run.serial,
        Shown.ORDER: run.order,
        Shown.CUSTOMER: order.customer,
        Shown.TYPE: sensor_type.name,
        Shown.TITLE: sensor_type.title,
        Shown.MODE: str(setting.mode),
        Shown.OUTPUT_FUNCTION: str(setting.output_function),
        Shown.OUTPUT_TYPE: str(setting.output_type),
        Shown.SET_POINTS: f"{' to '.join(points_mm)} mm" if points_mm else "",
        Shown.TOLERANCE: f"\u00b1 {setting.tolerance_mm:g} mm" if points_mm else "",
        Shown.DESIGNATION: setting.reference_designation or "",
        Shown.VERDICT: f"{made_up}{judged.verdict}",
        Shown.REASON: judged.reason.replace("-", " "),
        Shown.WORDS: judged.words,
    }


_ANOTHER_VERSION = "its record was written by another version of the program, which has to print the label"


def _order(inputs: OrderInputs) -> Order:
    try:
        return Order.model_validate(inputs.order)
    except ValidationError:
        raise NoLabel(_ANOTHER_VERSION) from None


def _sensor_type(inputs: OrderInputs) -> SensorType:
    try:
        return SensorType.model_validate(inputs.sensor_type)
    except ValidationError:
        raise NoLabel(_ANOTHER_VERSION) from None


def _setting(inputs: OrderInputs) -> Setting:
    """The whole setting: what the order left open is proposed again, as it was then."""
    order = _order(inputs)
    if order.setting.is_whole:
        return order.setting
    try:
        plan = make_plan(order, _sensor_type(inputs), RigProfile.model_validate(inputs.rig))
    except (ValidationError, PlanRefused):
        raise NoLabel(_ANOTHER_VERSION) from None
    return whole_setting(order, plan)
