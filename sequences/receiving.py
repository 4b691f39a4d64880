"""A receiving plan: what is tested on the units of a lot that was delivered, and when the lot is accepted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from sequences.checks import CheckPlan
from sequences.order import Setting, ToleranceMm
from sequences.words import DistanceMm, Line, Notes, TypeName, must_rise
from wiring.terms import DetectionMode, OutputFunction, OutputType
from wiring.tomlfile import Contradiction, DataModel


class DefectClass(StrEnum):
    """How much a defect weighs, the gravest first (ISO 2859-1 has classes; these three names are the trade's)."""

    CRITICAL = "critical"
    MAJOR = "major"
    MINOR = "minor"


class Characteristic(StrEnum):
    """What is tested on a unit, in the order in which it is."""

    SUPPLY_CURRENT = "supply current"
    OUTPUT = "output type and rest state"
    FACTORY_SETTING = "factory setting"
    BLIND_ZONE = "end of the blind zone"
    FAR_END = "far end of the range"
    LED = "LED"
    TRIAL_SETTING = "trial setting"

    @property
    def key(self) -> str:
        """Its key under [test] in a receiving plan."""
        return _KEYS[self]


_KEYS: Mapping[Characteristic, str] = {
    Characteristic.SUPPLY_CURRENT: "supply_current",
    Characteristic.OUTPUT: "output",
    Characteristic.FACTORY_SETTING: "factory_setting",
    Characteristic.BLIND_ZONE: "blind_zone",
    Characteristic.FAR_END: "far_end",
    Characteristic.LED: "led",
    Characteristic.TRIAL_SETTING: "trial_setting",
}

WHOLE_RANGE = (Characteristic.FACTORY_SETTING, Characteristic.BLIND_ZONE, Characteristic.FAR_END)
"""What is tested with the unit as it was delivered, over the whole of its range."""

Share = Annotated[float, Field(gt=0, lt=100, description="units with a defect, in % of the lot")]
Risk = Annotated[float, Field(gt=0, lt=0.5, description="chance of a wrong decision, 0 to 0.5")]

AQL_PERCENT = (0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
"""Preferred acceptance quality limits for defective units, from 0.10 % up (ISO 2859-1, from memory)."""


class InspectionLevel(StrEnum):
    """How large a sample is for the size of its lot (ISO 2859-1)."""

    I = "I"  # noqa: E741 - the standard's own name
    II = "II"
    III = "III"
    S_1 = "S-1"
    S_2 = "S-2"
    S_3 = "S-3"
    S_4 = "S-4"


class Sampling(DataModel):
    """How many units are drawn from the box, and when one may stop."""

    level: InspectionLevel = Field(
        InspectionLevel.II, description="inspection level, where aql_percent sets the sample"
    )
    units: int | None = Field(
        None, ge=1, le=10000, description="units to draw, where no class sets it; the whole lot if fewer"
    )
    all: bool = Field(False, description="test every unit of the lot")
    producer_risk: Risk = 0.05
    consumer_risk: Risk = 0.10
    curtail: bool = Field(True, description="whether to stop as soon as the lot can no longer be accepted")
    switching: bool = Field(
        True,
        description="whether earlier lots of supplier and type tighten the inspection, or end it (aql_percent)",
    )


class Acceptance(DataModel):
    """When a lot is accepted as far as one class of defects goes; exactly one of four ways.

    `most` of the units drawn; as the tables of ISO 2859-1 have it for `aql_percent`; by no defective at all in a sample
    that finds a lot with `zero_percent` with all but the consumer's risk; by the smallest sample that accepts a lot
    with `good_percent` with all but the producer's risk and one with `poor_percent` with no more than the consumer's,
    or unit by unit where `sequential`.
    """

    most: int | None = Field(None, ge=0, le=10000, description="units with such a defect that are accepted")
    aql_percent: float | None = Field(None, gt=0, le=10, description="acceptance quality limit, in %")
    zero_percent: Share | None = None
    good_percent: Share | None = None
    poor_percent: Share | None = None
    sequential: bool = Field(False, description="decide after each unit (good_percent and poor_percent)")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield none or several ways at once, half of a pair, and limits that no table has."""
        pair = (self.good_percent, self.poor_percent)
        ways = [key for key in ("most", "aql_percent", "zero_percent") if getattr(self, key) is not None]
        ways += ["good_percent"] if pair != (None, None) else []
        if len(ways) != 1:
            given = ", ".join(ways) or "none of them"
            yield Contradiction(
                (ways[-1] if ways else "most",), "one way to accept is wanted", given=given, allowed=_WAYS
            )
        if (pair[0] is None) != (pair[1] is None):
            key = "good_percent" if pair[0] is None else "poor_percent"
            yield Contradiction((key,), "good_percent and poor_percent go together", allowed="both of them")
        if self.sequential and pair == (None, None):
            yield Contradiction(("sequential",), "wants two points", allowed="good_percent and poor_percent")
        if self.aql_percent is not None and self.aql_percent not in AQL_PERCENT:
            allowed = ", ".join(f"{one:g}" for one in AQL_PERCENT)
            yield Contradiction(
                ("aql_percent",),
                "the tables have no such limit",
                given=f"{self.aql_percent:g}",
                allowed=allowed,
            )
        yield from must_rise(self, "good_percent", "poor_percent")


_WAYS = "most, aql_percent, zero_percent, or good_percent with poor_percent"


class ByClass(DataModel):
    """When a lot is accepted, class by class; it is accepted when every class says so."""

    critical: Acceptance | None = Field(None, description="for critical defects")
    major: Acceptance | None = Field(None, description="for major defects")
    minor: Acceptance | None = Field(None, description="for minor defects")

    def of(self, defect: DefectClass) -> Acceptance | None:
        """The one of a class; None where the plan has none."""
        found: Acceptance | None = getattr(self, defect)
        return found


class Test(DataModel):
    """One characteristic that is tested: how much a defect there weighs, and how many are accepted of it alone."""

    defect: DefectClass = Field(description="critical, major or minor")
    most: int | None = Field(
        None,
        ge=0,
        le=10000,
        description="units with this defect that are accepted, besides what its class allows",
    )


class Tests(DataModel):
    """What is tested; what is left out is not."""

    supply_current: Test | None = Field(None, description="supply current within the type's data")
    output: Test | None = Field(None, description="output type and function, with a target and without")
    factory_setting: Test | None = Field(None, description="set as the type's data say a new unit is")
    blind_zone: Test | None = Field(None, description="detects as near as the type's data say")
    far_end: Test | None = Field(None, description="detects as far as the type's data say")
    led: Test | None = Field(None, description="LED shows what the type's data say it shows")
    trial_setting: Test | None = Field(None, description="takes the setting of [trial], and switches there")

    def of(self, characteristic: Characteristic) -> Test | None:
        """The test of a characteristic; None if it is not tested."""
        found: Test | None = getattr(self, characteristic.key)
        return found

    @property
    def asked(self) -> tuple[Characteristic, ...]:
        """What is tested, in order."""
        return tuple(one for one in Characteristic if self.of(one) is not None)


class Trial(DataModel):
    """What a unit is taught once, to see that it takes it; distances in mm from the sensing face."""

    mode: DetectionMode = Field(description="detection mode to teach")
    output_function: OutputFunction = Field(description="output function to teach")
    at_mm: DistanceMm | None = Field(None, description="the only set point, in mm")
    near_mm: DistanceMm | None = Field(None, description="near end of a window, in mm")
    far_mm: DistanceMm | None = Field(None, description="far end of a window, in mm")
    tolerance_mm: ToleranceMm | None = None
    checks: CheckPlan = Field(CheckPlan(), description="how it is proved that the unit has taken it")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield distances that the mode does not have or lacks."""
        setting = self.setting(OutputType.PNP, checked=False)
        yield from setting.contradictions()
        yield from setting.left_out()

    def setting(self, output_type: OutputType, *, checked: bool = True) -> Setting:
        """The same as an order has it."""
        given = {key: getattr(self, key) for key in _SETTING_KEYS} | {"output_type": output_type}
        return Setting(**given) if checked else Setting.model_construct(**given)


_SETTING_KEYS = ("mode", "output_function", "at_mm", "near_mm", "far_mm", "tolerance_mm")


class ReceivingPlan(DataModel):
    """How lots of one sensor type are received."""

    name: TypeName
    title: Line = Field(description="what a person calls the plan, printable, on one line")
    notes: Notes = ""
    sensor_type: Line = Field(description="name of a sensor type, or the path of its .toml file")
    output_type: OutputType = Field(description="output type that was ordered")
    restore: bool = Field(
        description="whether a unit that was taught a trial setting is taught its factory setting again"
    )
    sampling: Sampling = Field(Sampling(), description="how many units are drawn")
    accept: ByClass = Field(description="when the lot is accepted, for each class of defects")
    test: Tests = Field(description="what is tested on each unit, one [test.NAME] each")
    trial: Trial | None = Field(None, description="the setting that is taught as a trial")

    @property
    def classes(self) -> tuple[DefectClass, ...]:
        """The classes of the defects that are tested for, the gravest first."""
        used = {test.defect for one in self.test.asked if (test := self.test.of(one)) is not None}
        return tuple(one for one in DefectClass if one in used)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield classes without acceptance, tests without what they need, and a sample that nothing sets."""
        if not self.test.asked:
            keys = ", ".join(f"[test.{one.key}]" for one in Characteristic)
            yield Contradiction(("test",), "nothing is tested", allowed=keys)
        for defect in self.classes:
            if self.accept.of(defect) is None:
                yield Contradiction(
                    ("accept",),
                    f"does not say when {defect} defects are accepted",
                    allowed=f"[accept.{defect}]",
                )
        if (self.trial is None) != (self.test.trial_setting is None):
            yield Contradiction(
                ("trial",),
                "a trial setting and its test belong together",
                allowed="[trial] with [test.trial_setting], or neither",
            )
        yield from self._sample_that_nothing_sets()

    def _sample_that_nothing_sets(self) -> Iterator[Contradiction]:
        ways = [self.accept.of(one) for one in self.classes]
        by_number = all(one is None or one.most is not None for one in ways)
        if by_number and not self.sampling.all and self.sampling.units is None:
            yield Contradiction(
                ("sampling",),
                "nothing says how many units are drawn",
                allowed="units, all = true, or a class that is not accepted by most",
            )
