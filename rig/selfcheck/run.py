"""One self-check on an open bench: every check in turn, and what becomes of the others when one trips the bench."""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass

from hal.bench import Bench
from hal.errors import BenchError, NoAnswer, TripCause, TripKind, Tripped
from hal.operator import Request, RequestKind
from rig.chronicle import Chronicle
from rig.events import (
    Asked,
    BenchReset,
    BenchTripped,
    PartChecked,
    SelfCheckEnded,
    SelfCheckStarted,
)
from rig.selfcheck import coils, leakage, outputs, parts, relays, targets
from rig.selfcheck.checks import Check, Figure, Finding, Kind, Outcome, checks_of, whole
from rig.selfcheck.places import Places
from rig.selfcheck.tripping import found_by_error, found_by_trip
from rig.selfcheck.work import PATIENCE_S, Earlier, Work
from rig.store.hashing import content_of
from wiring.profile import RigProfile
from wiring.saying import say

_CHECKS: dict[Kind, Callable[[Work, Check], Awaitable[Finding]]] = {
    Kind.SUPPLY: parts.check_supply,
    Kind.COILS: coils.check_coils,
    Kind.SUPPLY_RELAY: relays.check_supply_relay,
    Kind.TEACH_MINUS: relays.check_teach,
    Kind.TEACH_PLUS: relays.check_teach,
    Kind.LOAD: outputs.check_load,
    Kind.LEAKAGE: leakage.check_leakage,
    Kind.HEARTBEAT: coils.check_heartbeat,
    Kind.PICKUP: parts.check_pickup,
    Kind.TARGET: targets.check_target,
    Kind.AIR: parts.check_air,
    Kind.STOP: coils.check_stop,
}
# The trip has cut the supply itself: what is checked after it would be blamed for that.
_ENDS_ALL = frozenset({TripKind.SUPPLY_WELDED, TripKind.OUTPUT_FAILED, TripKind.PROGRAM, TripKind.ASKED})


@dataclass(frozen=True, slots=True)
class Checked:
    """One check with its figures and finding."""

    check: Check
    figures: tuple[Figure, ...]
    finding: Finding


@dataclass(frozen=True, slots=True)
class Result:
    """A self-check that has ended."""

    rig: str
    checked: tuple[Checked, ...]

    @property
    def outcome(self) -> Outcome:
        """How it came out as a whole."""
        return whole(one.finding.outcome for one in self.checked)


def started(profile: RigProfile, software: str) -> SelfCheckStarted:
    """The first entry of a self-check."""
    sha256, _ = content_of(profile.model_dump(mode="json"))
    return SelfCheckStarted(profile.name, sha256, profile.back_end == "simulated", software)


async def not_opened(profile: RigProfile, chronicle: Chronicle, software: str, failure: BenchError) -> Result:
    """Note a self-check that could not even open the bench."""
    chronicle.note(started(profile, software))
    first, *others = checks_of(profile)
    named = found_by_error(first, failure) if "supply" in str(failure) else _without_device(failure)
    found = [(first, named), *((one, _NOT_REACHED) for one in others)]
    for check, finding in found:
        _note(chronicle, check, finding)
    return await _ended(chronicle, profile, [Checked(check, (), finding) for check, finding in found])


def _without_device(failure: BenchError) -> Finding:
    return Finding(Outcome.FAILED, str(failure), failure.check)


_AGAIN = "Start the self-check again, with somebody at the bench."
_NOT_REACHED = Finding(Outcome.NOT_DONE, "not reached; first mend what is above")


