"""Lots for the tests of what is decided about them: units that were found so, without a bench."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rig.events import CharacteristicJudged, LotOpened, Stamped, UnitJudged, UnitStarted, Verdict
from rig.library import Library
from rig.lots.decision import Standing, standing
from rig.lots.lot import Lot
from rig.lots.sampling import sampling_of
from rig.lots.units import Try, UnitFound, units_found
from rig.sampling.standard import Severity
from sequences.receiving import Acceptance, ByClass, Characteristic, DefectClass, ReceivingPlan, Sampling

SHIPPED = Library(None).read_receiving("barrel-18-rail")[0]
WHERE = {
    DefectClass.CRITICAL: Characteristic.OUTPUT,
    DefectClass.MAJOR: Characteristic.TRIAL_SETTING,
    DefectClass.MINOR: Characteristic.LED,
}


def plan_with(sampling: Mapping[str, object] | None = None, **ways: Mapping[str, object]) -> ReceivingPlan:
    """The shipped plan of the M18 barrels with other ways to sample and to accept, by class."""
    accept = {defect: Acceptance(**ways.get(str(defect), {"most": 0})) for defect in DefectClass}  # type: ignore[arg-type]
    changes = {"sampling": Sampling(**(sampling or {})), "accept": ByClass(**accept)}  # type: ignore[arg-type]
    return ReceivingPlan.model_validate(SHIPPED.model_copy(update=changes).model_dump())


def try_at(serial: str, verdict: Verdict, defect: DefectClass | None = None, reason: str = "proven") -> Try:
    """One time in the nest."""
    one = Try(serial, "", verdict=verdict, reason=reason, words=f"{verdict}")
    if defect is not None:
        where = str(WHERE[defect])
        one.judged.append(CharacteristicJudged(where, defect, verdict, reason, None, None, None, "", ""))
    return one


def found_of(plan: ReceivingPlan, defects: Iterable[DefectClass | None]) -> dict[str, UnitFound]:
    """Units u0, u1, ... in the order of the draw, each with a defect of a class, or sound."""
    tries = [
        try_at(f"u{number}", Verdict.GOOD if defect is None else Verdict.BAD, defect)
        for number, defect in enumerate(defects)
    ]
    return units_found(tries, plan, {})


def stands(plan: ReceivingPlan, quantity: int, found: Mapping[str, UnitFound]) -> Standing:
    """How a lot stands of whose sample these units are known."""
    sampling = sampling_of(plan, quantity, Severity.NORMAL)
    return standing(plan, sampling, [f"u{number}" for number in range(sampling.units)], found)


def opened(plan: ReceivingPlan, quantity: int, seed: int = 7) -> Lot:
    """A lot that was opened just now."""
    data = plan.model_dump(mode="json")
    event = LotOpened(
        "L-1", "Hazelbourne", "DN-1", plan.sensor_type, quantity, seed, "normal", data, "", "", ""
    )
    return Lot(event, "2026-01-05T07:00:00.000Z", quantity, plan)


def stamped_try(one: Try) -> Iterator[Stamped]:
    """The same as events."""
    assert one.verdict is not None
    for event in (UnitStarted("A", 0), *one.judged, UnitJudged(one.verdict, one.reason, one.words)):
        yield Stamped(1, 0, "2026-01-05T07:00:00.000Z", "L-1", one.serial, event)
