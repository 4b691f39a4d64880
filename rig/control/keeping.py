"""What is done with a check unit beside the bench: keeping it, entering a measurement, looking into a signal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rig.control.chart import Watching
from rig.control.check_unit import Account, Cause, CheckUnit, Measured, order_number
from rig.control.history import account_in, enter
from rig.control.measuring import NoCheckUnit, measured_of, must_have_points
from rig.events import CheckUnitGivenUp, CheckUnitLookedAt, CheckUnitMeasured, Verdict
from rig.moments import utc_now
from rig.records import Listed, open_records
from wiring.check_unit import RunRule
from wiring.profile import RigProfile


def keep(
    path: Path,
    serial: str,
    profile: RigProfile,
    person: str,
    why: str,
    rules: Sequence[RunRule] | None = None,
) -> CheckUnit:
    """Make a unit that was set and found good the check unit of a rig.

    Raises:
        NoCheckUnit: for one that the record does not know as good, or that has no set point, or while another
            gives a signal that nobody has looked into.
        JournalError: when the record cannot be read or kept.

    """
    with open_records(path) as records:
        attempts = [one for one in records.attempts(serial) if one.order != order_number(serial)]
        told = records.attempt(attempts[-1]).inputs if attempts else None
    must_be_good(serial, attempts)
    before = account_in(path, profile.name)
    if before is not None:
        nothing_open(before)
    inputs = must_have_points(serial, told)
    policy = profile.check_unit
    watching = Watching(tuple(policy.rules if rules is None else rules))
    unit = CheckUnit(
        profile.name,
        serial,
        inputs.order,
        inputs.sensor_type,
        watching,
        policy.baseline,
        person,
        utc_now(),
        why,
    )
    enter(path, profile.name, order_number(serial), serial, unit.kept())
    return unit


def must_be_good(serial: str, attempts: Sequence[Listed]) -> None:
    """Raises NoCheckUnit unless the last verdict on a unit is good."""
    if not attempts:
        raise NoCheckUnit(f"no unit {serial} in the record; allowed: one that was set here and found good")
    last = attempts[-1]
    if last.verdict is not Verdict.GOOD:
        raise NoCheckUnit(
            f"unit {serial} is {last.verdict or 'not judged'} since {last.began_utc[:10]}; allowed: a unit whose last "
            "verdict is good"
        )


def nothing_open(account: Account) -> None:
    """Raises NoCheckUnit while a signal is open: another check unit, or none, would only hide it."""
    if account.open_signals():
        unit = account.unit
        raise NoCheckUnit(
            f"check unit {unit.serial} gives a signal that nobody has looked into; allowed: first "
            f"teachrig checkunit look --rig {unit.rig}"
        )


def kept_by(path: Path, rig: str) -> Account:
    """The check unit of a rig; raises NoCheckUnit if it keeps none, and JournalError."""
    account = account_in(path, rig)
    if account is None:
        raise NoCheckUnit(
            f"rig {rig} keeps no check unit; allowed: teachrig checkunit keep SERIAL --rig {rig}"
        )
    return account


def enter_measurement(path: Path, account: Account, person: str) -> Account:
    """Take the last measurement out of the record of its work, chart it, and enter both; returns the new account.

    Raises JournalError, and NoCheckUnit if the work left no record.
    """
    unit = account.unit
    number = order_number(unit.serial)
    with open_records(path) as records:
        listed = [one for one in records.attempts(unit.serial) if one.order == number]
        found = measured_of(records.attempt(listed[-1]), person) if listed else None
    if found is None or (account.last is not None and account.last.run == found.run):
        raise NoCheckUnit(f"check unit {unit.serial} was not put into the nest; allowed: measure it again")
    # By the clock on the wall: a simulated bench has a calendar of its own, and shifts go by the wall.
    measured = Measured(utc_now(), found.deviations, person, found.words, found.run)
    after = account.with_measurement(measured)
    event = CheckUnitMeasured(
        unit.rig,
        unit.serial,
        measured.run,
        {edge: list(one) for edge, one in measured.deviations.items()},
        measured.words,
        after.signal_words(),
        person,
    )
    enter(path, unit.rig, number, unit.serial, event)
    return after


def look(path: Path, account: Account, person: str, found: str, cause: Cause) -> None:
    """Enter that somebody has looked into the open signals; raises NoCheckUnit if there are none, and JournalError."""
    signals = account.signal_words()
    if not signals:
        raise NoCheckUnit(
            f"check unit {account.unit.serial} gives no signal that nobody has looked into; allowed: nothing to do"
        )
    unit = account.unit
    event = CheckUnitLookedAt(unit.rig, unit.serial, signals, found, str(cause), person)
    enter(path, unit.rig, order_number(unit.serial), unit.serial, event)


def give_up(path: Path, account: Account, person: str, why: str) -> None:
    """Enter that a rig has no check unit any more; raises NoCheckUnit while a signal is open, and JournalError."""
    nothing_open(account)
    unit = account.unit
    event = CheckUnitGivenUp(unit.rig, unit.serial, person, why)
    enter(path, unit.rig, order_number(unit.serial), unit.serial, event)
