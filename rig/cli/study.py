"""`teachrig study gauge`: lays a gauge study out, does its trials, shows what it comes to."""

from __future__ import annotations

import secrets
from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import TypeAdapter, ValidationError

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    open_library,
    person_named,
    plan_or_give_up,
    read_or_give_up,
    read_order,
    read_profile,
)
from rig.cli.json_text import print_json
from rig.cli.study_run import run
from rig.cli.study_show import chosen, show
from rig.events import TrialSetAside
from rig.gauge.course import Course
from rig.gauge.design import Design, Factor, drawn_trials, objections
from rig.gauge.history import note_on_study, open_study, study_named
from rig.gauge.opening import limits_of, misfits
from rig.gauge.taking_up import KEPT
from rig.gauge.told import course_as_dict
from rig.jobs import inputs_of
from rig.journal import JournalError
from rig.records import open_records
from rig.session import JOURNAL_NAME
from sequences.order import Serial
from wiring.plainwords import printable, shown

if TYPE_CHECKING:
    from rig.library import Library
    from sequences.order import Order
    from sequences.sensor_type import SensorType
    from wiring.profile import RigProfile

_MADE_UP = tuple(f"KEPT-{number:02}" for number in range(1, 11))


def command(options: Namespace) -> int:
    """Do what was asked with a gauge study."""
    actions = {"open": _open, "run": run, "show": show, "repeat": _repeat}
    try:
        return actions[options.action](options)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None


def _open(options: Namespace) -> int:
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    profile = read_profile(options.rig, library)
    journal = data_folder(options.data) / JOURNAL_NAME
    design = _design(options, library, order, sensor_type, profile, journal)
    _must_be_new(journal, design.study)
    open_study(journal, design, inputs_of(order, sensor_type, profile))
    with reader_may_leave():
        if options.json:
            print_json(course_as_dict(Course(design)))
        else:
            _print(design)
    narrate(f"record: {journal}")
    narrate("next: teachrig study gauge run")
    return Exit.DONE


def _must_be_new(journal: Path, number: str) -> None:
    taken = study_named(journal, number) is not None
    if not taken and journal.is_file():
        with open_records(journal) as records:
            taken = records.inputs_of_order(number) is not None
    if taken:
        raise GiveUp(Exit.BAD_INPUT, f"--number {number} is on record already; allowed: a new number")


def _repeat(options: Namespace) -> int:
    journal = data_folder(options.data) / JOURNAL_NAME
    study = chosen(journal, options.number)
    trials, readings = study.design.trials, study.course.readings
    trial = trials[options.trial - 1] if options.trial <= len(trials) else None
    reading = None if trial is None else readings.get(trial)
    if reading is None:
        done = len(readings)
        words = f"--trial {options.trial} of study {study.design.study} has no value; allowed: one of the {done} done"
        raise GiveUp(Exit.BAD_INPUT, words)
    if not options.why.strip():
        raise GiveUp(Exit.BAD_INPUT, "--why is empty; allowed: what was wrong with the value")
    person = person_named("--by", options.by)
    value = (reading.value_mm, reading.utc, person, options.why.strip())
    note_on_study(journal, TrialSetAside(study.design.study, options.trial, *value))
    print(
        f"set aside: trial {options.trial}, {reading.value_mm:.3f} mm; it is done again by: teachrig study gauge run"
    )
    return Exit.DONE


def _print(design: Design) -> None:
    who = "people" if design.factor is Factor.PERSON else "settings of the rig"
    print(
        f"gauge study {design.study} of order {design.order}, {design.edge} operate point\n"
        f"{len(design.units)} units by {len(design.levels)} {who} ({', '.join(design.levels)}), "
        f"{design.repeats} times each: {len(design.trials)} trials, drawn from seed {design.seed}\n"
        f"tolerance {design.low_mm:.2f} to {design.high_mm:.2f} mm on the bench"
    )


def _design(
    options: Namespace,
    library: Library,
    order: Order,
    sensor_type: SensorType,
    profile: RigProfile,
    journal: Path,
) -> Design:
    simulated = profile.back_end == "simulated"
    units = _units(options, simulated)
    factor = Factor.SETTING if options.settings else Factor.PERSON
    levels = _levels(options, library, simulated)
    against = list(objections(units, levels, options.repeats))
    plan = plan_or_give_up(order, sensor_type, as_calibrated_or_give_up(profile, journal))
    against += misfits(plan, order, options.edge)
    if against:
        raise GiveUp(Exit.BAD_INPUT, "no such study can be opened:\n" + "\n".join(against))
    seed = secrets.randbelow(2**32) if options.seed is None else options.seed
    low_mm, high_mm = limits_of(plan, options.edge)
    calibration = calibration_in_force(journal, profile)
    return Design(
        study=_number(options),
        order=order.number,
        sensor_type=sensor_type.name,
        rig=profile.name,
        nest=profile.nest[0].name,
        edge=options.edge,
        low_mm=low_mm,
        high_mm=high_mm,
        factor=factor,
        units=units,
        levels=levels,
        repeats=options.repeats,
        seed=seed,
        trials=drawn_trials(units, levels, options.repeats, seed),
        calibration=calibration,
    )


def calibration_in_force(journal: Path, profile: RigProfile) -> dict[str, object] | None:
    """The calibration of the nest on which a study is done, as the record has it."""
    from rig.calibration.history import calibration_of

    made = calibration_of(journal, profile.name, profile.nest[0].name)
    return None if made is None else made.content()


def _units(options: Namespace, simulated: bool) -> tuple[str, ...]:
    if options.units is None:
        if simulated:
            return _MADE_UP
        raise GiveUp(Exit.BAD_INPUT, "--units is missing; allowed: serials with a comma between them")
    for unit in options.units:
        _as_serial("--units", unit)
    return tuple(options.units)


def _levels(options: Namespace, library: Library, simulated: bool) -> tuple[str, ...]:
    if options.settings is not None:
        return tuple(options.settings)
    if options.people is not None:
        return tuple(person_named("--people", name) for name in options.people)
    if not simulated:
        words = "--people or --settings is missing; allowed: names with a comma between them"
        raise GiveUp(Exit.BAD_INPUT, words)
    hands = read_or_give_up(lambda: library.read_bench(KEPT)).seating.by
    return tuple(hand.name for hand in hands)


def _number(options: Namespace) -> str:
    if options.number is None:
        return f"GAUGE-{datetime.now(UTC):%Y%m%d-%H%M%S}"
    return _as_serial("--number", options.number)


def _as_serial(option: str, given: str) -> str:
    try:
        return TypeAdapter(Serial).validate_python(given)
    except ValidationError:
        allowed = "up to 40 letters, digits, . _ and -, with a letter or digit first"
        words = f"{option} (given {shown(printable(given))}); allowed: {allowed}"
        raise GiveUp(Exit.BAD_INPUT, words) from None
