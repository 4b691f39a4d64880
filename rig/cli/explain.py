"""`teachrig explain`: one decision from the readings to the verdict, out of the record alone."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rig.cli.exits import Exit, GiveUp
from rig.cli.explained_unit import print_received, print_survey, print_unit
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.no_unit import no_such_unit
from rig.events import CharacteristicJudged
from rig.journal import JournalError
from rig.records import Listed, Records, open_records
from rig.recount.attempt import Attempt, NotRebuilt
from rig.recount.numbers import numbers_of
from rig.recount.recount import Recount, recount
from rig.recount.rows import rows_of
from rig.recount.why import rule_words, why
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Tell one unit; 1 if its record does not lead to the verdict that it holds."""
    path = data_folder(options.data) / JOURNAL_NAME
    try:
        with open_records(path) as records:
            runs = _runs(records, options, path)
            chosen = _chosen(runs, options)
            attempt = records.attempt(chosen)
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    again = recount(attempt)
    if options.json:
        print_json(_as_dict(attempt, again, runs, chosen))
    elif attempt.is_survey:
        print_survey(Page(), attempt, again, runs, chosen)
    elif attempt.is_received:
        print_received(Page(), attempt, again, runs, chosen)
    else:
        print_unit(Page(), attempt, again, runs, chosen, full=options.full)
    return Exit.DONE if again.agrees else Exit.NOT_ALL_GOOD


def _runs(records: Records, options: Namespace, path: Path) -> tuple[Listed, ...]:
    return records.attempts(options.serial) or no_such_unit(records, options.serial, path)


def _chosen(runs: Sequence[Listed], options: Namespace) -> Listed:
    """The run that is asked for; the last one of the unit, or of the order, where no number is given."""
    run: int | None = options.run
    if run is not None and run > len(runs):
        raise GiveUp(Exit.BAD_INPUT, f"unit {runs[0].serial} has no run {run}; allowed: 1 to {len(runs)}")
    if run is not None or options.order is None:
        return runs[-1 if run is None else run - 1]
    in_order = [one for one in runs if one.order == options.order]
    if not in_order:
        orders = ", ".join(sorted({one.order for one in runs}))
        given = printable(options.order)
        raise GiveUp(
            Exit.BAD_INPUT, f"unit {runs[0].serial} was never in work for order {given}; allowed: {orders}"
        )
    return in_order[-1]


def _as_dict(attempt: Attempt, again: Recount, runs: Sequence[Listed], chosen: Listed) -> dict[str, Any]:
    return {
        **_head_as_dict(attempt, runs, chosen),
        "worked_out": None if again.worked_out is None else asdict(again.worked_out),
        "agrees": again.agrees,
        "departures": list(again.departures),
        **_account(attempt, again),
    }


def _head_as_dict(attempt: Attempt, runs: Sequence[Listed], chosen: Listed) -> dict[str, Any]:
    started, judged = attempt.started, attempt.judged
    return {
        "serial": chosen.serial,
        "order": chosen.order,
        "began_utc": chosen.began_utc,
        "started": None if started is None else asdict(started),
        "verdict": None if judged is None else asdict(judged),
        "runs": [
            {
                "run": number,
                "began_utc": one.began_utc,
                "order": one.order,
                "verdict": one.verdict,
                "reason": one.reason,
                "shown": one is chosen,
            }
            for number, one in enumerate(runs, start=1)
        ],
    }


def _account(attempt: Attempt, again: Recount) -> dict[str, Any]:
    if attempt.is_received:
        events = [one.event for one in attempt.account]
        judged = (one for one in events if isinstance(one, CharacteristicJudged))
        return {"characteristics": [asdict(one) for one in judged]}
    try:
        if attempt.is_survey:
            # Only here: it needs numpy, whose import takes longer than all the rest.
            from rig.recount.surveyed import survey_grounds

            return {
                "rows": [asdict(row) for row in rows_of(attempt)],
                "recognised_by": survey_grounds(attempt),
            }
        return {
            "rows": [asdict(row) for row in rows_of(attempt)],
            "numbers": [asdict(chapter) for chapter in numbers_of(attempt, full=True)],
            "rule": list(rule_words(attempt.planned.plan)),
            "why": [] if again.worked_out is None else [list(one) for one in why(attempt, again.worked_out)],
        }
    except NotRebuilt:
        return {"rows": [], "numbers": [], "rule": [], "why": []}
