"""Asks one question after another, goes back on request, and never asks twice what is answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NoReturn, Protocol, TypeVar

BACK = "<"
NOTHING = "-"

_T = TypeVar("_T")


class Left(Exception):
    """The person has left before the end: no line is to be had any more."""


class NotUnderstood(ValueError):
    """An answer that cannot be read; the text says what can."""


class Terminal(Protocol):
    """Whoever sits at the other end."""

    def say(self, words: str) -> None:
        """Show a line."""

    def read(self, prompt: str) -> str:
        """Show a prompt and return the line that is typed; raises `Left` at the end of input."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked.

    Attributes:
        key: names the answer; a question that comes again under the same key offers the last answer.
        words: the question, in one or more lines.
        parse: makes a value of what is typed; raises `NotUnderstood`.
        check: what stands against a value, nothing if it is good.
        show: a value as a person would type it.
        default: what an empty line means; None if it means nothing.
        optional: whether there may be no value, which is None.

    """

    key: str
    words: str
    parse: Callable[[str], Any]
    check: Callable[[Any], Sequence[str]]
    show: Callable[[Any], str] = str
    default: Any = None
    optional: bool = False


class _GoBack(Exception):
    """Some answers were taken back: what follows from the rest has to be gone through again."""


class Interview:
    """Questions whose course depends on the answers.

    The course is a function that asks. After a step back it is called again from the top: answers that
    still stand are given to it without asking.
    """

    def __init__(self, terminal: Terminal) -> None:
        self._terminal = terminal
        self._answers: list[tuple[str, Any]] = []
        self._taken_back: dict[str, Any] = {}
        self._position = 0

    def conduct(self, course: Callable[[Interview], _T]) -> _T:
        """Go through the course until it comes to its end; raises `Left` if the person leaves before."""
        while True:
            self._position = 0
            try:
                return course(self)
            except _GoBack:
                continue

    def ask(self, question: Question) -> Any:
        """Return the answer, asking for it until it is good."""
        if self._position == len(self._answers):
            self._answers.append((question.key, self._good_answer(question)))
        self._position += 1
        return self._answers[self._position - 1][1]

    def say(self, words: str) -> None:
        """Tell the person something, once: not again when the course comes past here with answers that stand."""
        if self._position == len(self._answers):
            self._terminal.say(words)

    def ask_again(self, *keys: str, offers: Mapping[str, Any] = MappingProxyType({})) -> NoReturn:
        """Take back the answer to the first of these keys that was asked, else the last, and all after it.

        When their questions come again, what `offers` holds for them is offered, else the last answer.
        """
        asked = [key for key, _ in self._answers]
        first = next((asked.index(key) for key in keys if key in asked), len(asked) - 1)
        self._taken_back |= {**dict(self._answers[first:]), **offers}
        del self._answers[first:]
        raise _GoBack

    def go_back(self) -> NoReturn:
        """Take back the last answer; does not return."""
        self.ask_again()

    def _good_answer(self, question: Question) -> Any:
        default = self._taken_back.get(question.key, question.default)
        if default is not None and question.check(default):
            default = None
        self._terminal.say(question.words)
        prompt = _prompt(question, default)
        while True:
            typed = self._terminal.read(prompt).strip()
            if typed == BACK and self._answers:
                self.go_back()
            try:
                value = _value(question, typed, default)
            except NotUnderstood as reason:
                self._terminal.say(f"  {reason}")
                continue
            complaints = () if value is None else question.check(value)
            for complaint in complaints:
                self._terminal.say(f"  {complaint}")
            if not complaints:
                return value


def _prompt(question: Question, default: Any) -> str:
    if default is not None:
        none = f", {NOTHING} for none" if question.optional else ""
        return f"  [{question.show(default)}{none}] > "
    return "  [none] > " if question.optional else "  > "


def _value(question: Question, typed: str, default: Any) -> Any:
    if typed == BACK:
        raise NotUnderstood("this is the first question")
    if question.optional and (typed == NOTHING or (not typed and default is None)):
        return None
    if typed:
        return question.parse(typed)
    if default is None:
        raise NotUnderstood("an answer is needed here")
    return default
