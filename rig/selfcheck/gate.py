"""Whether units may be taught on a rig, as far as its last self-check is concerned; pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

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


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands against teaching, and what is only to be said; empty: nothing."""

    refusal: str = ""
    warning: str = ""


_WELL = frozenset({Outcome.PASSED, Outcome.WORN})


def standing_of(profile: RigProfile, last: LastCheck | None, today: date) -> Standing:
    """Hold the last self-check of a rig against what its profile demands."""
    need = profile.self_check.needed
    if profile.back_end == "simulated" or need is SelfCheckNeed.NEVER:
        return Standing()
    command = f"teachrig selfcheck --rig {profile.name}"
    if last is not None and last.outcome not in _WELL:
        how = "has failed" if last.outcome is Outcome.FAILED else "was not finished"
        words = f"the last self-check of rig {profile.name} ({last.utc}) {how}"
        return Standing(f"{words}: mend what it names, then let it pass: {command}")
    why = _why_none_today(profile, last, today)
    if not why:
        worn = last is not None and last.outcome is Outcome.WORN
        return Standing(warning=f"the self-check of rig {profile.name} found a worn relay" if worn else "")
    if need is SelfCheckNeed.DAILY:
        return Standing(f"rig {profile.name} needs a self-check every day, and {why}: {command}")
    return Standing(warning=f"{why} for rig {profile.name}: {command}")


def _why_none_today(profile: RigProfile, last: LastCheck | None, today: date) -> str:
    if last is None or last.day != today:
        return "there was no self-check today"
    sha256, _ = content_of(profile.model_dump(mode="json"))
    if sha256 != last.rig_sha256:
        return "the rig profile has changed since today's self-check"
    return ""
