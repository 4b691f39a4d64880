"""`teachrig demo`: the main job on the simulated bench, with what was really wrong beside what was found."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.exits import Exit, narrate, reader_may_leave
from rig.cli.inputs import data_folder, plan_or_give_up, read_order, read_profile
from rig.cli.json_text import print_json
from rig.cli.progress import Watch
from rig.cli.table import print_units, print_words
from rig.demo import DemoBatch, as_expected, demo_batches, demo_bench
from rig.jobs import job_of
from rig.library import Library
from rig.sequencer.order_run import OrderResult
from rig.session import JOURNAL_NAME, Session
from rig.summary import Summary, UnitSummary


def command(options: Namespace) -> int:
    """Run the demo orders one after another; 0 if every unit was judged as it deserves."""
    narrate("SIMULATED BENCH: no hardware is touched, the units are made up.")
    journal = data_folder(options.data) / JOURNAL_NAME
    judged: list[tuple[UnitSummary, str | None]] = []
    stopped_by = None
    for batch in demo_batches(options.units, options.seed):
        watch = _watch(batch, journal, live=not options.json)
        watch.run()
        judged += zip(watch.summary.units.values(), batch.faults, strict=False)
        stopped_by = watch.stopped_by
        if stopped_by is not None:
            break
    wrong = [unit.serial for unit, fault in judged if not as_expected(fault, unit)]
    with reader_may_leave():
        if options.json:
            print_json([_as_dict(*one) for one in judged])
        else:
            _print_result(judged, wrong)
    narrate(f"record: {journal}")
    if stopped_by is None:
        narrate(f"labels, certificates, reports: {_papers(journal, [unit for unit, _ in judged])}")
    return stopped_by or (Exit.NOT_ALL_GOOD if wrong else Exit.DONE)


def _papers(journal: Path, units: list[UnitSummary]) -> Path:
    from rig.cli.demo_papers import write_papers  # what makes papers is loaded once the units are done

    return write_papers(journal, ((unit.order, unit.serial) for unit in units))


def _watch(batch: DemoBatch, journal: Path, *, live: bool) -> Watch[OrderResult]:
    shipped = Library(home=None)
    order, sensor_type = read_order(batch.order, shipped)
    order = order.model_copy(update={"quantity": len(batch.faults)})
    profile = read_profile(None, shipped)
    plan = plan_or_give_up(order, sensor_type, profile)
    bench_file = demo_bench(batch, order.setting.tolerance_mm or 0.0).as_ordered(
        sensor_type.name, order.setting.output_type
    )
    job = job_of(order, sensor_type, profile, plan)
    return Watch(Session(job, profile, bench_file, False, journal), Summary(), live=live)


def _print_result(judged: list[tuple[UnitSummary, str | None]], wrong: list[str]) -> None:
    faults = {unit.serial: fault for unit, fault in judged}
    print_units(
        [unit for unit, _ in judged],
        title="demo batch of the Ottermoor panel shop for Quillmere Orchard Co-op",
        more=("really", lambda unit: faults[unit.serial] or "sound"),
    )
    not_so = f"; not: {', '.join(wrong)}" if wrong else ""
    print_words(f"{len(judged)} units, {len(judged) - len(wrong)} judged as they deserve{not_so}")


def _as_dict(unit: UnitSummary, fault: str | None) -> dict[str, object]:
    return {**unit.as_dict(), "really": fault or "sound", "as_expected": as_expected(fault, unit)}
