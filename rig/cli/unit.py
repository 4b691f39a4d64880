"""`teachrig unit`: the history of one unit over the years, as the record tells it."""

from __future__ import annotations

from argparse import Namespace
from collections import Counter
from collections.abc import Iterator

from rig.cli.asking import opened_store
from rig.cli.exits import Exit, narrate, reader_may_leave
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.listing import time_words
from rig.cli.no_unit import no_such_unit
from rig.finding.story import Chapter, Row, as_dicts, story
from rig.recount.drift import drift_words
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable

_LONGEST_NAME = 60
_DONE = {
    "set": "set in order",
    "verify": "verified, not taught, in order",
    "survey": "surveyed in",
    "receive": "received in lot",
    "study": "measured in gauge study",
}


def command(options: Namespace) -> int:
    """Tell it."""
    where = "of the shop" if options.shop else printable(str(data_folder(options.data) / JOURNAL_NAME))
    with opened_store(options) as store:
        chapters = story(store, options.serial) or no_such_unit(store.records, options.serial, where)
    with reader_may_leave():
        if options.json:
            print_json({"serial": options.serial, "attempts": list(as_dicts(chapters))})
        else:
            _print(options.serial, chapters, Page())
            narrate(f"every reading: teachrig explain {printable(options.serial)} --run N")
    return Exit.DONE


def _print(serial: str, chapters: list[Chapter], page: Page) -> None:
    types = dict.fromkeys(_name(one.unit["sensor_type"]) for one in chapters)
    page.say(f"unit {_name(serial)}, {', '.join(types)}; last word: {_last_word(chapters[-1])}")
    for one in chapters:
        unit = one.unit
        done = _DONE.get(unit["purpose"], unit["purpose"])
        page.heading(f"{one.number}. {time_words(unit['began_utc'])} UTC  {done} {_name(unit['order'])}")
        page.pairs(list(_facts(one)))


def _name(text: str) -> str:
    return printable(text, _LONGEST_NAME)


def _last_word(chapter: Chapter) -> str:
    if chapter.unit["by_hand"]:
        return f"{chapter.unit['by_hand']}, decided by hand"
    return chapter.unit["verdict"] or "none, it is in work or was cut off"


def _facts(chapter: Chapter) -> Iterator[tuple[str, str]]:
    unit = chapter.unit
    simulated = ", SIMULATED" if unit["simulated"] else ""
    if unit["customer"] and unit["purpose"] not in ("survey", "study"):
        yield "from" if unit["purpose"] == "receive" else "for", printable(unit["customer"])
    if unit["setting"] and unit["purpose"] != "survey":
        yield "to", printable(unit["setting"])
    yield (
        "on",
        f"{printable(unit['bench'])}, rig {printable(unit['rig'])}{simulated}; program {unit['software']}",
    )
    if unit["air_c"] is not None:
        yield "air", f"{unit['air_c']:.1f} °C, {unit['air_humidity_percent']:.0f} % humidity, by the probe"
    yield "by", printable(unit["person"]) or "nobody had signed in"
    yield "verdict", _verdict(chapter)
    if chapter.since is not None:
        yield "drift", f"{drift_words(chapter.drift)}, since {chapter.since}."
    for row in chapter.decided:
        yield "by hand", f"decided {_decision(row)}"
    for row in chapter.corrected:
        yield "corrected", _correction(row)
    for words, files in Counter(map(_paper, chapter.papers)).items():
        yield "paper", words if files == 1 else f"{words}, {files} files"


def _verdict(chapter: Chapter) -> str:
    unit = chapter.unit
    if not unit["verdict"]:
        return "none: it is in work, or was cut off"
    seconds = "" if unit["seconds"] is None else f", after {unit['seconds']:.1f} s"
    words = f": {printable(chapter.words)}" if chapter.words else ""
    again = "; done again later" if unit["done_again"] else ""
    return f"{unit['verdict']} ({printable(unit['reason']).replace('-', ' ')}){seconds}{words}{again}"


def _decision(row: Row) -> str:
    words = f"{row['verdict']} by {printable(row['person'])}, released by {printable(row['released_by'])}"
    overruled = "" if row["stands"] else " (no longer stands)"
    return f"{words}, {time_words(row['utc'])}: {printable(row['why'])}{overruled}"


def _correction(row: Row) -> str:
    what = f"{printable(row['field'])} is {printable(row['right'])}" if row["field"] else "remark"
    who = f"{printable(row['person'])}, {time_words(row['utc'])}"
    return f"entry {row['corrects']}: {what}; {who}: {printable(row['why'])}"


def _paper(row: Row) -> str:
    whose = "" if row["serial"] or row["kind"].startswith("lot ") else " of its order"
    by = f" by {printable(row['person'])}" if row["person"] else ""
    return f"{printable(row['kind'])}{whose}, {time_words(row['utc'])}{by}"
