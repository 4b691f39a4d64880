"""The air at the machine and on the bench, and what a distance at the one is at the other."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rig.planning.air import REFERENCE_AIR, Air, pressure_at_altitude_kpa
from rig.planning.bench_position import AirDoubt, AirRange, AirTransfer, Compensation, DriftBand
from rig.statistics.uncertainty import Component
from sequences.datasheet import Sensing
from sequences.need import AirNeed
from wiring.profile import AirProfile

# The middle of the machine's air is where a set point is stated to hold: by definition, so without doubt.
_NO_DOUBT = AirDoubt(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Conditions:
    """The two airs of an order.

    Attributes:
        bench: the air in which the unit is taught and checked.
        doubt: how far the true air on the bench may be from that.
        span: the machine's air over the year; None where the order does not state it, and set points then hold
            in the air of the bench.
        transfer: between the middle of the machine's air, where set points are stated to hold, and the bench.
        scale: bench distance over machine distance.
        drift_inward: share of its distance by which a set point may come nearer over the machine's air.
        drift_outward: share of its distance by which it may go farther.

    """

    bench: Air
    doubt: AirDoubt
    span: AirRange | None
    transfer: AirTransfer
    scale: float
    drift_inward: float
    drift_outward: float

    @property
    def compensated(self) -> bool:
        """Whether the unit corrects for the air itself."""
        return self.transfer.compensation.residual_percent_per_k is not None

    @property
    def machine(self) -> Air:
        """The middle of the machine's air."""
        return self.transfer.machine

    def band(self, machine_mm: float) -> DriftBand | None:
        """Where a set point wanders over the machine's air; None where that is not stated."""
        return None if self.span is None else self.transfer.drift_band_mm(machine_mm, self.span)

    def on_bench(self, sensing: Sensing) -> Sensing:
        """A data sheet with blind zone and sensing range at their worst in the air of the bench."""
        band = self.sheet_on_bench_mm(1.0)
        blind_mm = sensing.blind_zone_mm * max(1.0, band.farthest_mm)
        range_mm = sensing.range_mm * min(1.0, band.nearest_mm)
        return sensing.model_copy(update={"blind_zone_mm": blind_mm, "range_mm": range_mm})

    def sheet_on_bench_mm(self, sheet_mm: float) -> DriftBand:
        """Where a distance of the data sheet, such as the end of the range, lies in the air of the bench.

        A data sheet states it in the reference air. A unit that stores an echo time knows it as a time too, and one
        that corrects for the air does so as well, or as badly, as for its set points.
        """
        air, sheet = self.bench, AirTransfer(REFERENCE_AIR, REFERENCE_AIR, self.transfer.compensation)
        only = AirRange(
            air.temperature_c,
            air.temperature_c,
            air.humidity_percent,
            air.humidity_percent,
            air.pressure_kpa,
        )
        return sheet.drift_band_mm(sheet_mm, only)

    def components(self) -> tuple[Component, ...]:
        """What the air on the bench adds to the doubt of one millimetre, in mm.

        A unit that stores an echo time is proven for the middle of the machine's air, one that corrects for the
        air where it stands. What the machine's air does to either from there on is the drift band.
        """
        if self.span is None:
            return ()
        transfer = replace(self.transfer, machine=self.bench) if self.compensated else self.transfer
        return transfer.components(1.0, _NO_DOUBT, self.doubt)

    def airs(self) -> tuple[Air, ...]:
        """Airs that the machine may stand in: the extremes, and between driest and dampest.

        Air may swallow sound most at a humidity between, so the middle is looked at too.
        """
        if self.span is None:
            return (self.bench,)
        middle = (self.span.driest_percent + self.span.dampest_percent) / 2
        between = (
            Air(celsius, middle, self.span.pressure_kpa)
            for celsius in (self.span.coldest_c, self.span.warmest_c)
        )
        return (*self.span.corners(), *between)


def conditions_of(need: AirNeed | None, sensing: Sensing, bench: AirProfile) -> Conditions:
    """The conditions of an order whose need states the machine's air, or does not."""
    air = Air(bench.temperature_c, bench.humidity_percent, bench.pressure_kpa)
    doubt = AirDoubt(bench.temperature_error_k, bench.humidity_error_percent, bench.pressure_error_kpa)
    residual = sensing.drift_percent_per_k if sensing.temperature_compensated else None
    compensation = Compensation(residual)
    if need is None:
        return Conditions(air, doubt, None, AirTransfer(air, air, compensation), 1.0, 0.0, 0.0)
    span = _span(need)
    transfer = AirTransfer(_middle(span), air, compensation)
    band = transfer.drift_band_mm(1.0, span)
    inward, outward = max(0.0, 1 - band.nearest_mm), max(0.0, band.farthest_mm - 1)
    return Conditions(air, doubt, span, transfer, transfer.scale, inward, outward)


def _span(need: AirNeed) -> AirRange:
    pressure_kpa = need.pressure_kpa
    if pressure_kpa is None:
        pressure_kpa = pressure_at_altitude_kpa(need.altitude_m or 0.0)
    return AirRange(need.coldest_c, need.warmest_c, need.driest_percent, need.dampest_percent, pressure_kpa)


def _middle(span: AirRange) -> Air:
    return Air(
        (span.coldest_c + span.warmest_c) / 2,
        (span.driest_percent + span.dampest_percent) / 2,
        span.pressure_kpa,
    )
