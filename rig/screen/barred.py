"""Whether units may be taught on this bench at all, before one is asked for."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from rig.control.gate import Leave, leave_of
from rig.control.history import account_in
from rig.journal import JournalError
from rig.screen.view.notices import Barred
from rig.selfcheck.gate import standing_of
from rig.selfcheck.history import last_check
from sequences.checks import CheckUnitNeed

if TYPE_CHECKING:
    from rig.screen.setup import Setup


def looked_up(setup: Setup) -> tuple[Barred | None, str]:
    """What stands against teaching now, and the catalogue key of what is only to be said; empty: nothing."""
    barred, said = _by_self_check(setup)
    if barred is not None:
        return barred, said
    try:
        leave = leave_at(setup)
    except JournalError as failure:
        return Barred("barred.no-record", {"why": str(failure)}), ""
    if leave.refusal:
        return Barred(f"barred.unit-{leave.why}", about="barred-unit"), ""
    return None, said or (f"advised.unit-{leave.why}" if leave.why else "")


def leave_at(setup: Setup) -> Leave:
    """Whether the check unit of the rig lets work begin, and until when; raises JournalError."""
    if setup.practice or setup.journal is None:
        return Leave()
    needed = setup.order.checks.check_unit is CheckUnitNeed.NEEDED
    account = account_in(setup.journal, setup.profile.name)
    return leave_of(setup.profile, account, datetime.now().astimezone(), needed=needed)


def _by_self_check(setup: Setup) -> tuple[Barred | None, str]:
    if setup.simulated or setup.journal is None:
        return None, ""
    try:
        last = last_check(setup.journal, setup.profile.name)
    except JournalError as failure:
        return Barred("barred.no-record", {"why": str(failure)}), ""
    standing = standing_of(setup.profile, last, datetime.now().astimezone().date())
    if not standing.refusal:
        return None, f"advised.{standing.why}" if standing.why else ""
    when = "" if last is None else datetime.fromisoformat(last.utc).astimezone().strftime("%Y-%m-%d %H:%M")
    return Barred(f"barred.{standing.why}", {"when": when}), ""
