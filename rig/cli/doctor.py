"""`teachrig doctor`: what this computer lacks for a rig, and how to mend it; nothing is switched."""

from __future__ import annotations

import sys
from argparse import Namespace
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from rig.cli.exits import Exit, narrate, reader_may_leave
from rig.cli.inputs import data_folder, open_library, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.doctor.bench import look_at_bench
from rig.doctor.computer import look_at_computer
from rig.doctor.found import Found, Health
from rig.doctor.record import look_at_record
from rig.session import JOURNAL_NAME

_SIGNS = {Health.GOOD: "+", Health.NOTE: "!", Health.BAD: "x"}


def command(options: Namespace) -> int:
    """Look at everything; 3 when something keeps the rig from working."""
    profile = read_profile(options.rig, open_library())
    folder, now = data_folder(options.data), datetime.now(UTC)
    found = (
        *look_at_computer(Path("/"), folder, sys.stdout.encoding, now),
        *look_at_record(folder / JOURNAL_NAME, now),
        *look_at_bench(profile),
    )
    with reader_may_leave():
        if options.json:
            print_json([asdict(one) for one in found])
        else:
            _print(found)
    troubles = sum(one.health is Health.BAD for one in found)
    notes = sum(one.health is Health.NOTE for one in found)
    narrate(
        f"rig {profile.name}: {troubles} to mend, {notes} to know of, {len(found) - troubles - notes} good"
    )
    return Exit.BENCH_FAULT if troubles else Exit.DONE


def _print(found: tuple[Found, ...]) -> None:
    page = Page()
    for one in found:
        page.pairs([(f"{_SIGNS[one.health]} {one.what}".ljust(12), one.words)])
        if one.mend:
            page.pairs([(" " * 12, f"-> {one.mend}")])
