"""A data file being filled in: the data so far, and questions that its own model checks at once."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Container, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from rig.forms import answers
from rig.forms.interview import Interview, Question
from rig.schemas import schema_text
from wiring.limits import ABSENT, Limits, value_at
from wiring.plainwords import key_text
from wiring.problems import Explainer, Problem
from wiring.tomlfile import DataModel
from wiring.tomllines import KeyPath

FROM_DATA = object()

M = TypeVar("M", bound=DataModel)


class Form(Generic[M]):
    """One file of a kind that has a schema (`rig.schemas`), begun from a pattern that is good as it stands.

    So the model can look at the whole file after every answer, and its rules between keys hold from the start.
    What it says about keys that were not asked for yet is left for their turn.
    """

    def __init__(self, schema: str, model: type[M], pattern: dict[str, Any], interview: Interview) -> None:
        self.data = copy.deepcopy(pattern)
        self.interview = interview
        self.remarks: list[str] = []
        self.schema = json.loads(schema_text(schema))
        self._model = model
        self._asked: set[str] = set()

    def ask(
        self,
        *path: str | int,
        words: str = "",
        hint: str = "",
        default: Any = FROM_DATA,
        choices: Mapping[str, str] = MappingProxyType({}),
        optional: bool = False,
        parse: Callable[[str], Any] | None = None,
        check: Callable[[Any], Sequence[str]] = lambda _: (),
    ) -> Any:
        """Ask for the value at `path`, put it into the data and return it.

        The model's own description is the question, unless `words` are given; `hint` is added to it. An empty
        line means what the data hold there, or `default`. `choices` narrows the words that the model allows, each
        with a remark; a single one needs no question. None for what is `optional` takes the key out of the data.
        `check` tells what stands against a value although the model allows it.
        """
        if len(choices) == 1:
            return self._answered(path, next(iter(choices)))
        at_hand = value_at(path, self.data)
        limits = Limits(self.schema, self.data)
        if default is FROM_DATA:
            default = None if at_hand is ABSENT else at_hand
        reading, showing, listed = _ways(path, limits, choices)
        value = self.interview.ask(
            Question(
                key=key_text(path),
                words="\n".join(("", (words or limits.meaning(path)) + hint, *listed)),
                parse=parse or reading,
                check=lambda value: [*self._complaints(path, value), *check(value)],
                show=showing,
                default=default,
                optional=optional,
            )
        )
        return self._answered(path, value)

    def _answered(self, path: KeyPath, value: Any) -> Any:
        self.put(path, value)
        self._asked.add(key_text(path))
        return value

    def put(self, path: KeyPath, value: Any) -> None:
        """Put a value into the data without asking; None takes the key out."""
        put(self.data, path, value)

    def meaning(self, *path: str | int) -> str:
        """Return what the model says of the key at `path`."""
        return Limits(self.schema, self.data).meaning(path)

    def heading(self, *path: str | int) -> None:
        """Say what the next questions are about: the table at `path`."""
        self.interview.say(f"\n-- {self.meaning(*path)} --")

    def untouched(self) -> list[str]:
        """Return the keys that stand as in the pattern, nobody having been asked; whole tables by their names."""
        return [
            where
            for key, value in self.data.items()
            for where in ([key] if not self._touched(key) else self._untouched_in(key, value))
        ]

    def _untouched_in(self, key: str, table: Any) -> list[str]:
        inner = table if isinstance(table, dict) else {}
        return [where for name in inner if not self._touched(where := f"{key}.{name}")]

    def _touched(self, key: str) -> bool:
        return any(_concerns(key, asked) for asked in self._asked)

    def load(self) -> M:
        """Return the data as their model; every answer being good, only a rule between keys can stand against it."""
        return self._model.model_validate_json(json.dumps(self.data), strict=True)

    def problems(self, data: dict[str, Any]) -> tuple[Problem, ...]:
        """Return everything that the model has against some data."""
        try:
            self._model.model_validate_json(json.dumps(data), strict=True)
        except ValidationError as error:
            return Explainer("", "", data, self._model).problems(error)
        return ()

    def _complaints(self, path: KeyPath, value: Any) -> list[str]:
        data = copy.deepcopy(self.data)
        put(data, path, value)
        key = key_text(path)
        return [
            _complaint(problem, key)
            for problem in self.problems(data)
            if any(_concerns(problem.key, asked) for asked in (key, *self._asked))
        ]


def a_new_name(known: Container[str]) -> Callable[[str], Sequence[str]]:
    """Return a check that refuses a name that another file of the kind has."""
    return lambda name: ("another file has this name; allowed: a name of its own",) if name in known else ()


def choose(
    interview: Interview, key: str, words: str, choices: Mapping[str, str], default: str | None
) -> str:
    """Ask for one of several words that is no key of the file itself."""
    answer: str = interview.ask(
        Question(
            key=key,
            words="\n".join(("", words, *_lines(choices))),
            parse=partial(answers.one_of, list(choices)),
            check=lambda _: (),
            default=default,
        )
    )
    return answer


def put(data: dict[str, Any], path: KeyPath, value: Any) -> None:
    """Put a value into nested tables and arrays; None takes the key out."""
    here: Any = data
    for part in path[:-1]:
        here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
    if value is None:
        here.pop(path[-1], None)
    else:
        here[path[-1]] = value


def _concerns(key: str, asked: str) -> bool:
    shorter, longer = sorted((key, asked), key=len)
    return longer == shorter or longer.startswith((f"{shorter}.", f"{shorter}#"))


def _complaint(problem: Problem, key: str) -> str:
    elsewhere = "" if problem.key == key else f"{problem.key}: "
    return f"{elsewhere}{problem.message}; allowed: {problem.allowed}"


_Ways = tuple[Callable[[str], Any], Callable[[Any], str], Sequence[str]]


def _ways(path: KeyPath, limits: Limits, choices: Mapping[str, str]) -> _Ways:
    """Return how an answer is read, how a value is shown, and the lines that list the choices."""
    several = limits.types(path) == ["array"]
    listed = choices or dict.fromkeys(limits.words((*path, 0) if several else path), "")
    if several and not listed:
        return answers.texts, ", ".join, ()
    if several:
        return partial(answers.some_of, list(listed)), ", ".join, _lines(listed)
    if listed:
        return partial(answers.one_of, list(listed)), str, _lines(listed)
    if limits.types(path) == ["boolean"]:
        return answers.yes_or_no, answers.show_yes_or_no, ("  y or n",)
    if limits.types(path)[:1] in (["number"], ["integer"]):
        return partial(answers.number, str(path[-1])), answers.show_figure, ()
    return answers.text, str, ()


def _lines(choices: Mapping[str, str]) -> list[str]:
    width = max(map(len, choices))
    return [
        f"  {number} {word:<{width}}  {remark}".rstrip()
        for number, (word, remark) in enumerate(choices.items(), start=1)
    ]
