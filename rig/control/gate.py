"""Whether units may get verdicts on a rig, as far as its check unit is concerned; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from rig.control.check_unit import Account
from wiring.check_unit import CheckUnitNeed
from wiring.profile import RigProfile
from wiring.saying import say


@dataclass(frozen=True, slots=True)
class Leave:
    """Whether work may begin, and how long that holds.

    Attributes:
        refusal: why no unit may be worked on; empty if it may.
        warning: what is only to be said.
        until: when it has to be asked again; None: not because of the time.
        why: a name for what stands against it, for whoever has words of their own; empty if nothing does.

    """

    refusal: str = ""
    warning: str = ""
    until: datetime | None = None
    why: str = ""

    def over(self, now: datetime) -> str:
        """Why a leave that was given has ended; empty while it lasts."""
        if self.until is None or now < self.until:
            return ""
        begin = f"{self.until:%H:%M}"
        return say("a new shift began at {begin}, and its check unit is to be measured first", begin=begin)


def leave_of(profile: RigProfile, account: Account | None, now: datetime, *, needed: bool = False) -> Leave:
    """Hold what is known of a rig's check unit against what the rig, or with `needed` the order, demands.

    Args:
        profile: the rig.
        account: its check unit; None if it keeps none.
        now: local time with its zone, as shifts go by it.
        needed: whether the order asks for the check unit, whatever the rig does.

    """
    policy = profile.check_unit
    strict = needed or policy.needed is CheckUnitNeed.EACH_SHIFT
    if account is None:
        return Leave(_never_kept(profile), why="kept-none") if strict else Leave()
    rig = profile.name
    if signal := account.signal_words():
        return Leave(
            f"the check unit {account.unit.serial} of rig {rig} gave a signal ({signal}); no verdict until somebody "
            f"has looked: teachrig checkunit look --rig {rig}",
            why="signal",
        )
    begin, end = shift_at(now, policy.shifts)
    why, told = _why_not(account, begin)
    if not why:
        return Leave(until=end if strict else None)
    words = f"{told}: teachrig checkunit measure --rig {rig}"
    if strict:
        return Leave(words, why=why)
    return Leave(warning=words, why=why) if policy.needed is CheckUnitNeed.ADVISED else Leave()


def _never_kept(profile: RigProfile) -> str:
    return (
        f"rig {profile.name} has to measure a check unit each shift, and keeps none: teachrig checkunit keep SERIAL "
        f'--rig {profile.name}, with a unit that is good (to set the first one, let it be needed = "advised")'
    )


def _why_not(account: Account, begin: datetime) -> tuple[str, str]:
    """Why there is no measurement to go by in the shift, as a name and in words; empty if there is."""
    last, unit = account.last, f"check unit {account.unit.serial}"
    if last is None or datetime.fromisoformat(last.utc) < begin:
        return "not-measured", f"the shift began at {begin:%H:%M}, and nobody has measured {unit} since"
    if not account.measured or account.measured[-1] is not last:
        return (
            "no-result",
            f"the last measurement of {unit} came to nothing ({last.words or 'no reason known'})",
        )
    if not account.measured_since_looked:
        return "not-again", f"since somebody looked into its signal, nobody has measured {unit} again"
    return "", ""


def shift_at(now: datetime, begins: Sequence[str]) -> tuple[datetime, datetime]:
    """Begin and end of the shift that a moment lies in, in its own zone; the day goes round."""
    times = [time.fromisoformat(begin) for begin in begins]
    days = (now.date() + timedelta(days=days) for days in (-1, 0, 1))
    moments = [datetime.combine(day, one, now.tzinfo) for day in days for one in times]
    begin = max(moment for moment in moments if moment <= now)
    return begin, min(moment for moment in moments if moment > now)
