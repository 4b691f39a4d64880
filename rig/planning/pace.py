"""How long a unit takes on the bench, and whether teaching keeps to the times of its type."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rig.planning.grounds import TeachGrounds, TimePart
from rig.planning.plan import (
    AwaitAnswer,
    AwaitOutput,
    Check,
    MakeContact,
    PlaceTarget,
    PlannedStep,
    PowerCycle,
    Rest,
)
from rig.planning.refusal import Refusal, at_least
from rig.statistics.numeric import root_between
from sequences.datasheet import Timing
from wiring.profile import RigProfile
from wiring.saying import say

# Person's or swing's share in the time estimate of one change of the target, in seconds.
_HAND_S = 4.0
# A contact until the LED answers ends on average this far between its limits.
_CONTACT_SHARE = 0.4
# At inspection the output at rest is pulled to either rail and read.
_INSPECTION_READINGS = 2
# No stage of a rig profile is faster.
_FASTEST_MM_S = 2000.0


@dataclass(frozen=True, slots=True)
class Pace:
    """The times of one unit on a rig.

    Attributes:
        reading_s: time for one reading of the output, settling included.
        speed_mm_s: speed of the target; None where a hand moves it.

    """

    rig: RigProfile
    timing: Timing
    reading_s: float
    speed_mm_s: float | None

    def parts(
        self, steps: Sequence[PlannedStep], checks: Sequence[Check], scans_mm: Sequence[Sequence[float]] = ()
    ) -> tuple[TimePart, ...]:
        """The expected time on the bench in parts, without the person's."""
        taught_mm = [step.position_mm for step in steps if isinstance(step, PlaceTarget)]
        moves_s = list(self._moves_s([*taught_mm, *(check.position_mm for check in checks)]))
        return (
            TimePart("until the unit is available", self.timing.availability_delay_s),
            TimePart("target at teaching", sum(moves_s[: len(taught_mm)])),
            TimePart("contacts and answers", sum(_step_s(step) for step in steps)),
            TimePart("target at checking", sum(moves_s[len(taught_mm) :])),
            TimePart("readings at checking", self.reading_s * len(checks)),
            *self._scan_parts(scans_mm),
        )

    def _scan_parts(self, scans_mm: Sequence[Sequence[float]]) -> Iterator[TimePart]:
        # A scan begins inside the zone, to where the target comes from a clear beam.
        places = [at_mm for scan_mm in scans_mm for at_mm in (None, scan_mm[0], *scan_mm)]
        if places:
            readings_s = self.reading_s * sum(map(len, scans_mm))
            yield TimePart("out through each tolerance", sum(self._moves_s(places)) + readings_s)

    def teaching(self, steps: Sequence[PlannedStep]) -> TeachGrounds:
        """When the contacts come, as expected, against what the type allows."""
        made = [index for index, step in enumerate(steps) if isinstance(step, MakeContact)]
        durations_s = self._durations_s(steps)
        pauses_s = [sum(durations_s[before + 1 : after]) for before, after in pairwise(made)]
        cycles = [index for index, step in enumerate(steps) if isinstance(step, PowerCycle)]
        powered = cycles[-1] + 1 if cycles else 0
        return TeachGrounds(
            longest_pause_s=max(pauses_s, default=0.0),
            timeout_s=self.timing.teach_timeout_s,
            last_contact_s=self._until_teaching_s(bool(cycles)) + sum(durations_s[powered : made[-1] + 1]),
            window_s=self.timing.teach_window_s,
        )

    def sequence_s(self, steps: Sequence[PlannedStep]) -> float:
        """How long the whole sequence takes, as expected."""
        return sum(self._durations_s(steps))

    def _until_teaching_s(self, powered_again: bool) -> float:
        inspection_s = 0.0 if powered_again else _INSPECTION_READINGS * self.reading_s
        return self.timing.availability_delay_s + inspection_s

    def _durations_s(self, steps: Sequence[PlannedStep]) -> list[float]:
        places = [step.position_mm for step in steps if isinstance(step, PlaceTarget)]
        moves_s = self._moves_s(places)
        return [next(moves_s) if isinstance(step, PlaceTarget) else _step_s(step) for step in steps]

    def _moves_s(self, positions: Sequence[float | None]) -> Iterator[float]:
        last_mm, target = 0.0, self.rig.target
        for position_mm in positions:
            if self.speed_mm_s is None:
                yield _HAND_S
            elif position_mm is None:
                yield target.swing_s
            else:
                yield abs(position_mm - last_mm) / self.speed_mm_s + target.settle_s
                last_mm = position_mm


