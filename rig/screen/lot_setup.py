"""Reads and plans a lot for the bench that it is tested on; whatever stands against it is one error with words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from hal.errors import BenchError
from rig.air_now import in_measured_air
from rig.calibration.using import as_calibrated
from rig.journal import JournalError
from rig.lot_work import lot_job, misfit_of_box
from rig.lots.lot import NoLot
from rig.lots.record import LotRecord, open_lots
from rig.receiving.planned import CannotReceive, planned
from rig.sampling.plan import NoSuchPlan
from rig.screen.setup import Bench, CannotStart, Setup
from sequences.order import Order, Setting
from wiring.tomlfile import DataFileError


@dataclass(frozen=True, slots=True, kw_only=True)
class LotSetup(Setup):
    """One lot on one bench, read and planned."""

    record: LotRecord


def lot_setup(bench: Bench, number: str) -> LotSetup:
    """A lot of the record that is open; raises CannotStart."""
    try:
        with open_lots(bench.journal) as lots:
            record = lots.record(number)
        sensor_type = bench.library.read_type(record.lot.receiving.sensor_type)
        bench_file = bench.furnished(sensor_type.name, record.lot.receiving.output_type)
        rig = as_calibrated(bench.profile, bench.journal, datetime.now().astimezone().date())
        if rig.air.probe is not None:
            rig = in_measured_air(rig, bench_file)
        made = planned(record.lot.receiving, sensor_type, rig)
    except (JournalError, NoLot, NoSuchPlan, CannotReceive, DataFileError, BenchError) as why:
        raise CannotStart(str(why)) from None
    lot = record.lot
    misfit = "" if bench_file is None else misfit_of_box(bench_file, lot)
    if misfit:
        raise CannotStart(misfit)
    job = lot_job(lot, made, sensor_type, rig)
    return LotSetup(
        job=job,
        order=_as_order(record),
        sensor_type=sensor_type,
        profile=rig,
        bench_file=bench_file,
        journal=bench.journal,
        real_time=bench.real_time,
        speed=bench.speed,
        quickest_s=bench.quickest_s,
        record=record,
    )


def _as_order(record: LotRecord) -> Order:
    """The lot as the parts of the screen know it that speak of orders; nothing is set by it."""
    serials = record.lot.serials()
    return Order.model_construct(
        number=record.lot.number,
        customer=record.lot.opened.supplier,
        quantity=len(serials),
        sensor_type=record.lot.opened.sensor_type,
        serials=serials,
        setting=Setting.model_construct(output_type=record.lot.receiving.output_type),
    )
