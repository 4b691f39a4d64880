"""JSON that a terminal takes: nothing in it can move a cursor or turn a line around, and no letter is lost."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from typing import Any


def json_text(data: Any) -> str:
    """Data as JSON; letters as they are, whatever cannot be printed as an escape of JSON's own."""
    text = json.dumps(data, indent=2, ensure_ascii=False)
    return "".join(_harmless(text)) if not text.replace("\n", "").isprintable() else text


def print_json(data: Any) -> None:
    """Data for a program, on standard output."""
    text = json_text(data)
    try:
        text.encode(sys.stdout.encoding)
    except UnicodeEncodeError:
        text = json.dumps(data, indent=2)  # in ASCII, nothing is lost
    print(text)


def _harmless(text: str) -> Iterable[str]:
    # Outside of strings JSON holds nothing that could not be printed, so that an escape is right wherever it is put.
    for letter in text:
        if letter.isprintable() or letter == "\n":
            yield letter
        else:
            yield "\\u007f" if letter == "\x7f" else json.dumps(letter)[1:-1]
