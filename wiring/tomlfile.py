"""Reads a TOML file into a frozen model, or says in one go everything that is wrong with it and where.

Every data file of the rig (profile, sensor type, order, simulated bench) comes in through `load_toml_model`.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator

from wiring.filetext import text_of
from wiring.plainwords import LONGEST_VALUE, printable
from wiring.problems import (
    Contradiction,
    ContradictionsError,
    DataFileError,
    Explainer,
    Problem,
    refused,
)

__all__ = [
    "Contradiction",
    "DataFileError",
    "DataModel",
    "Problem",
    "load_toml_model",
    "parse_toml_model",
]

DEEPEST_NESTING = 32

M = TypeVar("M", bound=BaseModel)


class DataModel(BaseModel):
    """A table of a data file: frozen, no unknown keys, no infinite numbers.

    Rules between keys go into `contradictions`, so that all of them are reported together; a validator that
    raises a `Contradiction` works too.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield everything that cannot be true together; asked once every key is right by itself."""
        return iter(())

    @model_validator(mode="after")
    def _free_of_contradictions(self) -> Self:
        found = tuple(self.contradictions())
        if found:
            raise ContradictionsError(found)
        return self


def load_toml_model(path: Path, model: type[M], *, what: str) -> M:
    """Read the file at `path` as `model`; `what` names the kind of file in messages ("rig profile").

    Raises `DataFileError` for a file that cannot be read, is not TOML or does not fit the model.
    """
    file = printable(str(path))
    return parse_toml_model(text_of(path, file, what), file, model, what=what)


def parse_toml_model(text: str, file_name: str, model: type[M], *, what: str = "file") -> M:
    """Read TOML text as `model`; `file_name` is only named in messages. Raises `DataFileError`."""
    data = _parsed(text, file_name)
    if not data:
        needed = ", ".join(key for key, field in model.model_fields.items() if field.is_required())
        raise refused(file_name, "is empty", allowed=f"a {what} with {needed}")
    dates: list[object] = []
    fault: ValidationError | None = None
    try:
        # The strict rules for JSON fit TOML: arrays for tuples, words for enums, nothing else is converted.
        loaded = model.model_validate_json(_as_json(data, dates), strict=True)
    except ValidationError as error:
        fault = error
    else:
        if not dates:
            return loaded
    raise DataFileError(Explainer(file_name, text, data, model).problems(fault))


def _as_json(data: dict[str, Any], dates: list[object]) -> str:
    """Return the data as JSON; dates and times, which no file of the rig may hold, are added to `dates`."""

    def set_aside(value: object) -> str:
        dates.append(value)
        return str(value)

    return json.dumps(data, default=set_aside)


def _parsed(text: str, file: str) -> dict[str, Any]:
    data: dict[str, Any] | None = None
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, file) from None
    except RecursionError:
        pass
    except ValueError:  # Python refuses to convert integers of thousands of digits
        raise refused(file, "holds an endless number", allowed="numbers of a few digits") from None
    if data is None or _nested_deeper(data, DEEPEST_NESTING):
        raise refused(file, "is nested too deeply", allowed=f"up to {DEEPEST_NESTING} levels")
    return data


def _nested_deeper(data: dict[str, Any], levels: int) -> bool:
    layer: list[Any] = [data]
    for _ in range(levels):
        inner = [item for outer in layer for item in (outer.values() if isinstance(outer, dict) else outer)]
        layer = [item for item in inner if isinstance(item, dict | list)]
    return bool(layer)


def _not_toml(parser_words: str, text: str, file: str) -> DataFileError:
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", parser_words)
    number = int(place[1]) if place and place[1] else text.rstrip().count("\n") + 1
    reason = parser_words[: place.start()] if place else parser_words
    given = text.split("\n")[number - 1].strip()
    message, allowed = f"is not TOML: {printable(reason)}", "key = value, [table], [[table]], # comment"
    for start, looks_like, plain, right in _SLIPS:
        if reason.startswith(start) and re.search(looks_like, given):
            message, allowed = plain, right
    return refused(file, message, line=number, given=printable(given, LONGEST_VALUE), allowed=allowed)


# Start of the parser's words, what the line looks like, what is wrong in plain words, what is right.
_SLIPS = (
    (
        "Invalid value",
        "",
        "the value cannot be read",
        "a number, true, false, text in quotes, [array], {table}",
    ),
    ("Expected newline", r"=\s*[+-]?\d+,\d", "a decimal comma", "a decimal point, as in 0.5"),
    ("Cannot overwrite", "", "this key has a value already", "each key once"),
    ("Cannot declare", "", "this table is there already", "each [table] once; only a [[table]] repeats"),
)
