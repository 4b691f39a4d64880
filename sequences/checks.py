"""How each unit of an order is to be proved: by what, how thoroughly, and on what kind of rig."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from pydantic import Field

from sequences.words import Rule
from wiring.saying import say
from wiring.terms import Verification
from wiring.tomlfile import Contradiction, DataModel


class CalibrationNeed(StrEnum):
    """What becomes of work on a rig that is not within its calibration: refused, or marked on its papers."""

    NEEDED = "needed"
    MARKED = "marked"


class CheckUnitNeed(StrEnum):
    """What an order asks of the rig's check unit: measured in the shift, or as the rig profile has it."""

    NEEDED = "needed"
    AS_RIG = "as-rig"


class CheckPlan(DataModel):
    """How thoroughly each unit is proved after teaching."""

    method: Verification | None = Field(
        None, description="how to prove a unit; what the rig profile says (target.verify) where left out"
    )
    rule: Rule = Field(Rule.GUARDED, description="when a value proves a requirement")
    largest_risk: float | None = Field(
        None, gt=0, lt=0.5, description="largest chance of a wrong verdict on one limit (rule risk only)"
    )
    uncertainty_mm: float | None = Field(
        None,
        gt=0,
        le=100,
        description="expanded uncertainty (95 %) wanted of a measured edge, in mm; left out: what decides",
    )
    readings: int = Field(5, ge=1, le=100, description="readings at each check position")
    scan_readings: int | None = Field(
        None,
        ge=0,
        le=100,
        description="readings on a way out through each tolerance, where the output of a good unit changes once; 0: "
        "none; left out: 12 with a stage, none by hand",
    )
    settle_factor: float = Field(
        3.0, ge=1, le=20, description="wait before a reading, in response times of the sensor type"
    )
    near_blind_zone: bool = Field(True, description="also check close to the end of the blind zone")
    calibration: CalibrationNeed = Field(
        CalibrationNeed.MARKED,
        description="needed: no work on a rig that is not calibrated, or overdue; marked: the papers say so",
    )
    check_unit: CheckUnitNeed = Field(
        CheckUnitNeed.AS_RIG,
        description="needed: no work unless the rig's check unit was measured in this shift, without a signal; as-rig: "
        "what the rig profile asks for",
    )
    ends: bool = Field(
        False,
        description="also measure where the blind zone ends, if a unit detects from there on (measured)",
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a largest risk without its rule, and the rule without its risk."""
        if (self.largest_risk is not None) != (self.rule is Rule.RISK):
            given = (
                "nothing"
                if self.largest_risk is None
                else say("{largest_risk:g} with rule {rule}", largest_risk=self.largest_risk, rule=self.rule)
            )
            yield Contradiction(
                ("largest_risk",),
                "a largest risk and the rule that uses it belong together",
                given=given,
                allowed='rule = "risk" with largest_risk between 0 and 0.5, or neither',
            )
