"""What can be wrong with a data file, as data: the place, the fault, what was given and what is allowed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from pydantic import BaseModel, ValidationError

from wiring.limits import ABSENT, Limits, item_of, value_at
from wiring.plainwords import complaint, key_text, near_miss, printable, shown
from wiring.tomllines import KeyPath, LineMap

MOST_PROBLEMS_SHOWN = 50


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a data file; `line` is None where no line can be named."""

    file: str
    line: int | None
    key: str
    message: str
    given: str = ""
    allowed: str = ""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        key = f" {self.key}:" if self.key else ""
        given = f" (given {self.given})" if self.given else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        return f"{place}:{key} {self.message}{given}{allowed}"


class DataFileError(ValueError):
    """A data file cannot be used; its text has one line per problem."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        lines = [str(problem) for problem in self.problems[:MOST_PROBLEMS_SHOWN]]
        unseen = len(self.problems) - len(lines)
        return "\n".join(lines + ([f"... and {unseen} more"] if unseen else []))


class Contradiction(ValueError):
    """Keys that are right one by one but cannot be true together.

    `key_path` leads from the model that found it to the key to be changed. Without `given`, the value in the
    file is shown.
    """

    def __init__(
        self, key_path: KeyPath, message: str, *, given: str | None = None, allowed: str = ""
    ) -> None:
        super().__init__(message)
        self.key_path = key_path
        self.message = message
        self.given = given
        self.allowed = allowed


class ContradictionsError(ValueError):
    """All contradictions that one model found."""

    def __init__(self, found: tuple[Contradiction, ...]) -> None:
        super().__init__("; ".join(one.message for one in found))
        self.found = found


def refused(
    file: str, message: str, *, line: int | None = None, given: str = "", allowed: str = ""
) -> DataFileError:
    """Return the error for a file with a single problem that has no key."""
    return DataFileError((Problem(file, line, "", message, given, allowed),))


class Explainer:
    """Explains why the data of one file do not fit their model."""

    def __init__(self, file: str, text: str, data: Mapping[str, Any], model: type[BaseModel]) -> None:
        self._file = file
        self._data = data
        self._lines = LineMap(text)
        self._limits = Limits(model.model_json_schema(), data)

    def problems(self, error: ValidationError | None) -> tuple[Problem, ...]:
        """Return every problem in the order of the file, dates without quotes among them."""
        found = {problem.key: problem for problem in self._bare_dates()}
        contradictions: list[Problem] = []
        for detail in error.errors(include_url=False) if error else ():
            path = self._path_in_file(detail)
            cause = detail.get("ctx", {}).get("error")
            if isinstance(cause, Contradiction):
                contradictions.append(self._contradicted(cause, path))
            elif isinstance(cause, ContradictionsError):
                contradictions += [self._contradicted(one, path) for one in cause.found]
            elif not self._follows_from_others(detail, path):
                # A union complains once for each of its branches; one of them is enough.
                found.setdefault(key_text(path), self._invalid(detail, path))
        return tuple(sorted([*found.values(), *contradictions], key=lambda problem: problem.line or 0))

    def _problem(self, path: KeyPath, message: str, given: str, allowed: str) -> Problem:
        return Problem(self._file, self._lines.find(path), key_text(path), message, given, allowed)

    def _bare_dates(self) -> Iterator[Problem]:
        for path in _dates(self._data, ()):
            yield self._problem(
                path, "a date or time has no place here", self._given(path), self._limits.allowed(path)
            )

    def _contradicted(self, one: Contradiction, base: KeyPath) -> Problem:
        path = base + one.key_path
        given = self._given(path) if one.given is None else printable(one.given)
        return self._problem(path, printable(one.message), given, printable(one.allowed))

    def _invalid(self, detail: Any, path: KeyPath) -> Problem:
        cause = detail.get("ctx", {}).get("error")
        message = printable(str(cause)) if cause is not None else complaint(detail["type"], detail["msg"])
        allowed = self._limits.allowed(path)
        if detail["type"] == "extra_forbidden":
            known = self._limits.keys(path[:-1])
            message += near_miss(path[-1], known) or self._misplaced(path)
            allowed = ", ".join(known)
        elif words := self._limits.words(path):
            message += near_miss(value_at(path, self._data), words)
        return self._problem(path, message, self._given(path), allowed)

    def _misplaced(self, path: KeyPath) -> str:
        # Whatever stands below a [table] line belongs to it: the classic slip of a hand-edited TOML file.
        at_top = path[-1] in self._limits.keys(())
        return f", {path[-1]} belongs at the top, above the first [table]" if at_top else ""

    def _given(self, path: KeyPath) -> str:
        value = value_at(path, self._data)
        return "" if value is ABSENT else shown(value)

    def _follows_from_others(self, detail: Any, path: KeyPath) -> bool:
        # The validator does not count entries that are wrong themselves.
        value = value_at(path, self._data)
        return (
            detail["type"] == "too_short"
            and isinstance(value, list)
            and len(value) >= detail["ctx"]["min_length"]
        )

    def _path_in_file(self, detail: Any) -> KeyPath:
        """Drop from the validator's location what names a branch of a union and not a key of the file."""
        path: list[str | int] = []
        here: object = self._data
        location = detail["loc"]
        for position, part in enumerate(location, start=1):
            inner = item_of(here, part)
            if inner is not ABSENT:
                path.append(part)
                here = inner
            elif position == len(location) and detail["type"] == "missing":
                path.append(part)
        if detail["type"].startswith("union_tag"):
            path.append(detail["ctx"]["discriminator"].strip("'"))
        return tuple(path)


def _dates(value: object, path: KeyPath) -> Iterator[KeyPath]:
    if isinstance(value, date | time):
        yield path
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _dates(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _dates(inner, (*path, index))
