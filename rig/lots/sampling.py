"""How many units of a lot are tested for each class of defects, and how many with a defect are accepted."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rig.sampling.design import Point, plan_by_two_points, zero_acceptance_plan
from rig.sampling.plan import NoSuchPlan, SinglePlan, whole_lot
from rig.sampling.sequential import SequentialPlan
from rig.sampling.sequential_design import sequential_plan
from rig.sampling.standard import SMALLEST_LOT, Level, Severity, standard_plan
from sequences.receiving import Acceptance, DefectClass, ReceivingPlan


@dataclass(frozen=True, slots=True)
class ClassPlan:
    """What is asked of a lot as far as one class of defects goes.

    Attributes:
        how: in words where the numbers come from.
        follows: its sample is what the classes with plans of their own ask for.

    """

    defect: DefectClass
    plan: SinglePlan | SequentialPlan
    how: str
    follows: bool = False

    def accepted_with(self, tested: int) -> str:
        """The most units with which the lot is accepted; unit by unit that depends on how many were tested."""
        most = accepted_number(self.plan, tested)
        return "none yet" if most is None else str(most)


def accepted_number(plan: SinglePlan | SequentialPlan, tested: int) -> int | None:
    """The most units with which a lot is accepted after so many; None: none is few enough yet."""
    return plan.acceptance_number if isinstance(plan, SinglePlan) else plan.acceptance_number(tested)


@dataclass(frozen=True, slots=True)
class LotSampling:
    """The sample of a lot. Each class counts the first units of the draw, as many as its own plan asks for."""

    quantity: int
    by_class: tuple[ClassPlan, ...]

    @property
    def units(self) -> int:
        """How many units are drawn: as many as the class that wants most."""
        return max(one.plan.sample_size for one in self.by_class)

    @property
    def is_whole(self) -> bool:
        """Whether every unit of the lot is tested."""
        return self.units >= self.quantity


def tightens(receiving: ReceivingPlan) -> bool:
    """Whether earlier lots decide how strictly the next one is inspected."""
    ways = (receiving.accept.of(one) for one in receiving.classes)
    has_limit = any(way is not None and way.aql_percent is not None for way in ways)
    return receiving.sampling.switching and has_limit and not receiving.sampling.all


def sampling_of(receiving: ReceivingPlan, quantity: int, severity: Severity) -> LotSampling:
    """The sample for a lot of so many units, inspected as strictly as is told.

    Raises:
        NoSuchPlan: where a class has no plan for such a lot; the words name the class and what is allowed.

    """
    made = {one.defect: one for one in _with_a_size(receiving, quantity, severity)}
    size = receiving.sampling.units or max((one.plan.sample_size for one in made.values()), default=quantity)
    for defect in receiving.classes:
        way = _way(receiving, defect)
        if way.most is not None and defect not in made:
            most = f"at most {way.most}" if way.most else "none"
            made[defect] = ClassPlan(
                defect, SinglePlan(min(size, quantity), way.most), f"{most} in the sample", follows=True
            )
    return LotSampling(quantity, tuple(made[defect] for defect in receiving.classes))


def _with_a_size(receiving: ReceivingPlan, quantity: int, severity: Severity) -> Iterator[ClassPlan]:
    """The classes whose own plans say how many units are drawn."""
    for defect in receiving.classes:
        way = _way(receiving, defect)
        try:
            if receiving.sampling.all or quantity < SMALLEST_LOT:
                yield _every_unit(defect, way, quantity)
            elif way.most is None:
                yield _designed(receiving, defect, quantity, severity)
        except NoSuchPlan as none:
            raise NoSuchPlan(f"accept.{defect}: {none}") from None


def _way(receiving: ReceivingPlan, defect: DefectClass) -> Acceptance:
    way = receiving.accept.of(defect)
    assert way is not None, "the file was refused without it"
    return way


def _every_unit(defect: DefectClass, way: Acceptance, quantity: int) -> ClassPlan:
    share = way.aql_percent or way.good_percent or 0.0
    accepted = way.most if way.most is not None else math.floor(quantity * share / 100 + 1e-9)
    return ClassPlan(defect, whole_lot(quantity, accepted), "every unit")


def _designed(receiving: ReceivingPlan, defect: DefectClass, quantity: int, severity: Severity) -> ClassPlan:
    sampling, way = receiving.sampling, _way(receiving, defect)
    if way.aql_percent is not None:
        level = Level(str(sampling.level))
        found = standard_plan(quantity, way.aql_percent, level=level, severity=severity)
        how = f"ISO 2859-1 level {level}, AQL {way.aql_percent:g} %, {severity}, code letter {found.letter_words}"
        return ClassPlan(defect, found.plan, how)
    if way.zero_percent is not None:
        poor = Point(way.zero_percent / 100, sampling.consumer_risk)
        how = f"none, so that {way.zero_percent:g} % is accepted {sampling.consumer_risk:.0%} of the time at most"
        return ClassPlan(defect, zero_acceptance_plan(poor, quantity).for_lot(quantity), how)
    assert way.good_percent is not None, "the file was refused without a way to accept"
    assert way.poor_percent is not None, "the two go together"
    good = Point(way.good_percent / 100, sampling.producer_risk)
    poor = Point(way.poor_percent / 100, sampling.consumer_risk)
    how = (
        f"{way.good_percent:g} % rejected {good.risk:.0%}, {way.poor_percent:g} % accepted {poor.risk:.0%} of the time "
        "at most"
    )
    if way.sequential:
        return ClassPlan(defect, sequential_plan(good, poor).for_lot(quantity), f"unit by unit: {how}")
    return ClassPlan(defect, plan_by_two_points(good, poor, quantity).for_lot(quantity), how)
