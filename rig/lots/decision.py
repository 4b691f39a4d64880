"""What becomes of a lot: pure, from its plan and from what was found of its units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rig.events import Verdict
from rig.lots.sampling import ClassPlan, LotSampling
from rig.lots.units import UnitFound
from rig.sampling.estimate import Ending, Seen
from rig.sampling.plan import Decision, SinglePlan
from rig.sampling.sequential import SequentialPlan
from sequences.receiving import Characteristic, DefectClass, ReceivingPlan


@dataclass(frozen=True, slots=True)
class ClassCount:
    """How the lot stands as far as one class of defects goes.

    Where a plan decides unit by unit, the units behind the one that has decided no longer count.

    Attributes:
        tested: units of its sample that have a verdict that counts, undecided ones left out.
        found: of them, units whose gravest defect is of this class.
        undecided: units about which nothing can be said yet.
        left: units of its sample that are not tested yet.

    """

    asked: ClassPlan
    tested: int
    found: int
    undecided: int
    left: int

    @property
    def decision(self) -> Decision | None:
        """What is sure by now; None while it is open. Accepted only by the whole of its sample."""
        plan = self.asked.plan
        if isinstance(plan, SequentialPlan):
            return plan.decided_early(self.tested, self.found) if self.tested else None
        if self.found > plan.acceptance_number:
            return Decision.REJECTED
        if self.left or self.found + self.undecided > plan.acceptance_number:
            return None
        return Decision.ACCEPTED

    @property
    def seen(self) -> Seen:
        """The same for estimates of the share in the lot."""
        if self.decision is not None and isinstance(self.asked.plan, SequentialPlan):
            ending = Ending.WHOLE
        elif self.decision is Decision.REJECTED and self.left:
            ending = Ending.REJECTED_EARLY
        else:
            ending = Ending.BROKEN_OFF if self.left or self.undecided else Ending.WHOLE
        return Seen(self.tested, self.found, ending)


@dataclass(frozen=True, slots=True)
class AloneCount:
    """A characteristic that has an acceptance number of its own, and how many units have that defect."""

    characteristic: Characteristic
    most: int
    found: int

    @property
    def rejects(self) -> bool:
        """Whether it alone keeps the lot from being accepted."""
        return self.found > self.most


@dataclass(frozen=True, slots=True)
class Standing:
    """How a lot stands.

    Attributes:
        tested: units of the sample that were tested and decided.
        defective: of them, those with a defect of any class.
        undecided: serials about which nothing can be said yet.
        left: serials of the sample that are not tested yet, in the order of the draw.
        by_characteristic: units with each defect, the most frequent first.

    """

    classes: tuple[ClassCount, ...]
    alone: tuple[AloneCount, ...]
    tested: int
    defective: int
    undecided: tuple[str, ...]
    left: tuple[str, ...]
    by_characteristic: Mapping[Characteristic, int]
    curtails: bool

    @property
    def sure(self) -> Decision | None:
        """The decision that nothing could change any more; None while it is open."""
        decisions = {one.decision for one in self.classes}
        if Decision.REJECTED in decisions or any(one.rejects for one in self.alone):
            return Decision.REJECTED
        return None if None in decisions else Decision.ACCEPTED

    @property
    def decision(self) -> Decision | None:
        """The decision, once the plan lets testing end."""
        if self.sure is Decision.REJECTED and self.left and not self.curtails:
            return None
        return self.sure

    @property
    def early(self) -> bool:
        """Whether it was decided before the sample was whole."""
        return self.decision is not None and bool(self.left)

    @property
    def seen(self) -> Seen:
        """Units with a defect of any class, for estimates of their share in the lot."""
        early = self.early and self.decision is Decision.REJECTED and self.defective > 0
        ending = (
            Ending.REJECTED_EARLY
            if early
            else Ending.BROKEN_OFF
            if self.left or self.undecided
            else Ending.WHOLE
        )
        return Seen(self.tested, self.defective, ending)


def standing(
    receiving: ReceivingPlan, sampling: LotSampling, serials: Sequence[str], found: Mapping[str, UnitFound]
) -> Standing:
    """How a lot stands; `serials` are the units of its sample in the order of the draw."""
    known = [found.get(serial) for serial in serials]
    decided = [one for one in known if one is not None and one.verdict is not Verdict.UNDECIDED]
    by_characteristic = Counter(one for unit in decided for one in unit.defects)
    return Standing(
        classes=tuple(_counted(one, sampling, known) for one in sampling.by_class),
        alone=tuple(_alone(receiving, by_characteristic)),
        tested=len(decided),
        defective=sum(bool(unit.defects) for unit in decided),
        undecided=tuple(one.serial for one in known if one is not None and one.verdict is Verdict.UNDECIDED),
        left=tuple(serial for serial in serials if serial not in found),
        by_characteristic=dict(by_characteristic.most_common()),
        curtails=receiving.sampling.curtail,
    )


def _counted(asked: ClassPlan, sampling: LotSampling, known: Sequence[UnitFound | None]) -> ClassCount:
    own = known[: asked.plan.sample_size]
    hits = [_counts_as(unit, index, sampling) is asked.defect for index, unit in enumerate(own)]
    if isinstance(asked.plan, SequentialPlan):
        return _unit_by_unit(asked, asked.plan, own, hits)
    end = _end_of_those_before(sampling, known) if asked.follows else None
    if end is not None:
        own, hits = own[:end], hits[:end]
        # What it has proven is what so many units prove, not what the longest way to a decision would have.
        asked = replace(asked, plan=SinglePlan(len(own), asked.plan.acceptance_number))
    undecided = sum(unit is not None and unit.verdict is Verdict.UNDECIDED for unit in own)
    left = sum(unit is None for unit in own)
    return ClassCount(asked, len(own) - undecided - left, sum(hits), undecided, left)


def _unit_by_unit(
    asked: ClassPlan, plan: SequentialPlan, own: Sequence[UnitFound | None], hits: Sequence[bool]
) -> ClassCount:
    """Up to the unit that decides; one that nothing can be said about yet holds up all behind it."""
    found = 0
    for index, unit in enumerate(own):
        if unit is None:
            return ClassCount(asked, index, found, 0, len(own) - index)
        if unit.verdict is Verdict.UNDECIDED:
            return ClassCount(asked, index, found, 1, sum(one is None for one in own))
        found += hits[index]
        if plan.decided_early(index + 1, found) is not None:
            return ClassCount(asked, index + 1, found, 0, 0)
    return ClassCount(asked, len(own), found, 0, 0)


def _end_of_those_before(sampling: LotSampling, known: Sequence[UnitFound | None]) -> int | None:
    """How many units the classes that decide unit by unit have asked for; None where none does, or one is open."""
    counts = [
        _counted(one, sampling, known) for one in sampling.by_class if isinstance(one.plan, SequentialPlan)
    ]
    if not counts or any(one.decision is None for one in counts):
        return None
    fixed = [
        one.plan.sample_size
        for one in sampling.by_class
        if isinstance(one.plan, SinglePlan) and not one.follows
    ]
    return max([one.tested for one in counts] + fixed)


def _counts_as(unit: UnitFound | None, index: int, sampling: LotSampling) -> DefectClass | None:
    """The gravest class of its defects, of the classes whose sample it belongs to: a unit counts once."""
    if unit is None:
        return None
    own = {one.defect for one in sampling.by_class if index < one.plan.sample_size}
    return next((one for one in DefectClass if one in own and one in unit.defects.values()), None)


def _alone(receiving: ReceivingPlan, found: Mapping[Characteristic, int]) -> Iterator[AloneCount]:
    for one in receiving.test.asked:
        test = receiving.test.of(one)
        if test is not None and test.most is not None:
            yield AloneCount(one, test.most, found.get(one, 0))
