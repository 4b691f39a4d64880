"""`teachrig lot run`: tests the units that were drawn, one after another, until the lot is decided."""

from __future__ import annotations

from argparse import Namespace

from hal.simulated.benchfile import BenchFile
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    in_control_or_give_up,
    in_measured_air,
    may_teach_or_give_up,
    open_library,
    read_bench,
    read_or_give_up,
    read_profile,
    signed_in_by,
)
from rig.cli.json_text import print_json
from rig.cli.lots.common import journal_of, open_record_of, record_of
from rig.cli.lots.text import lot_as_dict, print_lot
from rig.cli.progress import Watch
from rig.lot_work import LotSession, lot_job, misfit_of_box
from rig.lots.draw import place_of
from rig.lots.following import Following
from rig.lots.record import LotRecord
from rig.receiving.planned import CannotReceive, Planned, planned
from rig.sampling.plan import Decision
from rig.sequencer.order_run import OrderResult
from rig.summary import Summary
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile


def command(options: Namespace) -> int:
    """Test what is left of a lot; the exit code says how it stands."""
    signed_in, library, journal = signed_in_by(options.by), open_library(), journal_of(options)
    record = open_record_of(journal, options.lot)
    sensor_type = read_or_give_up(lambda: library.read_type(record.lot.receiving.sensor_type))
    profile = read_profile(options.rig, library)
    may_teach_or_give_up(profile, journal)
    leave = in_control_or_give_up(profile, journal)
    calibrated = as_calibrated_or_give_up(profile, journal)
    bench_file = read_bench(options, profile, library, sensor_type.name, record.lot.receiving.output_type)
    if profile.air.probe is not None:
        calibrated = in_measured_air(calibrated, bench_file)
    made = _planned_or_give_up(record, sensor_type, calibrated)
    _furnished(bench_file, record)
    for warning in made.warnings:
        narrate(f"note: {warning}")
    following = Following(record.lot, record.tries, record.by_hand)
    first = following.next_serial()
    if first is None:
        return _tell(options, record, None)
    narrate(f"note: units are named after their places: {first} lies at place {place_of(first)} of the box")
    session = LotSession(
        lot_job(record.lot, made, sensor_type, calibrated),
        calibrated,
        bench_file,
        options.real_time,
        journal,
        notice=lambda words: narrate(f"note: {words}"),
        signed_in=signed_in,
        leave=leave,
        following=following,
    )
    watch = Watch(session, Summary(), live=not options.json)
    result = watch.run()
    code = _tell(options, record_of(journal, options.lot), result)
    narrate(f"record: {journal}")
    return watch.stopped_by or code


def _planned_or_give_up(record: LotRecord, sensor_type: SensorType, profile: RigProfile) -> Planned:
    try:
        return planned(record.lot.receiving, sensor_type, profile)
    except CannotReceive as why:
        name = record.lot.receiving.name
        raise GiveUp(
            Exit.BAD_INPUT, f"receiving plan {name} cannot be done on rig {profile.name}:\n{why}"
        ) from None


def _furnished(bench_file: BenchFile | None, record: LotRecord) -> None:
    if bench_file is None:
        return
    narrate("SIMULATED BENCH: no hardware is touched, the units are made up.")
    misfit = misfit_of_box(bench_file, record.lot)
    if misfit:
        raise GiveUp(Exit.BAD_INPUT, misfit)


def _tell(options: Namespace, record: LotRecord, result: OrderResult | None) -> int:
    with reader_may_leave():
        if options.json:
            print_json(lot_as_dict(record))
        else:
            print_lot(record)
    decision, number = record.standing.decision, record.lot.number
    if result is not None and result.trip is not None:
        narrate(f"TRIPPED: {result.ended_by}. When the cause is gone: teachrig lot run {number}")
        return Exit.BENCH_FAULT
    if result is not None and result.ended_by:
        narrate(f"ended: {result.ended_by}. To go on: teachrig lot run {number}")
        return Exit.NOT_ALL_GOOD
    if decision is None:
        narrate(
            "open: the bench stays undecided about units, and the lot hangs on them. Allowed: teachrig lot run again "
            "after looking at them, or two persons decide: teachrig decide SERIAL good|bad"
        )
        return Exit.NOT_ALL_GOOD
    narrate(f"next: teachrig lot close {number}")
    return Exit.DONE if decision is Decision.ACCEPTED else Exit.NOT_ALL_GOOD
