"""Events: whatever is recorded comes back as what it was."""

from __future__ import annotations

import dataclasses
import inspect
import json
import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rig.events
from rig.events import (
    EVENT_TYPES,
    ContactEnded,
    Event,
    OutputRead,
    Stamped,
    SupplyMeasured,
    UnitJudged,
    Verdict,
    event_from,
)
from rig.journal import Journal, read_journal
from tests.looking import examples
from tests.rig.recorded import any_event, stamped, through_json
from wiring.terms import Rail


def types_in(event: Event) -> list[type]:
    return [type(getattr(event, field.name)) for field in dataclasses.fields(event)]


@settings(max_examples=examples(100))
@given(any_event)
def test_every_event_comes_back_from_json_as_what_it_was(event: Event) -> None:
    again = event_from(event.kind, json.loads(through_json(event)))
    assert type(again) is type(event)
    assert again == event
    assert types_in(again) == types_in(event)


@settings(max_examples=examples(20))
@given(st.lists(st.tuples(st.text(max_size=40), any_event), min_size=1, max_size=20))
def test_every_event_comes_back_from_the_journal_as_what_it_was(happened: list[tuple[str, Event]]) -> None:
    written = [stamped(number, serial, event) for number, (serial, event) in enumerate(happened, start=1)]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "journal.sqlite3"
        journal = Journal(path, "run")
        for one in written:
            journal.record(one)
        journal.close()
        read = list(read_journal(path))
    assert read == written
    assert [types_in(one.event) for one in read] == [types_in(one.event) for one in written]


def test_every_kind_of_event_is_known_by_a_name_of_its_own() -> None:
    classes = {
        cls
        for _, cls in inspect.getmembers(rig.events, inspect.isclass)
        if issubclass(cls, Event) and cls is not Event
    }
    assert set(EVENT_TYPES.values()) == classes
    assert {cls.kind: cls for cls in classes} == EVENT_TYPES
    assert len(EVENT_TYPES) >= 15


def test_words_of_rails_and_verdicts_become_what_they_stand_for() -> None:
    read = event_from(
        "output-read",
        {"where": "x", "position_mm": None, "load": "L+", "level": "at L+", "steady": True},
    )
    assert isinstance(read, OutputRead)
    assert read.load is Rail.PLUS
    judged = event_from("unit-judged", {"verdict": "bad", "reason": "set-point-off", "words": "x"})
    assert isinstance(judged, UnitJudged)
    assert judged.verdict is Verdict.BAD
    ended = event_from("contact-ended", {"rail": "L-", "length_s": 1.0, "answer": "none", "confirmed": False})
    assert isinstance(ended, ContactEnded)
    assert ended.rail is Rail.MINUS


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        ("unit-sold", {}, "unknown event kind 'unit-sold'"),
        ("event", {}, "unknown event kind 'event'"),
        ("supply-switched", {}, "'supply-switched' has fields [], expected ['on']"),
        ("supply-switched", {"on": True, "by": "x"}, "fields ['by', 'on'], expected ['on']"),
        ("unit-judged", {"verdict": "fine", "reason": "", "words": ""}, "'fine' is not a valid Verdict"),
    ],
)
def test_what_this_version_does_not_know_is_refused(kind: str, body: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=re.escape(words)):
        event_from(kind, body)


def test_events_and_stamps_cannot_be_changed() -> None:
    one = Stamped(1, 1_500_000_000, "2026-01-05T07:00:01.500Z", "", "", SupplyMeasured(0.03, None))
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.serial = "QOC-2"  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.event.current_a = 0.0  # type: ignore[attr-defined]
    assert one.at_s == 1.5
    assert one.body() == {"current_a": 0.03, "voltage_v": None}
