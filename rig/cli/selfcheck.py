"""`teachrig selfcheck`: whether the rig is what its profile says, before the day's work."""

from __future__ import annotations

from argparse import Namespace
from datetime import datetime
from typing import Any

from rich.text import Text

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import bare_bench, data_folder, open_library, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.progress import Watch
from rig.journal import JournalError
from rig.selfcheck.checks import Figure, Outcome
from rig.selfcheck.history import history_of
from rig.selfcheck.run import Checked, Result
from rig.selfcheck.session import SelfCheckSession
from rig.session import JOURNAL_NAME
from rig.summary import Summary
from wiring.profile import RigProfile

_MARKS = {
    Outcome.PASSED: "+",
    Outcome.WORN: "!",
    Outcome.FAILED: "x",
    Outcome.NOT_DONE: "?",
    Outcome.NOT_FITTED: "-",
}
_EXITS = {
    Outcome.PASSED: Exit.DONE,
    Outcome.WORN: Exit.NOT_ALL_GOOD,
    Outcome.NOT_DONE: Exit.NOT_ALL_GOOD,
    Outcome.FAILED: Exit.BENCH_FAULT,
}
_WORDS = {
    Outcome.PASSED: "passed: units may be taught on it",
    Outcome.WORN: "passed, with a worn relay: units may be taught on it; change the relay soon",
    Outcome.NOT_DONE: "not finished: no unit is taught on it until a self-check has passed",
    Outcome.FAILED: "FAILED: no unit is taught on it until a self-check has passed",
}


def command(options: Namespace) -> int:
    """Check the rig; 0 passed, 1 worn or not finished, 3 failed."""
    library = open_library()
    profile = read_profile(options.rig, library)
    bench_file = bare_bench(options, profile, library)
    journal = data_folder(options.data) / JOURNAL_NAME
    try:
        earlier = history_of(journal, profile.name).figures
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    session = SelfCheckSession(
        profile,
        bench_file,
        options.real_time,
        journal,
        earlier,
        notice=lambda words: narrate(f"note: {words}"),
    )
    watch = Watch(session, Summary(), live=not options.json)
    result = watch.run()
    with reader_may_leave():
        if options.json:
            print_json(_as_dict(result, profile))
        else:
            _print(result, profile)
    narrate(f"record: {journal}")
    return watch.stopped_by or _EXITS[result.outcome]


def _print(result: Result, profile: RigProfile) -> None:
    page = Page()
    page.say(
        f"self-check of rig {profile.name}: {profile.title}, {datetime.now().astimezone():%Y-%m-%d %H:%M}"
    )
    page.table(("", "part", "outcome", "what was found"), [_row(one) for one in result.checked])
    for heading, wanted in (
        ("what to do", (Outcome.FAILED, Outcome.WORN, Outcome.NOT_DONE)),
        ("what the rig cannot check by itself", (Outcome.NOT_FITTED,)),
    ):
        told = [one for one in result.checked if one.finding.outcome in wanted and one.finding.advice]
        if told:
            page.heading(heading)
        for one in told:
            page.item(f"{one.check.part}: {one.finding.advice}")
    page.say("")
    page.say(f"rig {profile.name}: {_WORDS[result.outcome]}")


def _row(one: Checked) -> tuple[Text | str, ...]:
    outcome = one.finding.outcome
    return _MARKS[outcome], one.check.part, str(outcome), one.finding.words


def _as_dict(result: Result, profile: RigProfile) -> dict[str, Any]:
    return {
        "rig": result.rig,
        "simulated": profile.back_end == "simulated",
        "outcome": str(result.outcome),
        "checks": [
            {
                "part": one.check.part,
                "done": one.check.done,
                "outcome": str(one.finding.outcome),
                "words": one.finding.words,
                "check": one.finding.advice,
                "figures": [_figure_as_dict(figure) for figure in one.figures],
            }
            for one in result.checked
        ],
    }


def _figure_as_dict(figure: Figure) -> dict[str, Any]:
    return {
        "name": figure.name,
        "value": figure.value,
        "low": figure.low,
        "high": figure.high,
        "unit": figure.unit,
    }
