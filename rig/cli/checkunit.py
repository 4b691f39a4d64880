"""`teachrig checkunit`: a unit that is kept and measured each shift, so that the rig is believed for a reason."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Mapping
from pathlib import Path

from hal.simulated.benchfile import BenchFile
from rig.cli.charted import account_as_dict, print_account
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    data_folder,
    in_measured_air,
    open_library,
    person_named,
    plan_or_give_up,
    read_bench,
    read_profile,
    signed_in_by,
)
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.progress import Watch
from rig.control.check_unit import Account, Cause
from rig.control.keeping import enter_measurement, give_up, keep, kept_by, look
from rig.control.measuring import NoCheckUnit, check_order, finest_order
from rig.control.rules import rules_named
from rig.events import Purpose
from rig.jobs import job_of
from rig.journal import JournalError
from rig.planning.plan import Plan
from rig.session import JOURNAL_NAME, Session
from rig.summary import Summary
from rig.typed import typed_text
from wiring.plainwords import printable
from wiring.profile import RigProfile

_LONGEST_TEXT = 400


def command(options: Namespace) -> int:
    """Do one of the acts."""
    journal = data_folder(options.data) / JOURNAL_NAME
    profile = read_profile(options.rig, open_library())
    try:
        return _ACTS[options.act](options, profile, journal)
    except NoCheckUnit as refused:
        raise GiveUp(Exit.BAD_INPUT, printable(str(refused), 600)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT if journal.is_file() else Exit.BAD_INPUT, str(failure)) from None


def show(options: Namespace) -> int:
    """Tell how the check unit of a rig stands."""
    return command(Namespace(**{**vars(options), "act": "show"}))


def _keep(options: Namespace, profile: RigProfile, journal: Path) -> int:
    try:
        rules = None if options.rule is None else rules_named(options.rule)
    except ValueError as wrong:
        raise GiveUp(Exit.BAD_INPUT, f"--rule: {wrong}") from None
    unit = keep(
        journal, options.serial, profile, _person(options), _text(options.why, "--why", empty=True), rules
    )
    if options.json:
        print_json(
            {"rig": unit.rig, "serial": unit.serial, "rules": [str(one) for one in unit.watching.rules]}
        )
    else:
        narrate(
            f"unit {unit.serial} is the check unit of rig {unit.rig}; the limits of its charts come from its first "
            f"{unit.baseline_count} undisturbed measurements. Next: teachrig checkunit measure --rig {unit.rig}"
        )
    return Exit.DONE


def _measure(options: Namespace, profile: RigProfile, journal: Path) -> int:
    account = kept_by(journal, profile.name)
    session = _session(options, profile, journal, account)
    watch = Watch(session, Summary(), live=not options.json)
    result = watch.run()
    if watch.stopped_by:
        return watch.stopped_by
    after = enter_measurement(journal, account, _person(options))
    _tell(after, options)
    narrate(f"record: {journal}")
    return Exit.BENCH_FAULT if result.trip is not None else _exit(after)


def _session(options: Namespace, profile: RigProfile, journal: Path, account: Account) -> Session:
    order, sensor_type = check_order(account.unit, profile.target)
    plan_or_give_up(order, sensor_type, profile)
    order = finest_order(order, sensor_type, profile)
    bench_file = read_bench(options, profile, open_library(), sensor_type.name, order.setting.output_type)
    plan = plan_or_give_up(order, sensor_type, profile)
    if profile.air.probe is not None:
        profile = in_measured_air(profile, bench_file)
        plan = plan_or_give_up(order, sensor_type, profile)
    if bench_file is not None:
        bench_file = _as_it_is_now(bench_file, plan, len(account.measured))
        narrate("SIMULATED BENCH: no hardware is touched, the check unit is made up.")
    return Session(
        job_of(order, sensor_type, profile, plan, Purpose.VERIFY),
        profile,
        bench_file,
        options.real_time,
        journal,
        notice=lambda words: narrate(f"note: {words}"),
        signed_in=signed_in_by(options.by),
    )


def _as_it_is_now(bench_file: BenchFile, plan: Plan, shifts: int) -> BenchFile:
    from hal.simulated.already_set import already_set
    from hal.simulated.later import shifts_later

    points_mm = [at_mm * plan.scale for _, at_mm in plan.set_points]
    return shifts_later(already_set(bench_file, plan.mode, plan.output_function, points_mm), shifts)


def _show(options: Namespace, profile: RigProfile, journal: Path) -> int:
    account = kept_by(journal, profile.name)
    _tell(account, options)
    return _exit(account)


def _look(options: Namespace, profile: RigProfile, journal: Path) -> int:
    account = kept_by(journal, profile.name)
    person, found = _person(options), _text(options.found, "--found")
    look(journal, account, person, found, Cause(options.cause))
    if options.json:
        print_json({"rig": profile.name, "serial": account.unit.serial, "signals": account.signal_words()})
    else:
        narrate(
            f"entered: {printable(person)} has looked into {account.signal_words()}. "
            f"Next: teachrig checkunit measure --rig {profile.name}"
        )
    return Exit.DONE


def _give_up(options: Namespace, profile: RigProfile, journal: Path) -> int:
    account = kept_by(journal, profile.name)
    give_up(journal, account, _person(options), _text(options.why, "--why"))
    if options.json:
        print_json({"rig": profile.name, "serial": account.unit.serial})
    else:
        narrate(f"rig {profile.name} keeps no check unit any more; what was measured stays in the record")
    return Exit.DONE


_Act = Callable[[Namespace, RigProfile, Path], int]
_ACTS: Mapping[str, _Act] = {
    "keep": _keep,
    "measure": _measure,
    "show": _show,
    "look": _look,
    "give-up": _give_up,
}


def _tell(account: Account, options: Namespace) -> None:
    with reader_may_leave():
        if options.json:
            print_json(account_as_dict(account))
        else:
            print_account(account, Page())


def _exit(account: Account) -> Exit:
    """1 on a signal, or when the last measurement came to nothing."""
    last = account.last
    well = last is None or (bool(last.deviations) and account.measured_since_looked)
    return Exit.DONE if well and not account.open_signals() else Exit.NOT_ALL_GOOD


def _person(options: Namespace) -> str:
    return "" if options.by is None else person_named("--by", options.by)


def _text(given: str, option: str, *, empty: bool = False) -> str:
    text = typed_text(given)
    if len(text) > _LONGEST_TEXT or not (empty or any(letter.isalnum() for letter in text)):
        words = f"{option}: given {printable(text, 40)!r}; allowed: words, up to {_LONGEST_TEXT} letters"
        raise GiveUp(Exit.BAD_INPUT, words)
    return text
