"""What a line that was scanned or typed means in each phase of the work on an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rig.screen.view.board import Phase
from rig.screen.view.serials import Scan, judge_scan, names, read_scan
from rig.screen.view.wording import read_number

if TYPE_CHECKING:
    from rig.screen.work import OrderWork

_LONGEST = 40


def entered(work: OrderWork, text: str) -> Scan | None:
    """Take in a line, or 'done' if it is empty; tells what was made of it, None where the screen shows it anyway."""
    read, phase = read_scan(text), work.board.phase
    if read.why:
        return Scan(None, "scan.unreadable", {"why": read.why})
    given = read.text
    if not given:
        return _nothing(work)
    if read.order not in (None, work.setup.job.order.number) and phase.takes_serial:
        return Scan(None, "scan.other-order", {"serial": given[:_LONGEST], "order": read.order})
    if phase.takes_serial or phase is Phase.ENDED:
        return _serial(work, given)
    if phase is Phase.TAKE_OUT:
        return _while_taken_out(work, given)
    if phase is Phase.ASIDE:
        return _named_aside(work, given)
    if phase is Phase.ASKED and work.board.wants_number:
        return _number(work, given)
    if phase is Phase.FIT and names(given, work.board.serial):
        return Scan(None, "scan.chosen", {"serial": work.board.serial})
    return Scan(None, "scan.not-now", {"text": given[:_LONGEST]})


def _nothing(work: OrderWork) -> Scan | None:
    phase = work.board.phase
    if phase not in (Phase.FIT, Phase.ASKED, Phase.TAKE_OUT):
        return None
    if phase is Phase.ASKED and work.board.wants_number:
        return Scan(None, "scan.number")
    if work.theirs:
        return Scan(None, "scan.theirs")
    if work.asked_just_now:
        return Scan(None, "scan.too-soon")
    work.say_done()
    return None


def _number(work: OrderWork, given: str) -> Scan | None:
    if work.theirs:
        return Scan(None, "scan.theirs")
    number = read_number(given)
    if number is None:
        return Scan(None, "scan.no-number", {"text": given[:_LONGEST]})
    work.say_number(number)
    return None


def _serial(work: OrderWork, given: str) -> Scan:
    scan = judge_scan(given, work.board.standing)
    if scan.serial is not None:
        work.hand_over(scan.serial)
        if work.board.barred is not None:
            return Scan(None, f"scan.{work.board.barred.about}", {"serial": scan.serial})
    return scan


def _while_taken_out(work: OrderWork, given: str) -> Scan:
    """The unit that is put aside once more, or after a good one the next."""
    board = work.board
    if board.in_nest_not_good:
        if not names(given, board.serial):
            return Scan(None, "scan.other-aside", {"text": given[:_LONGEST], "serial": board.serial})
        work.will_be_put_aside()
        work.say_done()
        return Scan(board.serial, "scan.accepted", {"serial": board.serial})
    scan = judge_scan(given, board.standing)
    if scan.serial is not None:
        work.hand_over_next(scan.serial)
        work.say_done()
    return scan


def _named_aside(work: OrderWork, given: str) -> Scan | None:
    serial = work.board.serial
    if not names(given, serial):
        return Scan(None, "scan.other-aside", {"text": given[:_LONGEST], "serial": serial})
    work.put_aside()
    return None
