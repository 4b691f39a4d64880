"""Shows keys, values and faults of data files in words that a technician reads and a terminal takes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from zlib import crc32

from wiring.tomllines import KeyPath

LONGEST_VALUE = 60
LONGEST_TEXT = 400
_LONGEST_NAME = 80

_BARE = re.compile(r"[A-Za-z0-9_-]{1,60}")

_COMPLAINTS = {
    "missing": "is missing",
    "union_tag_not_found": "is missing",
    "extra_forbidden": "unknown key",
    "string_type": "must be text in quotes",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "finite_number": "must be a finite number",
    "greater_than": "too small",
    "greater_than_equal": "too small",
    "less_than": "too large",
    "less_than_equal": "too large",
    "string_too_short": "too short",
    "string_too_long": "too long",
    "string_pattern_mismatch": "is not written as it has to be",
    "enum": "is not a word known here",
    "literal_error": "is not a word known here",
    "union_tag_invalid": "is not a word known here",
    "model_type": "must be a table",
    "dict_type": "must be a table",
    "mapping_type": "must be a table",
    "tuple_type": "must be an array",
    "list_type": "must be an array",
    "too_short": "has too few entries",
    "too_long": "has too many entries",
}


def complaint(error_type: str, message: str) -> str:
    """Return what is wrong in plain words, or the validator's own `message` for what has no words here."""
    return _COMPLAINTS.get(error_type) or printable(message)


def printable(text: str, longest: int = LONGEST_TEXT) -> str:
    """Return text that cannot move a cursor, ring a bell, break a line or fill a screen."""
    safe = "".join(letter if letter.isprintable() else _escaped(letter) for letter in text[: longest + 1])
    if safe == text:
        return text  # as it was given, with its facts if it is a saying
    return safe if len(safe) <= longest else safe[: longest - 3] + "..."


def _escaped(letter: str) -> str:
    return letter.encode("unicode_escape", "backslashreplace").decode("ascii")


def shown(value: object) -> str:
    """Return a value of a TOML file as the user may have typed it, short and harmless."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{printable(value, LONGEST_VALUE)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"an array of {len(value)}"
    return printable(str(value), LONGEST_VALUE)


def key_text(path: KeyPath) -> str:
    """Return a path as text: `nest#2.led.line` is the key `line` of `led` in the second `[[nest]]`."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"#{part + 1}"
        else:
            text += f"{'.' if text else ''}{part if _BARE.fullmatch(part) else shown(part)}"
    return text


def near_miss(given: object, known: Sequence[str]) -> str:
    """Return `, did you mean X?` when `given` looks like a known word mistyped, else nothing."""
    close = get_close_matches(str(given)[:LONGEST_VALUE], known, n=1)
    return f", did you mean {close[0]}?" if close else ""


def safe_name(name: str) -> str:
    """A part of a file name that no serial can lead astray; what had to be changed is told apart by a number."""
    safe = re.sub(r"[^A-Za-z0-9._-]", "_", name)[:_LONGEST_NAME].lstrip(".")
    return safe if safe == name else f"{safe}-{crc32(name.encode('utf-8', 'surrogatepass')):08x}"
