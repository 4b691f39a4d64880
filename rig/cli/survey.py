"""`teachrig survey`: measures a unit that is already set, and writes the order that sets others alike."""

from __future__ import annotations

import json
import os
import textwrap
from argparse import Namespace
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    in_measured_air,
    open_library,
    read_bench,
    read_or_give_up,
    read_profile,
    signed_in_by,
)
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.progress import Watch
from rig.cli.run import exit_code
from rig.cli.survey_text import print_survey
from rig.cli.writing import STANDARD_OUTPUT, must_be_free, write_new
from rig.events import Stamped
from rig.forms.written import as_toml
from rig.library import Library, Section
from rig.planning.refusal import PlanRefused
from rig.schemas import schema_text
from rig.sequencer.order_run import OrderResult
from rig.session import JOURNAL_NAME, Session
from rig.summary import Summary, UnitSummary
from rig.survey.bounds import Bounds, bounds_of
from rig.survey.copying import Copy, Wishes, copy_number, copy_of
from rig.survey.job import SurveyedUnit, survey_job, survey_refusals
from rig.survey.report import SurveyReport
from sequences.order import Serial
from sequences.sensor_type import SensorType
from wiring.plainwords import printable, shown
from wiring.profile import RigProfile
from wiring.shipped import is_path


@dataclass(frozen=True)
class _Survey:
    """What is surveyed, with what, and where the order goes; `path` None: to standard output."""

    unit: SurveyedUnit
    sensor_type: SensorType
    rig: RigProfile
    bounds: Bounds
    wishes: Wishes
    path: Path | None


class _Following(Summary):
    """Folds the events into the report as well."""

    def __init__(self) -> None:
        super().__init__()
        self.report = SurveyReport()

    def add(self, stamped: Stamped) -> UnitSummary | None:
        self.report.add(stamped)
        return super().add(stamped)


def command(options: Namespace) -> int:
    """Survey one unit; 0 if its setting was recognised and the order written as wished."""
    signed_in = signed_in_by(options.by)
    library = open_library()
    asked, following = _asked(options, library), _Following()
    bench_file = read_bench(options, asked.rig, library, asked.sensor_type.name)
    if bench_file is not None:
        narrate("SIMULATED BENCH: no hardware is touched, the unit is made up.")
    if asked.rig.air.probe is not None:
        rig = in_measured_air(asked.rig, bench_file)
        asked = replace(asked, rig=rig, bounds=_bounds(asked.sensor_type, rig))
    journal = data_folder(options.data) / JOURNAL_NAME
    job = survey_job(asked.unit, asked.sensor_type, asked.rig, asked.bounds)
    session = Session(
        job,
        asked.rig,
        bench_file,
        options.real_time,
        journal,
        signed_in=signed_in,
        notice=lambda words: narrate(f"note: {words}"),
    )
    watch = Watch(session, following, live=not options.json)
    result = watch.run()
    copy, why_not = _copy(asked, following.report)
    _tell(options, asked, following, copy, why_not)
    if copy is not None and asked.path is not None:
        write_new(asked.path, _text(asked, copy))
        narrate(f"next: teachrig plan {_call_it(options, asked, copy)}")
    narrate(f"record: {journal}")
    return watch.stopped_by or _exit(result, why_not)


def _exit(result: OrderResult, why_not: str) -> Exit:
    code = exit_code(result)
    return Exit.NOT_ALL_GOOD if code is Exit.DONE and why_not else code


def _asked(options: Namespace, library: Library) -> _Survey:
    sensor_type = read_or_give_up(lambda: library.read_type(options.type))
    profile = read_profile(options.rig, library)
    rig = as_calibrated_or_give_up(profile, data_folder(options.data) / JOURNAL_NAME)
    unit = _unit(options)
    named = str(Path(options.type).resolve()) if is_path(options.type) else options.type
    wishes = Wishes(named, options.quantity, options.tolerance)
    return _Survey(unit, sensor_type, rig, _bounds(sensor_type, rig), wishes, _path(options, unit, library))


