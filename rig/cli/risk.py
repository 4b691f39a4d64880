"""`teachrig risk`: how often a bad unit would pass and a sound one fail, worked out and tried on simulated benches."""

from __future__ import annotations

import os
import signal
import sys
import time
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave, repaint
from rig.cli.inputs import open_library, plan_or_give_up, read_or_give_up, read_order, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.risk_replay import print_replay
from rig.cli.risk_text import print_report
from rig.cli.stops import STOPS
from rig.planning.plan import Plan
from rig.risk.case import Case, NoSuchKind
from rig.risk.crew import WorkerLost
from rig.risk.report import Report
from rig.risk.study import OneCase, Progress, Study, run_study
from rig.risk.tally import Tally
from sequences.order import Order
from wiring.tomlfile import DataFileError

_DEFAULT_RATES = "realistic"


class _Stopped(Exception):
    """A signal asked to end the study with what there is."""

    def __init__(self, code: Exit) -> None:
        super().__init__()
        self.code = code


def command(options: Namespace) -> int:
    """Do the study or play one unit again; 1 if more escaped than stated, or the figures do not agree."""
    case = _case(options)
    if options.replay is not None:
        with reader_may_leave():
            print_replay(case, options.replay, Page(), as_json=options.json)
        return Exit.DONE
    report, stopped_by = _studied(options, case)
    with reader_may_leave():
        if options.json:
            print_json(report.as_dict())
        else:
            print_report(report, options.order, Page())
    if stopped_by is not None:
        narrate(_stopped_words(options, report))
        return stopped_by
    return Exit.DONE if report.within_stated_risk and report.agrees else Exit.NOT_ALL_GOOD


def _case(options: Namespace) -> Case:
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    profile = read_profile(options.rig, library)
    rates = read_or_give_up(lambda: library.read_rates(options.rates or _DEFAULT_RATES))
    _tell_warnings(order, plan_or_give_up(order, sensor_type, profile))
    try:
        return Case(order, sensor_type, profile, rates)
    except NoSuchKind as missing:
        raise GiveUp(Exit.BAD_INPUT, f"order {order.number}: {missing}") from None


def _tell_warnings(order: Order, plan: Plan) -> None:
    for warning in plan.warnings:
        narrate(f"note: order {order.number}: {warning}")


def _studied(options: Namespace, case: Case) -> tuple[Report, Exit | None]:
    study = Study(OneCase(case), options.seed, options.units)
    progress, stopped_by = Progress(Tally()), None
    narrate("SIMULATED BENCHES: no hardware is touched, the units are made up.")
    try:
        with _signals_stop():
            for progress in run_study(study, cores=options.cores or _cores(), state=options.state):
                _show(progress, options)
    except _Stopped as stopped:
        stopped_by = stopped.code
    except DataFileError as problems:
        raise GiveUp(Exit.BAD_INPUT, str(problems)) from None
    except WorkerLost as lost:
        raise GiveUp(
            Exit.PROGRAM_FAULT, f"{lost}; what was done is kept in --state, if that was given"
        ) from None
    except OSError as failure:
        words = f"{options.state}: cannot be written ({failure.strerror}); make room, or name another --state file"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    finally:
        if _live(options):
            repaint("")
    return Report(case, options.seed, progress.tally, progress.cpu_s), stopped_by


@contextmanager
def _signals_stop() -> Iterator[None]:
    def stop(number: int, _: FrameType | None) -> NoReturn:
        raise _Stopped(STOPS[signal.Signals(number)])

    before = {number: signal.signal(number, stop) for number in STOPS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _show(progress: Progress, options: Namespace) -> None:
    if _live(options):
        tally, now = progress.tally, time.strftime("%H:%M:%S")
        repaint(f"{now}  {tally.units} of {options.units} units, {len(tally.listed)} to look into")


def _live(options: Namespace) -> bool:
    return not options.json and sys.stderr.isatty()


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _stopped_words(options: Namespace, report: Report) -> str:
    goes_on = (
        "the same command goes on from here"
        if options.state
        else "with --state FILE it could go on from here"
    )
    return f"stopped after {report.tally.units} of {options.units} units; {goes_on}"
