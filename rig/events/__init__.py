"""Everything that can happen, as frozen facts; screens, records and reports are all read from these."""

from __future__ import annotations

from rig.events.bench import (
    BenchReset,
    BenchTripped,
    CalibrationMade,
    PartChecked,
    PartMeasured,
    ReferenceRead,
    RigSignedOff,
    RigStepDone,
    SelfCheckEnded,
    SelfCheckStarted,
    WorkCutOff,
)
from rig.events.control import CheckUnitGivenUp, CheckUnitKept, CheckUnitLookedAt, CheckUnitMeasured
from rig.events.edges import EdgeBegun, EdgeMeasured, EdgeNotMeasured, EdgePassed, EdgeRead, EdgeSlid
from rig.events.event import EVENT_TYPES, Event
from rig.events.order import OrderEnded, OrderInputs, OrderStarted, Purpose
from rig.events.people import Asked, Corrected, DocumentMade, PersonSignedIn, PersonSilent
from rig.events.stamped import Stamped, event_from
from rig.events.teaching import AnswerSeen, ContactDue, ContactEnded, LedSeen, PauseEnded, StepStarted
from rig.events.unit import (
    AirMeasured,
    CheckDone,
    FigureMeasured,
    OutputRead,
    PoweredUp,
    SupplyMeasured,
    SupplySwitched,
    TargetMoved,
    ToleranceScanned,
    UnitRecognised,
    UnitRemoved,
    UnitStarted,
)
from rig.events.verdicts import DecidedByHand, RequirementJudged, UnitJudged, Verdict

__all__ = [
    "EVENT_TYPES",
    "AirMeasured",
    "AnswerSeen",
    "Asked",
    "BenchReset",
    "BenchTripped",
    "CalibrationMade",
    "CheckDone",
    "CheckUnitGivenUp",
    "CheckUnitKept",
    "CheckUnitLookedAt",
    "CheckUnitMeasured",
    "ContactDue",
    "ContactEnded",
    "Corrected",
    "DecidedByHand",
    "DocumentMade",
    "EdgeBegun",
    "EdgeMeasured",
    "EdgeNotMeasured",
    "EdgePassed",
    "EdgeRead",
    "EdgeSlid",
    "Event",
    "FigureMeasured",
    "LedSeen",
    "OrderEnded",
    "OrderInputs",
    "OrderStarted",
    "OutputRead",
    "PartChecked",
    "PartMeasured",
    "PauseEnded",
    "PersonSignedIn",
    "PersonSilent",
    "PoweredUp",
    "Purpose",
    "ReferenceRead",
    "RequirementJudged",
    "RigSignedOff",
    "RigStepDone",
    "SelfCheckEnded",
    "SelfCheckStarted",
    "Stamped",
    "StepStarted",
    "SupplyMeasured",
    "SupplySwitched",
    "TargetMoved",
    "ToleranceScanned",
    "UnitJudged",
    "UnitRecognised",
    "UnitRemoved",
    "UnitStarted",
    "Verdict",
    "WorkCutOff",
    "event_from",
]
