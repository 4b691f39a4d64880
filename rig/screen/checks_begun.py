"""Begins what is done to the rig itself, its self-check or a measurement of its check unit, in place of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rig.journal import JournalError
from rig.screen.setup import CannotStart
from rig.screen.view.lines import Role

if TYPE_CHECKING:
    from rig.control.check_unit import Account
    from rig.screen.app import BenchApp
    from rig.screen.unit_check import UnitCheck

# What each of them is made of loads much, and few days need it twice: it is imported where it is begun.


def begin_self_check(app: BenchApp) -> None:
    """Close the bench of the order in hand, begin a self-check, and show it."""
    from rig.screen.checkup import Checkup
    from rig.screen.self_check import SelfCheckScreen

    work = app.work
    if work is not None:
        work.leave("a self-check was begun")
        work.pump()
    try:
        setup = work.setup if work is not None and work.setup.practice else app.bench.bare()
        checkup = Checkup(setup.profile, setup.bench_file, setup.journal, setup.real_time, setup.speed)
    except (CannotStart, JournalError) as refused:
        app.say(f"{refused}", Role.BAD)
        return
    app.checkup = checkup
    app.push_screen(SelfCheckScreen(checkup))


def begin_unit_check(app: BenchApp, account: Account) -> UnitCheck | None:
    """Close the bench of the order in hand and measure the check unit; None if that cannot be."""
    from rig.screen.unit_check import UnitCheck

    if app.work is not None:
        app.work.leave("the check unit was to be measured")
        app.work.pump()
    try:
        begun = UnitCheck(app.bench, account, app.signed_in)
    except (CannotStart, JournalError) as refused:
        app.say(f"{refused}", Role.BAD)
        return None
    app.checkup = begun
    return begun


def show_check_unit(app: BenchApp) -> None:
    """Show the check unit of the rig with its charts."""
    from rig.screen.check_unit import CheckUnitScreen

    app.push_screen(CheckUnitScreen())
