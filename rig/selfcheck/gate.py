"""Whether units may be taught on a rig, as far as its last self-check is concerned; pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from rig.selfcheck.checks import Outcome
from rig.store.hashing import content_of
from wiring.profile import RigProfile
from wiring.self_check import SelfCheckNeed


@dataclass(frozen=True, slots=True)
class LastCheck:
    """The last self-check of a rig: when it began, how it came out, and on which profile (SHA-256)."""

    utc: str
    outcome: Outcome
    rig_sha256: str

    @property
    def day(self) -> date:
        """On which day, by the clock on the wall, it began."""
        return datetime.fromisoformat(self.utc).astimezone().date()


class Why(StrEnum):
    """What is amiss with the self-check of a rig."""

    FAILED = "failed"
    NOT_FINISHED = "not-finished"
    NONE_TODAY = "none-today"
    PROFILE_CHANGED = "profile-changed"
    WORN = "worn"


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands against teaching, and what is only to be said, with the reason for either; empty: nothing."""

    refusal: str = ""
    warning: str = ""
    why: Why | None = None


_WELL = frozenset({Outcome.PASSED, Outcome.WORN})


def standing_of(profile: RigProfile, last: LastCheck | None, today: date) -> Standing:
    """Hold the last self-check of a rig against what its profile demands."""
    need = profile.self_check.needed
    if profile.back_end == "simulated" or need is SelfCheckNeed.NEVER:
        return Standing()
    command = f"teachrig selfcheck --rig {profile.name}"
    if last is not None and last.outcome not in _WELL:
        failed = last.outcome is Outcome.FAILED
        how = "has failed" if failed else "was not finished"
        words = f"the last self-check of rig {profile.name} ({last.utc}) {how}"
        why = Why.FAILED if failed else Why.NOT_FINISHED
        return Standing(f"{words}: mend what it names, then let it pass: {command}", why=why)
    if last is None or last.day != today:
        return _none_today(profile, Why.NONE_TODAY, "there was no self-check today", command)
    if content_of(profile.model_dump(mode="json"))[0] != last.rig_sha256:
        words = "the rig profile has changed since today's self-check"
        return _none_today(profile, Why.PROFILE_CHANGED, words, command)
    if last.outcome is Outcome.WORN:
        return Standing(warning=f"the self-check of rig {profile.name} found a worn relay", why=Why.WORN)
    return Standing()


def _none_today(profile: RigProfile, why: Why, words: str, command: str) -> Standing:
    if profile.self_check.needed is SelfCheckNeed.DAILY:
        refusal = f"rig {profile.name} needs a self-check every day, and {words}: {command}"
        return Standing(refusal, why=why)
    return Standing(warning=f"{words} for rig {profile.name}: {command}", why=why)
