"""Calibrating on an open bench: the target goes from place to place, a person types what the reference says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from hal.bench import Bench
from hal.operator import NumberRange, Request, RequestKind
from rig.calibration.calibration import Calibration, due_day
from rig.chronicle import Chronicle
from rig.events import Asked, CalibrationMade, ReferenceRead
from wiring.profile import TargetKind

_PATIENCE_S = 600.0
# A number beyond this from where the target was sent is a slip of the finger or of the reference.
_SLIP_MM, _SLIP_SHARE = 20.0, 0.05


@dataclass(frozen=True, slots=True)
class Wanted:
    """How a calibration is to be made, and of which nest."""

    nest: str
    places_mm: tuple[float, ...]
    reference: str
    reference_error_mm: float
    person: str
    made: date
    valid_days: int


async def calibrate(bench: Bench, chronicle: Chronicle, wanted: Wanted) -> Calibration:
    """Go to every place, ask, fit and note; raises what the bench raises, and JournalError."""

    def note(request: Request) -> None:
        chronicle.note(Asked(str(request.kind), request.text, request.position_mm))

    bench.operator.on_request.append(note)
    pairs = [await _read(bench, chronicle, place_mm, wanted) for place_mm in wanted.places_mm]
    calibration = Calibration(
        bench.profile.name,
        wanted.nest,
        tuple(shown_mm for shown_mm, _ in pairs),
        tuple(true_mm for _, true_mm in pairs),
        wanted.reference,
        wanted.reference_error_mm,
        wanted.person,
        wanted.made.isoformat(),
        due_day(wanted.made, wanted.valid_days).isoformat(),
    )
    chronicle.note(CalibrationMade(bench.profile.name, wanted.nest, calibration.content()))
    await chronicle.durable()
    return calibration


async def _read(bench: Bench, chronicle: Chronicle, place_mm: float, wanted: Wanted) -> tuple[float, float]:
    """What the rig's own scale shows at a place, and what the reference says."""
    if bench.profile.target.kind is TargetKind.STAGE:
        await bench.interlock.arm()
    await bench.target.move_to(place_mm)
    bench.interlock.rest()
    shown_mm = await _shown_mm(bench, place_mm)
    slip_mm = _SLIP_MM + _SLIP_SHARE * place_mm
    request = Request(
        RequestKind.MEASURE_DISTANCE,
        f"Measure from the sensing face in nest {wanted.nest} to the target with the {wanted.reference}, and type the "
        "distance in mm.",
        number=NumberRange(place_mm - slip_mm, place_mm + slip_mm),
    )
    true_mm = await bench.operator.ask_number(request, timeout_s=_PATIENCE_S)
    chronicle.note(ReferenceRead(shown_mm, true_mm))
    return shown_mm, true_mm


async def _shown_mm(bench: Bench, place_mm: float) -> float:
    """By the gauge where one is fitted, as edges are measured by it; else where the target was to be put."""
    if bench.gauge is None:
        return place_mm
    await bench.waits.sleep(bench.gauge.profile.lag_s + bench.profile.target.settle_s)
    return (await bench.gauge.read()).position_mm
