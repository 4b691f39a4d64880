"""What stands in the code of a label, and how a scan of it is taken apart again.

The message is one envelope of ISO/IEC 15434, format 06, whose elements begin with data identifiers of ISO/IEC 15418
(ANSI MH10.8.2): `[)>` RS `06` GS element GS element ... RS EOT. Ours holds the serial, and as far as there is room
order, sensor type and date: enough to find the record, which holds the rest.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

SERIAL, ORDER, TYPE, DATE = "S", "K", "1P", "9D"
"""Our data identifiers. 9D is a date in a form agreed between its users: ours is the day of the verdict, YYYYMMDD."""

LONGEST_SCAN = 2000

GS, RS, EOT = "\x1d", "\x1e", "\x04"
"""Separators of a message: of its elements, of its formats, and its end."""

HEAD = "[)>"
"""How every message of ISO/IEC 15434 begins."""
_FORMAT = "06"

# How scanners and terminals spell the separators when they do not send the control characters themselves:
# GS, RS, EOT. Common practice, no source.
_SPELLINGS = (
    (GS, RS, EOT),
    ("\u241d", "\u241e", "\u2404"),
    ("<GS>", "<RS>", "<EOT>"),
    ("{GS}", "{RS}", "{EOT}"),
    ("[GS]", "[RS]", "[EOT]"),
    ("^]", "^^", "^D"),
)
# A data identifier is one letter with up to three digits before it, so the longest that matches is the right one:
# 1T before T, 25S before 5S.
_ELEMENT = re.compile(r"(\d{0,3}[A-Z])(.+)")
_WRITABLE = re.compile(r"[ -~]+")
_DATE = re.compile(r"(\d{4})(\d{2})(\d{2})")


class UnreadableLabel(ValueError):
    """A scan is no label that can be trusted; its text says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Element:
    """One datum of a label behind its data identifier."""

    identifier: str
    data: str


@dataclass(frozen=True, slots=True)
class UnitCode:
    """What our labels say to a scanner; None: this label does not tell."""

    serial: str
    order: str | None = None
    sensor_type: str | None = None
    judged_on: date | None = None


def code_text(unit: UnitCode) -> str:
    """The message for the code of a unit's label.

    Raises ValueError for text that is not printable ASCII, which is all that every scanner passes on.
    """
    judged_on = None if unit.judged_on is None else f"{unit.judged_on:%Y%m%d}"
    data = ((SERIAL, unit.serial), (ORDER, unit.order), (TYPE, unit.sensor_type), (DATE, judged_on))
    return message(Element(identifier, text) for identifier, text in data if text is not None)


def unit_code(scanned: str) -> UnitCode:
    """What a scan of one of our labels says, in whatever order its elements stand; others are passed over.

    Raises `UnreadableLabel`.
    """
    data = {element.identifier: element.data for element in elements(scanned)}
    if SERIAL not in data:
        raise UnreadableLabel("this label names no serial (data identifier S): it is not one of a unit")
    return UnitCode(data[SERIAL], data.get(ORDER), data.get(TYPE), _day(data.get(DATE)))


def message(data: Iterable[Element]) -> str:
    """Elements as one message of format 06.

    Raises ValueError for an identifier or text that a message cannot hold.
    """
    return f"{HEAD}{RS}{_FORMAT}{''.join(map(_written, data))}{RS}{EOT}"


def _written(element: Element) -> str:
    whole = element.identifier + element.data
    found = _ELEMENT.fullmatch(whole)
    if not _WRITABLE.fullmatch(whole) or found is None or found[1] != element.identifier:
        raise ValueError(
            f"{element.data[:60]!r} cannot stand in a code behind {element.identifier!r}: printable ASCII only"
        )
    if any(separator in whole for spelling in _SPELLINGS for separator in spelling):
        raise ValueError(
            f"{element.data[:60]!r} cannot stand in a code: it looks like a separator to scanners"
        )
    return GS + whole


def elements(scanned: str) -> tuple[Element, ...]:
    """Take a scanned message apart, its separators being sent as they are or in one of the usual spellings.

    Raises `UnreadableLabel` for anything but one whole message of format 06: where separators are lost nobody can
    tell where a serial ends, so nothing is guessed.
    """
    if len(scanned) > LONGEST_SCAN:
        raise UnreadableLabel(f"{len(scanned)} characters came at once: this is no label of a unit")
    # Most scanners are set to end a scan with the Enter key.
    text = scanned.rstrip("\r\n")
    if not text.startswith(HEAD):
        raise UnreadableLabel(f"this code is no label after ISO/IEC 15434: it does not begin with {HEAD}")
    found = tuple(map(_read, _parts(text)))
    _check_once(found)
    return found


def _parts(text: str) -> Sequence[str]:
    for group, record, end in _SPELLINGS:
        begin = f"{HEAD}{record}{_FORMAT}{group}"
        if text.startswith(begin):
            # Some terminals swallow EOT, which ends their input; RS alone still tells that nothing is missing.
            body = text.removeprefix(begin).removesuffix(end)
            if not body.endswith(record):
                raise UnreadableLabel("the end of the label is missing; scan it again")
            body = body.removesuffix(record)
            if record in body:
                raise UnreadableLabel("this label holds more than one format; a unit's label holds 06 alone")
            return body.split(group)
    if text.removeprefix(HEAD).startswith(_FORMAT):
        raise UnreadableLabel(
            "the scanner has dropped the separators (GS, RS) of this label, so its texts run into one another; "
            "set the scanner to send control characters, or type the serial"
        )
    raise UnreadableLabel("this label is not of ISO/IEC 15434 format 06, or its separators came out wrong")


def _read(part: str) -> Element:
    found = _ELEMENT.fullmatch(part)
    if found is None or not _WRITABLE.fullmatch(part):
        raise UnreadableLabel(
            f"{part[:60]!r} on this label is no data identifier with text behind it; scan it again"
        )
    return Element(found[1], found[2])


def _check_once(found: Sequence[Element]) -> None:
    seen: set[str] = set()
    for element in found:
        if element.identifier in seen:
            raise UnreadableLabel(f"this label says {element.identifier} twice: which one holds is not known")
        seen.add(element.identifier)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        found = _DATE.fullmatch(text)
        if found is not None:
            return date(*map(int, found.groups()))
    except ValueError:
        pass
    raise UnreadableLabel(f"{text[:60]!r} on this label is no date (data identifier 9D, YYYYMMDD)")
