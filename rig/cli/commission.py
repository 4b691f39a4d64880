"""`teachrig commission`: builds a new rig with a person, wire by wire, to a signed record."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rig.cli.building import show_record
from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import bare_bench, data_folder, open_library, read_profile
from rig.cli.new import StandardStreams
from rig.cli.progress import Watch
from rig.commissioning.guide import Guide
from rig.commissioning.history import Built, buildings_of, run_name
from rig.commissioning.steps import steps_of
from rig.doctor.bench import look_at_bench
from rig.doctor.found import Health
from rig.events import Event, RigSignedOff, Stamped
from rig.forms.interview import Left
from rig.journal import Journal, JournalError
from rig.moments import utc_now
from rig.selfcheck.checks import Outcome
from rig.selfcheck.session import SelfCheckSession
from rig.session import JOURNAL_NAME
from rig.store.hashing import content_of
from rig.summary import Summary
from rig.typed import typed_name
from wiring.profile import RigProfile

_WELL = (Outcome.PASSED, Outcome.WORN)


def command(options: Namespace) -> int:
    """Lead through the steps that are left, then the self-check, then the signatures; or show the signed record."""
    library = open_library()
    profile = read_profile(options.rig, library)
    journal = data_folder(options.data) / JOURNAL_NAME
    try:
        buildings = buildings_of(journal, profile.name)
        if options.record:
            return show_record(options, profile, buildings, journal)
        return _build(options, profile, journal, buildings)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    except (Left, KeyboardInterrupt):
        narrate("\nleft; what is done is kept, and the same command goes on from there")
        return Exit.INTERRUPTED


def _build(options: Namespace, profile: RigProfile, journal: Path, buildings: tuple[Built, ...]) -> int:
    steps, terminal = steps_of(profile), StandardStreams()
    done = buildings[-1].done if buildings and buildings[-1].signed is None else frozenset()
    left = sum((one.key, one.words) not in done for one in steps)
    narrate(f"rig {profile.name}: {left} of {len(steps)} steps are left; Ctrl-D leaves, and goes on later")
    with _sitting(journal, profile.name) as note:
        Guide(terminal, note, lambda: _lacking(profile)).lead(profile.name, steps, done)
    narrate("\nevery wire is in and measured; now the self-check, with the rig under voltage")
    bench_file = bare_bench(options, profile, open_library())
    watch = Watch(SelfCheckSession(profile, bench_file, False, journal, {}), Summary(), live=False)
    result = watch.run()
    if watch.stopped_by is not None:
        return watch.stopped_by
    if result.outcome not in _WELL:
        for one in result.checked:
            if one.finding.outcome in (Outcome.FAILED, Outcome.NOT_DONE):
                narrate(f"{one.check.part}: {one.finding.words} {one.finding.advice}")
        narrate("the self-check has not passed: mend what it names, then the same command goes on from here")
        return Exit.BENCH_FAULT
    narrate("the self-check has passed; the signatures are left")
    built_by = _name(terminal, "Who built it: ")
    checked_by = _name(terminal, "Who, qualified and not the same, checked the wiring: ", other_than=built_by)
    sha256, _ = content_of(profile.model_dump(mode="json"))
    with _sitting(journal, profile.name) as note:
        note(RigSignedOff(profile.name, sha256, len(steps), built_by, checked_by, str(result.outcome)))
    return show_record(options, profile, buildings_of(journal, profile.name), journal)


def _lacking(profile: RigProfile) -> list[str]:
    """What the computer lacks for the rig."""
    found = look_at_bench(profile)
    return [f"{one.words}: {one.mend}" for one in found if one.health is Health.BAD]


def _name(terminal: StandardStreams, prompt: str, other_than: str = "") -> str:
    while True:
        try:
            name = typed_name(terminal.read(prompt))
        except ValueError as wrong:
            terminal.say(str(wrong))
            continue
        if name.casefold() != other_than.casefold():
            return name
        terminal.say("four eyes see more than two: another person")


class _Notes:
    """Keeps each event on the disk before it returns."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._number = 0

    def __call__(self, event: Event) -> None:
        self._number += 1
        self._journal.record(Stamped(self._number, 0, utc_now(), "", "", event))
        self._journal.barrier().result()


@contextmanager
def _sitting(journal: Path, rig: str) -> Iterator[_Notes]:
    kept = Journal(journal, run_name(rig))
    try:
        yield _Notes(kept)
    finally:
        kept.close()
