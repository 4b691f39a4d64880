"""`teachrig checkunit`: a unit that is kept and measured each shift, so that the rig is believed for a reason."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Mapping
from pathlib import Path

from rig.cli.charted import account_as_dict, print_account
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    in_measured_air,
    open_library,
    person_named,
    read_bench,
    read_profile,
    signed_in_by,
)
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.progress import Watch
from rig.control.check_unit import Account, Cause, State
from rig.control.history import judged_since_trusted
from rig.control.keeping import enter_measurement, give_up, keep, kept_by, look
from rig.control.measuring import NoCheckUnit, ready
from rig.control.rules import rules_named
from rig.journal import JournalError
from rig.planning.refusal import PlanRefused
from rig.session import JOURNAL_NAME, Session
from rig.summary import Summary
from rig.typed import typed_text
from wiring.plainwords import printable
from wiring.profile import RigProfile

_LONGEST_TEXT = 400
_WANT_DOING = (State.SIGNAL, State.NO_RESULT, State.NOT_AGAIN)


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
    _tell(after, journal, options)
    narrate(f"record: {journal}")
    return Exit.BENCH_FAULT if result.trip is not None else _exit(after)


def _session(options: Namespace, profile: RigProfile, journal: Path, account: Account) -> Session:
    library = open_library()
    calibrated = as_calibrated_or_give_up(profile, journal)
    try:
        made = ready(
            account,
            calibrated,
            lambda kind, output_type: read_bench(options, profile, library, kind, output_type),
            in_measured_air,
        )
    except PlanRefused as refused:
        words = f"check unit {account.unit.serial} cannot be measured on rig {profile.name}:\n{refused}"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    if made.bench_file is not None:
        narrate("SIMULATED BENCH: no hardware is touched, the check unit is made up.")
    return Session(
        made.job,
        made.profile,
        made.bench_file,
        options.real_time,
        journal,
        notice=lambda words: narrate(f"note: {words}"),
        signed_in=signed_in_by(options.by),
    )


def _show(options: Namespace, profile: RigProfile, journal: Path) -> int:
    account = kept_by(journal, profile.name)
    _tell(account, journal, options)
    if options.out is not None:
        from rig.cli.charted_paper import write_check_unit  # what makes papers loads longer than all the rest

        suspects, simulated = judged_since_trusted(journal, account), profile.back_end == "simulated"
        write_check_unit(account, suspects, options.out, simulated=simulated, force=options.force)
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
            f"Next: {_next(options.cause, profile)}"
        )
    return Exit.DONE


def _next(cause: str, profile: RigProfile) -> str:
    """What follows from a look: a check unit that is not what it was is none any more."""
    if cause == Cause.CHECK_UNIT:
        return f"teachrig checkunit keep SERIAL --rig {profile.name}, another unit, or this one anew"
    return f"teachrig checkunit measure --rig {profile.name}"


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


def _tell(account: Account, journal: Path, options: Namespace) -> None:
    suspects = judged_since_trusted(journal, account)
    with reader_may_leave():
        if options.json:
            print_json(account_as_dict(account, suspects))
        else:
            print_account(account, suspects, Page())


def _exit(account: Account) -> Exit:
    """1 on a signal, or when the last measurement came to nothing."""
    return Exit.NOT_ALL_GOOD if account.state in _WANT_DOING else Exit.DONE


def _person(options: Namespace) -> str:
    return "" if options.by is None else person_named("--by", options.by)


def _text(given: str, option: str, *, empty: bool = False) -> str:
    text = typed_text(given)
    if len(text) > _LONGEST_TEXT or not (empty or any(letter.isalnum() for letter in text)):
        words = f"{option}: given {printable(text, 40)!r}; allowed: words, up to {_LONGEST_TEXT} letters"
        raise GiveUp(Exit.BAD_INPUT, words)
    return text
