"""`teachrig run`: set and check every unit of an order."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from hal.simulated.benchfile import BenchFile
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    in_control_or_give_up,
    in_measured_air,
    may_teach_or_give_up,
    open_library,
    plan_or_give_up,
    read_bench,
    read_order,
    read_profile,
    signed_in_by,
    within_calibration_or_give_up,
)
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.measured import print_measured
from rig.cli.progress import Watch
from rig.cli.table import closing_words, print_units, print_words
from rig.events import Purpose, Verdict
from rig.jobs import job_of
from rig.journal import JournalError
from rig.planning.plan import Plan
from rig.resuming import done_before, finished_before, left_on_shelf
from rig.sequencer.order_run import OrderResult
from rig.session import JOURNAL_NAME, Session
from rig.summary import Summary
from sequences.order import Order


@dataclass(frozen=True)
class Done:
    """An order that was worked through, as far as it came; `code` says how it went."""

    order: Order
    plan: Plan
    result: OrderResult
    summary: Summary
    journal: Path
    code: int


def command(options: Namespace) -> int:
    """Run the order; the exit code says how it went."""
    done = work_through(options)
    with reader_may_leave():
        if options.json:
            print_json(result_as_dict(done))
        else:
            title = f"order {done.order.number} for {done.order.customer}"
            print_units(list(done.summary.units.values()), title=title)
            print_measured(done.summary.units.values(), Page())
            print_words(closing_words(done.result))
    narrate(f"record: {done.journal}")
    return done.code


def work_through(
    options: Namespace,
    purpose: Purpose = Purpose.SET,
    furnish: Callable[[BenchFile, Plan], BenchFile] = lambda bench_file, _: bench_file,
) -> Done:
    """Do the order on its rig; `furnish` has the last word on what a simulated bench holds."""
    signed_in = signed_in_by(options.by)
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    profile = read_profile(options.rig, library)
    journal = data_folder(options.data) / JOURNAL_NAME
    calibrated = as_calibrated_or_give_up(profile, journal)
    plan = plan_or_give_up(order, sensor_type, calibrated)
    if purpose is Purpose.SET:
        may_teach_or_give_up(profile, journal)
    within_calibration_or_give_up(order, profile, journal)
    leave = in_control_or_give_up(profile, journal, order)
    bench_file = read_bench(options, profile, library, order.sensor_type, order.setting.output_type)
    if profile.air.probe is not None:
        calibrated = in_measured_air(calibrated, bench_file)
        plan = plan_or_give_up(order, sensor_type, calibrated)
    if bench_file is not None:
        bench_file = furnish(bench_file, plan)
        narrate("SIMULATED BENCH: no hardware is touched, the units are made up.")
    done = () if options.anew else _done_before(journal, order, purpose, simulated=bench_file is not None)
    serials = tuple(one for one in order.unit_serials() if one not in done)
    if bench_file is not None and done:
        bench_file = left_on_shelf(bench_file, order.unit_serials(), done)
    for warning in (*plan.warnings, *_too_few_units(bench_file, len(serials))):
        narrate(f"note: {warning}")
    job = job_of(order, sensor_type, calibrated, plan, purpose)
    session = Session(
        job,
        calibrated,
        bench_file,
        options.real_time,
        journal,
        notice=lambda words: narrate(f"note: {words}"),
        serials=serials,
        signed_in=signed_in,
        leave=leave,
    )
    watch = Watch(session, Summary(), live=not options.json)
    result = watch.run()
    return Done(order, plan, result, watch.summary, journal, watch.stopped_by or exit_code(result))


def _done_before(journal: Path, order: Order, purpose: Purpose, *, simulated: bool) -> tuple[str, ...]:
    serials = order.unit_serials()
    try:
        done = done_before(journal, order.number, purpose, serials, simulated=simulated)
        finished = "" if done else finished_before(journal, order.number, purpose, simulated=simulated)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    if done:
        left = len(serials) - len(done)
        words = f"{left} are left and done now" if left else "none is left"
        narrate(
            f"order {order.number} was begun before: {len(done)} of {len(serials)} units have their verdict, {words} "
            "(--anew does all of them again)"
        )
    elif finished and purpose is Purpose.SET:
        narrate(
            f"note: order {order.number} was finished before, begun {finished[:10]}: all units are set again"
        )
    return done


def exit_code(result: OrderResult) -> Exit:
    """0 all good, 1 some not, 3 tripped."""
    if result.trip is not None:
        return Exit.BENCH_FAULT
    all_good = result.left == 0 and result.count(Verdict.GOOD) == len(result.verdicts)
    return Exit.DONE if all_good else Exit.NOT_ALL_GOOD


def _too_few_units(bench_file: BenchFile | None, wanted: int) -> Iterator[str]:
    if bench_file is not None and not bench_file.endless:
        ready = sum(row.count for row in bench_file.unit)
        if ready < wanted:
            yield f"the simulated bench holds {ready} units, the order wants {wanted}: some will be left"


def result_as_dict(done: Done) -> dict[str, object]:
    """The same for a program."""
    result, summary = done.result, done.summary
    return {
        "order": result.order,
        "simulated": summary.simulated,
        "counts": {str(verdict): result.count(verdict) for verdict in Verdict},
        "left": result.left,
        "ended_by": result.ended_by,
        "trip": None if result.trip is None else {"cause": str(result.trip.kind), "check": result.trip.check},
        "units": [unit.as_dict() for unit in summary.units.values()],
    }
