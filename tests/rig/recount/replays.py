"""Records of units for the tests of the recount, as a journal would hand them out, and changed behind its back."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Any

from rig.events import OrderInputs, OrderStarted, Stamped, UnitStarted, event_from
from rig.planning.plan import Plan
from rig.recount.attempt import Attempt
from rig.recount.recount import recount


def through_the_journal(stamped: Stamped) -> Stamped:
    """The event as it is read back."""
    body = json.loads(json.dumps(stamped.body()))
    return replace(stamped, event=event_from(stamped.event.kind, body))


def attempts_in(events: Iterable[Stamped]) -> tuple[Attempt, ...]:
    """Every attempt at every unit of one run."""
    whole = [through_the_journal(one) for one in events]
    started = next((one.event for one in whole if isinstance(one.event, OrderStarted)), None)
    inputs = next((one.event for one in whole if isinstance(one.event, OrderInputs)), None)
    found: list[Attempt] = []
    for serial in dict.fromkeys(one.serial for one in whole):
        unit = [one for one in whole if one.serial == serial]
        begins = [index for index, one in enumerate(unit) if isinstance(one.event, UnitStarted)]
        found += [
            Attempt("run", started, inputs, tuple(unit[begin:end]))
            for begin, end in pairwise([*begins, len(unit)])
        ]
    return tuple(found)


def changed(attempt: Attempt, index: int, **fields: Any) -> Attempt:
    """The same record with other values in one entry."""
    one = attempt.events[index]
    other = replace(one, event=replace(one.event, **fields))
    return replace(attempt, events=(*attempt.events[:index], other, *attempt.events[index + 1 :]))


def without(attempt: Attempt, index: int) -> Attempt:
    """The same record with one entry taken out."""
    return replace(attempt, events=attempt.events[:index] + attempt.events[index + 1 :])


def assert_recount_agrees(events: Iterable[Stamped], plan: Plan | None = None) -> None:
    """Whatever was decided comes out of the record again."""
    for attempt in attempts_in(events):
        again = recount(attempt, plan)
        assert again.agrees, again
