"""The signed record of a rig's building, as text, for a program, and as a paper."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from pathlib import Path

from rig.cli.documents import made_by, write_paper
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.recorded import Made, enter
from rig.commissioning.history import Built
from rig.events import RigSignedOff, RigStepDone, Stamped
from rig.papers.building import BuildingFacts, StepFacts, building_record
from rig.store.hashing import content_of
from wiring.plainwords import printable
from wiring.profile import RigProfile


def show_record(options: Namespace, profile: RigProfile, buildings: tuple[Built, ...], journal: Path) -> int:
    """Show the last building that was signed, and write it as a paper where that is asked for."""
    signed = [one for one in buildings if one.signed is not None]
    if not signed:
        raise GiveUp(
            Exit.BAD_INPUT, f"rig {profile.name} is not signed off; allowed: without --record, to build it"
        )
    facts = _facts(signed[-1], profile)
    with reader_may_leave():
        if options.json:
            print_json(asdict(facts))
        else:
            _print(facts)
    if options.out is not None:
        _write(facts, options.out, journal, force=options.force)
    return Exit.DONE if facts.profile_unchanged else Exit.NOT_ALL_GOOD


def _write(facts: BuildingFacts, folder: Path, journal: Path, *, force: bool) -> None:
    paper = building_record(facts, made_by())
    files = write_paper(paper, folder / f"building-{facts.rig}", one_page=False, force=force)
    made = [Made("", "", file.read_bytes(), str(file.absolute())) for file in files]
    enter(journal, "commissioning record", made)
    for file in files:
        narrate(f"paper: {printable(str(file))}")


def _print(facts: BuildingFacts) -> None:
    page = Page()
    page.say(f"rig {facts.rig}, signed off {facts.signed_utc[:16].replace('T', ' ')} UTC")
    page.pairs(
        (
            ("built by", facts.built_by),
            ("wiring checked by", facts.checked_by),
            ("self-check", facts.self_check),
            ("rig profile", facts.rig_sha256),
        )
    )
    page.heading("measured")
    rows = [
        (one.words.removeprefix("Measure the "), one.measured, one.unit)
        for one in facts.steps
        if one.measured
    ]
    page.table(("what", ">measured", ""), rows)
    wires = sum(not one.measured for one in facts.steps)
    page.say(f"and {wires} wires and looks, each said to be so")
    if not facts.profile_unchanged:
        page.say("The rig profile has changed since: what is wired is not what the profile says now.")


def _facts(built: Built, profile: RigProfile) -> BuildingFacts:
    assert built.signed is not None, "only signed ones are shown"
    signed = built.signed.event
    assert isinstance(signed, RigSignedOff), "that is what signs"
    sha256, _ = content_of(profile.model_dump(mode="json"))
    return BuildingFacts(
        rig=signed.rig,
        title=profile.title,
        simulated=profile.back_end == "simulated",
        signed_utc=built.signed.utc,
        built_by=signed.built_by,
        checked_by=signed.checked_by,
        self_check=signed.self_check,
        rig_sha256=signed.rig_sha256,
        profile_unchanged=signed.rig_sha256 == sha256,
        steps=tuple(_step(one) for one in built.steps),
    )


def _step(stamped: Stamped) -> StepFacts:
    step = stamped.event
    assert isinstance(step, RigStepDone), "only steps come before the signature"
    return StepFacts(stamped.utc, step.step, step.words, step.measured, step.unit, step.low, step.high)