class SelfCheckRun:
    """Does every check of the rig; the relays are at rest on return, whatever happened."""

    def __init__(self, bench: Bench, chronicle: Chronicle, earlier: Earlier, software: str) -> None:
        self._bench = bench
        self._chronicle = chronicle
        self._software = software
        self._tripped_by: dict[tuple[TripKind, str | None], Check] = {}
        self._work = Work(bench, chronicle, Places(bench.profile), earlier)
        bench.operator.on_request.append(self._note_request)

    async def run(self) -> Result:
        """Raises JournalError when the record cannot be kept."""
        profile = self._bench.profile
        self._chronicle.note(started(profile, self._software))
        checks = checks_of(profile)
        if (silence := await self._empty_bench()) is not None:
            findings = [silence, *[_NOT_REACHED] * (len(checks) - 1)]
            done = [self._conclude(check, one) for check, one in zip(checks, findings, strict=True)]
        else:
            done = [one async for one in self._each(checks)]
        self._bench.interlock.rest()
        return await _ended(self._chronicle, profile, done)

    async def _each(self, checks: tuple[Check, ...]) -> AsyncIterator[Checked]:
        given_up = False
        for check in checks:
            if given_up:
                yield self._conclude(check, _NOT_REACHED)
                continue
            await self._chronicle.durable()
            yield self._conclude(check, await self._do(check))
            given_up = not await self._ready_for_more(check)

    async def _empty_bench(self) -> Finding | None:
        nests = " and ".join(nest.name for nest in self._bench.profile.nest)
        text = say(
            "Take every unit out of nest {nests}, keep your fingers clear of the target, and say done.",
            nests=nests,
        )
        try:
            await self._work.ask(RequestKind.CONFIRM, text)
        except NoAnswer as silence:
            return Finding(Outcome.NOT_DONE, str(silence), _AGAIN)
        except Tripped:
            return None  # the first check that needs relays tells which wire it is
        return None

    async def _do(self, check: Check) -> Finding:
        try:
            return await _CHECKS[check.kind](self._work, check)
        except Tripped as tripped:
            return self._tripped(check, tripped.cause)
        except NoAnswer as silence:
            return Finding(Outcome.NOT_DONE, str(silence), _AGAIN)
        except BenchError as failure:
            return found_by_error(check, failure)
        finally:
            self._bench.interlock.rest()

    def _tripped(self, check: Check, cause: TripCause) -> Finding:
        if cause.kind is TripKind.ASKED:  # whoever ends a self-check says nothing against the part in hand
            return Finding(Outcome.NOT_DONE, str(cause), _AGAIN)
        before = self._tripped_by.setdefault((cause.kind, cause.nest), check)
        if before is not check:
            words = say("the same trip as at {part}, which has to be mended first", part=before.part)
            return Finding(Outcome.NOT_DONE, words)
        return found_by_trip(self._work, check, cause)

    async def _ready_for_more(self, check: Check) -> bool:
        """Reset after a trip, on the person's word; false if nothing more can be checked."""
        causes = self._bench.interlock.causes
        if not causes:
            return True
        if check.kind is not Kind.STOP:  # whose trip is what it asks for
            for cause in causes:
                self._chronicle.note(BenchTripped(str(cause.kind), str(cause), cause.check))
        if _ENDS_ALL.intersection(cause.kind for cause in causes):
            return False
        text = "Pull the stop button out if it is in, and see that the bench is clear; done resets the bench."
        try:
            await self._bench.operator.ask(Request(RequestKind.CONFIRM, text), timeout_s=PATIENCE_S)
            self._bench.interlock.reset()
        except BenchError:
            return False
        self._chronicle.note(BenchReset())
        return True

    def _conclude(self, check: Check, finding: Finding) -> Checked:
        figures = tuple(figure for part, figure in self._work.figures if part == check.part)
        _note(self._chronicle, check, finding)
        return Checked(check, figures, finding)

    def _note_request(self, request: Request) -> None:
        self._chronicle.note(Asked(str(request.kind), request.text, request.position_mm))


def _note(chronicle: Chronicle, check: Check, finding: Finding) -> None:
    chronicle.note(PartChecked(check.part, check.done, str(finding.outcome), finding.words, finding.advice))


async def _ended(chronicle: Chronicle, profile: RigProfile, done: list[Checked]) -> Result:
    result = Result(profile.name, tuple(done))
    chronicle.note(SelfCheckEnded(profile.name, str(result.outcome)))
    await chronicle.durable()
    return result
