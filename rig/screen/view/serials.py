"""What a scanned or typed serial means for an order: a unit of it, one that was done already, or none."""

from __future__ import annotations

from dataclasses import dataclass, field

from rig.events import Verdict
from rig.papers.label_code import HEAD, UnreadableLabel, unit_code
from rig.screen.view.lines import printable
from rig.screen.view.standing import Standing

_SHORTEST_ENDING = 1


@dataclass(frozen=True, slots=True)
class Scan:
    """The unit that was meant, or None with the reason: `key` of the catalogue with its values."""

    serial: str | None
    key: str
    values: dict[str, object] = field(default_factory=dict)


def cleaned(text: str) -> str:
    """What a scanner or a person sent, without control characters and spaces around it."""
    return printable(text).strip()


@dataclass(frozen=True, slots=True)
class Read:
    """What a scan says: a serial, or text as it is; `why` it is a label that cannot be trusted."""

    text: str
    order: str | None = None
    why: str = ""


def read_scan(text: str) -> Read:
    """Take the code of a label apart, of which only the serial is the text; anything else is left as it is."""
    if not text.lstrip().startswith(HEAD):
        return Read(cleaned(text))
    try:
        code = unit_code(text.strip())
    except UnreadableLabel as why:
        return Read("", why=str(why))
    return Read(cleaned(code.serial), code.order)


def judge_scan(text: str, standing: Standing) -> Scan:
    """Find the unit that a text names: its whole serial in any case, or the last digits of one, of those left first.

    A unit that is good or bad already is refused; one that is undecided may be set again.
    """
    serial = _named(text, standing)
    if serial is None:
        return _unknown(text, standing)
    unit = standing.units[serial]
    values: dict[str, object] = {"serial": serial, "at": unit.utc[11:16]}
    if unit.open:
        return Scan(serial, "scan.interrupted" if unit.interrupted else "scan.accepted", values)
    if unit.verdict is Verdict.UNDECIDED:
        return Scan(serial, "scan.again", values)
    return Scan(None, "scan.was-good" if unit.verdict is Verdict.GOOD else "scan.was-bad", values)


def names(text: str, serial: str) -> bool:
    """Whether a text names this one unit, whole or by its last digits; zeros alone are no such digits."""
    given = text.casefold()
    if given == serial.casefold():
        return True
    return given.isdigit() and given.strip("0") != "" and serial.endswith(given)


def _named(text: str, standing: Standing) -> str | None:
    given = text.casefold()
    for serial in standing.units:
        if serial.casefold() == given:
            return serial
    if not (given.isascii() and given.isdigit() and len(given) >= _SHORTEST_ENDING):
        return None
    ending = [serial for serial in standing.open_serials if _ends_in(serial, given)]
    # Where no unit that is left is meant, it may be one that is done, and the person should hear so.
    ending = ending or [serial for serial in standing.units if _ends_in(serial, given)]
    return ending[0] if len(ending) == 1 else None


def _ends_in(serial: str, digits: str) -> bool:
    """Whether the number at the end of a serial is `digits`, with or without the zeros before it."""
    number = serial[len(serial.rstrip("0123456789")) :]
    return number != "" and (number.endswith(digits) if len(digits) > 1 else number.lstrip("0") == digits)


def _unknown(text: str, standing: Standing) -> Scan:
    values: dict[str, object] = {"text": text[:40]}
    if text.isascii() and text.isdigit():
        fitting = [serial for serial in standing.open_serials if _ends_in(serial, text)]
        if len(fitting) > 1:
            return Scan(None, "scan.several", {**values, "first": fitting[0], "second": fitting[1]})
    return Scan(None, "scan.unknown", values)