def _unit(options: Namespace) -> SurveyedUnit:
    number = f"SURVEY-{datetime.now(UTC):%Y%m%d-%H%M%S}"
    if options.serial is None:
        return SurveyedUnit(number, number.removeprefix("SURVEY-"))
    try:
        return SurveyedUnit(number, TypeAdapter(Serial).validate_python(options.serial))
    except ValidationError:
        allowed = "up to 40 letters, digits, . _ and -, with a letter or digit first"
        words = f"--serial is no serial (given {shown(options.serial)}); allowed: {allowed}"
        raise GiveUp(Exit.BAD_INPUT, words) from None


def _bounds(sensor_type: SensorType, rig: RigProfile) -> Bounds:
    try:
        bounds = bounds_of(sensor_type, rig)
    except ValueError as out_of_reach:
        raise GiveUp(Exit.BAD_INPUT, f"rig {rig.name}: {out_of_reach}") from None
    refusals = [str(refusal) for refusal in survey_refusals(sensor_type, rig, bounds)]
    if refusals:
        words = "\n".join(refusals)
        raise GiveUp(
            Exit.BAD_INPUT, f"units of {sensor_type.name} cannot be surveyed on rig {rig.name}:\n{words}"
        )
    return bounds


def _path(options: Namespace, unit: SurveyedUnit, library: Library) -> Path | None:
    """Where the order is to go, looked at before anything moves."""
    if options.out == STANDARD_OUTPUT:
        return None
    if options.out is not None:
        must_be_free(Path(options.out))
        return Path(options.out)
    path = library.own_folder(Section.ORDERS) / f"{copy_number(unit.serial)}.toml"
    if os.path.lexists(path):
        words = f"{printable(str(path))}: is there already; allowed: --out with the path of a new file"
        raise GiveUp(Exit.BAD_INPUT, words)
    return path


def _copy(asked: _Survey, report: SurveyReport) -> tuple[Copy | None, str]:
    """The order, if the setting is beyond doubt and this rig can do it; and what is not as wished."""
    if report.found is None:
        return None, ""
    try:
        copy = copy_of(report, asked.sensor_type, asked.rig, asked.wishes)
    except PlanRefused as refused:
        return None, f"no order is written: this rig could not do it:\n{refused}"
    if copy.why_not:
        given_mm, taken_mm = asked.wishes.tolerance_mm, copy.order.setting.tolerance_mm
        return (
            copy,
            f"the order has a tolerance of {taken_mm:g} mm instead of {given_mm:g} mm:\n{copy.why_not}",
        )
    return copy, ""


def _tell(options: Namespace, asked: _Survey, following: _Following, copy: Copy | None, why_not: str) -> None:
    report = following.report
    with reader_may_leave():
        if options.json:
            print_json(_as_dict(asked, following, copy, why_not))
        elif asked.path is not None:
            print_survey(report, asked.sensor_type, asked.rig, asked.bounds, copy, Page())
        elif copy is not None:
            print(_text(asked, copy), end="")
    if asked.path is None:
        narrate(f"unit {report.serial} {report.verdict or 'not judged'}: {report.words}")
    elif copy is not None:
        narrate(f"order: {printable(str(asked.path))}")
    if why_not:
        narrate(why_not)


def _call_it(options: Namespace, asked: _Survey, copy: Copy) -> str:
    return copy.order.number if options.out is None else printable(str(asked.path))


def _text(asked: _Survey, copy: Copy) -> str:
    heading = textwrap.wrap(
        f"Made with `teachrig survey {asked.sensor_type.name}` from unit {asked.unit.serial}.", 100
    )
    return as_toml(copy.data, json.loads(schema_text("order")), heading).rstrip() + "\n"


def _as_dict(asked: _Survey, following: _Following, copy: Copy | None, why_not: str) -> dict[str, Any]:
    report = following.report
    return {
        "survey": asked.unit.number,
        "sensor_type": asked.sensor_type.name,
        "simulated": following.simulated,
        **report.as_dict(),
        "cautions": list(report.cautions(asked.sensor_type, asked.bounds)),
        "order": None if copy is None else copy.data,
        "order_file": None if copy is None or asked.path is None else str(asked.path),
        "not_as_wished": why_not,
    }
