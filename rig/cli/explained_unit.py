"""One unit as an inspector follows it: what was asked, each contact, each reading, the rule, the verdict and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.cli.layout import Page
from rig.cli.measured import print_measured
from rig.cli.plan_proof import print_points
from rig.cli.plan_text import print_setting
from rig.cli.worked_out import print_chapters, print_in_short
from rig.events import CharacteristicJudged, Purpose, SettingLeft
from rig.lots.units import figure_words
from rig.records import Listed
from rig.recount.attempt import Attempt, NotRebuilt
from rig.recount.numbers import numbers_of
from rig.recount.recount import Recount
from rig.recount.row import Part, Row
from rig.recount.rows import rows_of
from rig.recount.why import rule_words, why
from rig.sequencer.output_type import telling_load
from rig.summary import Summary
from wiring.terms import Verification

_LAST = {Part.DECISION: "follows", Part.RECOGNISED: "in doubt"}
_ALOUD = "THE RECORD DOES NOT LEAD TO WHAT IT SAYS"


def print_unit(
    page: Page, attempt: Attempt, again: Recount, runs: Sequence[Listed], chosen: Listed, *, full: bool
) -> None:
    """Everything about one run of one unit."""
    _print_head(page, attempt, chosen)
    if not again.agrees:
        _print_departures(page, attempt, again)
    try:
        rows = tuple(rows_of(attempt))
    except NotRebuilt as gap:
        page.say(f"what was read cannot be laid out: {gap}")
    else:
        print_setting(attempt.planned, page)
        print_points(attempt.planned, page)
        _print_rows(page, attempt, rows)
        _print_numbers(page, attempt, full=full)
        _print_reasons(page, attempt, again)
    _print_recount(page, again)
    _print_runs(page, runs, chosen)


def print_survey(
    page: Page, attempt: Attempt, again: Recount, runs: Sequence[Listed], chosen: Listed
) -> None:
    """A survey of a unit: what was read, by what its setting was recognised, and that no unit was judged."""
    # Only here: it needs numpy, whose import takes longer than all the rest.
    from rig.recount.surveyed import survey_grounds

    _print_head(page, attempt, chosen)
    if attempt.judged is not None:
        page.say(f"found: {attempt.judged.words}")
    page.say("A survey tells what a unit is set to; it judges no unit.")
    if not again.agrees:
        _print_departures(page, attempt, again)
    try:
        rows, grounds = tuple(rows_of(attempt)), survey_grounds(attempt)
    except NotRebuilt as gap:
        page.say(f"what was read cannot be laid out: {gap}")
    else:
        _print_rows(page, attempt, rows)
        if grounds:
            page.heading("recognised by")
        for sentence in grounds:
            page.item(sentence)
    _print_recount(page, again)
    _print_runs(page, runs, chosen)


def print_received(
    page: Page, attempt: Attempt, again: Recount, runs: Sequence[Listed], chosen: Listed
) -> None:
    """A unit of a lot: each characteristic with what was found, and with which setting it left the nest."""
    _print_head(page, attempt, chosen)
    if not again.agrees:
        _print_departures(page, attempt, again)
    events = [one.event for one in attempt.account]
    judged = [one for one in events if isinstance(one, CharacteristicJudged)]
    page.heading("characteristics")
    page.table(
        ("characteristic", "a defect is", "verdict", "measured", "found"),
        [(one.characteristic, one.defect, str(one.verdict), figure_words(one), one.words) for one in judged],
    )
    for left in (one for one in events if isinstance(one, SettingLeft)):
        page.say(f"left the nest: {left.setting}{'' if left.as_delivered else ', not as it was delivered'}")
    if attempt.judged is not None:
        page.say(f"{attempt.judged.verdict}: {attempt.judged.words}")
    _print_recount(page, again)
    _print_runs(page, runs, chosen)


def _print_head(page: Page, attempt: Attempt, chosen: Listed) -> None:
    judged = attempt.judged
    verdict = "never judged" if judged is None else f"{judged.verdict} ({judged.reason.replace('-', ' ')})"
    page.say(f"unit {chosen.serial}: {verdict}")
    if judged is None:
        last = attempt.events[-1]
        page.say(
            f"The record of this run ends with entry {last.number}, {last.event.kind}, at {last.utc}: the work was cut "
            "off. Nothing can be said of the unit; set it again."
        )
    page.say("; ".join(_origin(attempt, chosen)))


def _origin(attempt: Attempt, chosen: Listed) -> Iterator[str]:
    started = attempt.started
    if started is None:
        yield f"order {chosen.order}, {chosen.began_utc}"
        return
    order, customer = started.order, started.customer
    yield from {
        Purpose.SET: (f"order {order} for {customer}", f"set {chosen.began_utc}"),
        Purpose.VERIFY: (f"order {order} for {customer}", f"verified, not taught {chosen.began_utc}"),
        Purpose.SURVEY: (f"survey {order}", f"surveyed {chosen.began_utc}"),
        Purpose.RECEIVE: (f"lot {order} from {customer}", f"received {chosen.began_utc}"),
        Purpose.STUDY: (f"gauge study {order}", f"measured {chosen.began_utc}"),
    }[started.purpose]
    yield f"{started.sensor_type} on rig {started.rig}{' (SIMULATED)' if started.simulated else ''}"
    yield f"teachrig {started.software}"


def _print_departures(page: Page, attempt: Attempt, again: Recount) -> None:
    from rig.software import software_version

    page.heading(_ALOUD)
    recorded, worked_out = again.recorded, again.worked_out
    if recorded is not None and worked_out is not None:
        page.say(f"recorded:   {recorded.verdict}, {recorded.words}")
        page.say(f"worked out: {worked_out.verdict}, {worked_out.words}")
    for words in again.departures:
        page.item(words)
    then = "an unknown version" if attempt.started is None else f"teachrig {attempt.started.software}"
    page.say(
        f"Either it was altered, or it was written by a program that decides otherwise: {then} wrote it, this is "
        f"teachrig {software_version()}."
    )


def _print_rows(page: Page, attempt: Attempt, rows: Sequence[Row]) -> None:
    for part in Part:
        own = [row for row in rows if row.part is part]
        if not own:
            continue
        if part is Part.FIGURES:
            print_measured(Summary.of(attempt.account).units.values(), page)
            continue
        page.heading(part)
        if part is Part.ANSWERS:
            page.pairs([(str(row.entry), f"{row.what}: {row.read}") for row in own])
            continue
        if part is Part.INSPECTION:
            page.say(
                "entry: its number in the record; s: seconds since the unit was put in. Two levels: the output pulled "
                f"to L+, then to L-{_single_load(attempt)}."
            )
        told = any(row.proves for row in own)
        last = [_LAST.get(part, "proves")] if told else []
        page.table(
            (">entry", ">s", "what", "read", "must be", *last),
            [
                (
                    str(row.entry),
                    f"{row.at_s:.2f}",
                    row.what,
                    row.read,
                    row.wanted,
                    *([row.proves] if told else []),
                )
                for row in own
            ],
        )


def _single_load(attempt: Attempt) -> str:
    if attempt.is_survey:
        return ""
    load = telling_load(attempt.planned.plan.inspection.output_type)
    return f"; one: pulled to {load}, where on and off differ"


def _print_numbers(page: Page, attempt: Attempt, *, full: bool) -> None:
    if full:
        print_chapters(numbers_of(attempt, full=True), page)
        return
    chapters = numbers_of(attempt)
    print_in_short(chapters, page)
    if chapters and attempt.planned.plan.method is Verification.POSITIONS:
        page.say(
            "P: set point on the bench, T: tolerance, U (or w): guard, H: largest differential travel. --full: all."
        )


def _print_reasons(page: Page, attempt: Attempt, again: Recount) -> None:
    page.heading("rule")
    for sentence in rule_words(attempt.planned.plan):
        page.item(sentence)
    if again.worked_out is not None:
        page.heading("verdict")
        page.pairs(why(attempt, again.worked_out))


def _print_recount(page: Page, again: Recount) -> None:
    page.heading("worked out again, from this record alone")
    if not again.agrees:
        page.say(f"{_ALOUD}: see above.")
    elif again.recorded is None:
        page.say("No verdict is recorded, and what was read does not lead to one.")
    else:
        page.say(
            f"The same verdict, {again.recorded.verdict}, for the same reason, by the same steps: it agrees."
        )


def _print_runs(page: Page, runs: Sequence[Listed], chosen: Listed) -> None:
    if len(runs) == 1:
        return
    page.heading("runs of this unit")
    page.table(
        (">run", "began (UTC)", "order", "verdict", "found", ""),
        [
            (
                str(number),
                one.began_utc,
                one.order,
                str(one.verdict or "never judged"),
                one.reason.replace("-", " "),
                "shown here" if one is chosen else "",
            )
            for number, one in enumerate(runs, start=1)
        ],
    )