def teach_refusals(pace: Pace, steps: Sequence[PlannedStep], times: TeachGrounds) -> Iterator[Refusal]:
    """Contacts that the relays cannot make so exactly, and teaching that takes longer than the type waits."""
    yield from _contact_refusals(pace.rig, [step for step in steps if isinstance(step, MakeContact)])
    what = "unit gives up between two contacts: the target takes too long"
    yield from _too_slow(pace, steps, what, lambda times: times.longest_pause_s, times.timeout_s)
    what = "unit takes no more teaching so long after power-up"
    yield from _too_slow(pace, steps, what, lambda times: times.last_contact_s, times.window_s)


def _too_slow(
    pace: Pace,
    steps: Sequence[PlannedStep],
    what: str,
    needed_s: Callable[[TeachGrounds], float],
    allowed_s: float,
) -> Iterator[Refusal]:
    def over_s(speed_mm_s: float) -> float:
        return needed_s(replace(pace, speed_mm_s=speed_mm_s).teaching(steps)) - allowed_s

    now_s = needed_s(pace.teaching(steps))
    if now_s <= allowed_s:
        return
    given, nearest, key = (
        say("{now_s:.3g} s", now_s=now_s),
        say("{allowed_s:g} s or less", allowed_s=allowed_s),
        "rig.target.speed_mm_s",
    )
    if pace.speed_mm_s is None:
        yield Refusal(what, given, say("{nearest}, with a target that needs no hand", nearest=nearest))
    elif over_s(_FASTEST_MM_S) > 0:
        yield Refusal(what, given, say("{nearest}, with a shorter sequence", nearest=nearest))
    else:
        passes = at_least(root_between(lambda mm_s: -over_s(mm_s), pace.speed_mm_s, _FASTEST_MM_S))
        yield Refusal(
            what,
            given,
            say("{nearest}, with a target at {passes:g} mm/s or more", nearest=nearest, passes=passes),
            key,
            passes,
        )


def _contact_refusals(rig: RigProfile, contacts: Sequence[MakeContact]) -> Iterator[Refusal]:
    # The rail selector never ends a contact: it only moves when that is open.
    relays = (one for nest in rig.nest for one in (nest.teach_contact, nest.plus_contact, nest.minus_contact))
    slack_s = max(relay.released_s for relay in relays if relay is not None)
    for contact in contacts:
        length_s = contact.shortest_s if contact.for_s is None else contact.for_s
        if length_s + slack_s > contact.longest_s:
            yield Refusal(
                say(
                    "relays of the teach path open so late that a contact of {length_s:g} s may outlast its "
                    "limit",
                    length_s=length_s,
                ),
                say("{slack_s:g} s", slack_s=slack_s),
                say(
                    "{longest_s:g} s or less, or a longer longest_s in the sensor type",
                    longest_s=contact.longest_s - length_s,
                ),
            )
        if 0 < contact.gap_s <= slack_s:
            yield Refusal(
                say(
                    "relays of the teach path open so late that a gap of {gap_s:g} s may be missed",
                    gap_s=contact.gap_s,
                ),
                say("{slack_s:g} s", slack_s=slack_s),
                say("less than {gap_s:g} s, or a longer gap_s in the sensor type", gap_s=contact.gap_s),
            )


def _step_s(step: PlannedStep) -> float:
    match step:
        case MakeContact(for_s=float(for_s)):
            return step.times * (for_s + step.gap_s)
        case MakeContact():
            return step.shortest_s + _CONTACT_SHARE * (step.longest_s - step.shortest_s)
        case Rest():
            return step.for_s
        case PowerCycle():
            return step.off_s
        case AwaitAnswer() | AwaitOutput():
            return step.within_s / 2
        case _:
            return 0.0
