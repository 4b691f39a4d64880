"""Sentences for people that still know their facts, so that they can be told in another language.

A sentence is English text like any other, and goes into records, papers and messages as such. Whoever speaks
another language finds the wording by `pattern` and puts the same `facts` into it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping


class Saying(str):
    """English text made of a wording with gaps and of what stands in them.

    Attributes:
        pattern: the wording, with a `{name}` for each fact.
        facts: what stands there: numbers, words, or sayings again.

    """

    pattern: str
    facts: Mapping[str, object]


def say(pattern: str, /, **facts: object) -> Saying:
    """Put facts into a wording: `say("unit draws {current_ma:.0f} mA", current_ma=31.4)`."""
    saying = Saying(pattern.format_map(facts))
    saying.pattern, saying.facts = pattern, facts
    return saying


def together(separator: str, parts: Iterable[str]) -> Saying:
    """Several sayings in a row."""
    facts = {f"part{number}": part for number, part in enumerate(parts)}
    return say(separator.join(f"{{{name}}}" for name in facts), **facts)


def said_by(error: BaseException) -> str:
    """The words of an error, as the saying that it was raised with."""
    words = error.args[0] if error.args else None
    return words if isinstance(words, Saying) else str(error)
