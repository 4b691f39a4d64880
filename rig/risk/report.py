"""What a study says: each risk as it was worked out beside what was seen, and whether the two agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rig.risk.beyond import REMEDIES, Beyond, beyond_of
from rig.risk.case import Case
from rig.risk.tally import Seen, Tally
from rig.risk.trial import Result
from rig.risk.worked_out import Stated, worked_out
from rig.statistics.binomial import clopper_pearson, lower_bound

AGREEMENT = 0.999
"""Coverage of the bounds within which a figure agrees: so wide that thirty figures by chance are not one too few."""

RISKS = {
    Result.ESCAPE: "escapes",
    Result.UNSEEN: "unseen",
    Result.FALSE_REJECTION: "false_rejections",
    Result.DOUBT: "doubts",
}
"""The results that are wrong or open, and the figures of the closed form that speak of them."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One risk of units with one fault, or with none; `worked_out` None where no closed form is known."""

    fault: str
    result: Result
    seen: Seen
    worked_out: float | None

    @property
    def agrees(self) -> bool | None:
        """Whether the figure that was worked out is one that could have given what was seen; None without one."""
        if self.worked_out is None:
            return None
        return self.worked_out in clopper_pearson(self.seen.count, self.seen.trials, AGREEMENT)


@dataclass(frozen=True)
class Report:
    """A study of one case, finished or not."""

    case: Case
    seed: int
    tally: Tally
    cpu_s: float

    @property
    def compared(self) -> tuple[Compared, ...]:
        """Every risk of every fault that came up."""
        return tuple(self._compared(worked_out(self.case)))

    @property
    def stated_risk(self) -> float:
        """The chance, stated by the plan, with which a unit passes that is bad by a hair: the worst of any bad unit."""
        return max((risk.passes_at_limit for risk in self.case.plan.grounds.risks), default=0.0)

    @property
    def escapes(self) -> Seen:
        """Escapes among bad units."""
        return Seen(self.tally.count(Result.ESCAPE), self.tally.bad)

    @property
    def beyond(self) -> dict[Beyond, int]:
        """What the proof of this order cannot tell, and how many units that were called good suffered from it."""
        seen = [one for outcome in self.tally.with_result(Result.UNSEEN) for one in outcome.beyond]
        return {beyond: seen.count(beyond) for beyond in beyond_of(self.case.plan)}

    @property
    def within_stated_risk(self) -> bool:
        """Whether nothing says that more bad units pass than the plan states, with 95 % confidence."""
        seen = self.escapes
        return seen.trials == 0 or lower_bound(seen.count, seen.trials) <= self.stated_risk

    @property
    def agrees(self) -> bool:
        """Whether all that could be worked out agrees with what was seen."""
        return all(one.agrees is not False for one in self.compared)

    def as_dict(self) -> dict[str, Any]:
        """The report for JSON."""
        order, rates = self.case.order, self.case.rates
        return {
            "order": order.number,
            "sensor_type": self.case.sensor_type.name,
            "rig": self.case.rig.name,
            "method": self.case.plan.method,
            "rule": self.case.plan.rule,
            "seed": self.seed,
            "units": self.tally.units,
            "bad_units": self.tally.bad,
            "assumed": rates.model_dump(mode="json", exclude_none=True),
            "stated_risk": self.stated_risk,
            "within_stated_risk": self.within_stated_risk,
            "agrees": self.agrees,
            "overall": {str(result): _seen(self.tally.of_all(result)) for result in Result},
            "by_fault": [
                {
                    "fault": one.fault,
                    "result": str(one.result),
                    **_seen(one.seen),
                    "worked_out": one.worked_out,
                    "agrees": one.agrees,
                }
                for one in self.compared
            ],
            "beyond_the_proof": [
                {"what": str(beyond), "why": REMEDIES[beyond], "count": count}
                for beyond, count in self.beyond.items()
            ],
            "cpu_s": round(self.cpu_s, 1),
            **{key: value for key, value in self.tally.as_dict().items() if key in ("listed", "unsafe")},
        }

    def _compared(self, known: Mapping[str, Stated]) -> Iterator[Compared]:
        for fault in self.tally.faults:
            units, stated = self.tally.units_with(fault), known.get(fault)
            for result, key in RISKS.items():
                seen = Seen(self.tally.count(result, fault=fault), units)
                yield Compared(fault, result, seen, None if stated is None else float(getattr(stated, key)))


def _seen(seen: Seen) -> dict[str, Any]:
    return {
        "count": seen.count,
        "of": seen.trials,
        "share": seen.share,
        "bounds": [seen.bounds.lower, seen.bounds.upper],
    }
