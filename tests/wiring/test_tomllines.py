"""Lines of keys: `tomllib` is the judge, as every value of the documents made here is its own line number."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wiring.tomllines import KeyPath, LineMap

# Everything that could mislead a scan when it stands in a string or a comment.
NOISE = "#=[]{},.\"'\\ abc1\u00e9\U0001f34e"
BARE = st.text("abcXYZ019_-", max_size=4)
NOISY = st.text(NOISE, max_size=6)


@dataclass
class Writer:
    """Writes a random document; each leaf is, or begins with, the number of its own line."""

    draw: st.DrawFn
    text: str = ""
    keys: int = 0
    repeated: list[str] = field(default_factory=list)

    @property
    def line(self) -> int:
        return self.text.count("\n") + 1

    def document(self) -> str:
        self.gap()
        self.pairs()
        for _ in range(self.draw(st.integers(0, 5))):
            self.header()
            self.pairs()
        return self.text

    def header(self) -> None:
        name, array = self.key(), self.draw(st.booleans())
        if self.repeated and self.draw(st.booleans()):
            item = self.draw(st.sampled_from(self.repeated))
            # One more item, or a table or array of tables inside the newest item.
            name, array = (item, True) if self.draw(st.booleans()) else (f"{item}.{name}", array)
        if array and name not in self.repeated:
            self.repeated.append(name)
        space = self.draw(st.sampled_from(["", " ", "\t"]))
        here = self.line
        opening, closing = ("[[", "]]") if array else ("[", "]")
        self.text += f"{opening}{space}{name}{space}{closing}"
        self.end()
        self.text += f"header = {here}\n"

    def pairs(self) -> None:
        for _ in range(self.draw(st.integers(0, 4))):
            self.text += self.draw(st.sampled_from(["", "  ", "\t"])) + self.key()
            self.text += self.draw(st.sampled_from(["=", " = ", "\t=  "]))
            self.value(depth=2, inline=False)
            self.end()

    def key(self) -> str:
        parts = [self.key_part() for _ in range(self.draw(st.sampled_from([1, 1, 1, 2, 3])))]
        return self.draw(st.sampled_from([".", " . "])).join(parts)

    def key_part(self) -> str:
        self.keys += 1
        kind = self.draw(st.sampled_from(["bare", "basic", "literal"]))
        if kind == "bare":
            return f"{self.keys}-{self.draw(BARE)}"
        if kind == "literal":
            return f"'{self.keys} {self.draw(NOISY).replace(chr(39), '')}'"
        return json.dumps(f"{self.keys} {self.draw(NOISY)}", ensure_ascii=False)

    def value(self, depth: int, inline: bool) -> None:
        kinds = ["number", "basic", "literal"]
        kinds += [] if inline else ["long basic", "long literal"]
        kinds += ["array", "inline table"] if depth else []
        kind = self.draw(st.sampled_from(kinds))
        here = self.line
        if kind == "number":
            self.text += str(here)
        elif kind == "basic":
            self.text += json.dumps(f"{here} {self.draw(NOISY)}", ensure_ascii=False)
        elif kind == "literal":
            self.text += f"'{here} {self.draw(NOISY).replace(chr(39), '')}'"
        elif kind == "long basic":
            body = self.draw(NOISY).replace("\\", "\\\\").replace('"""', "")
            tail = self.draw(st.sampled_from(["", "\n", '\\"', "\\\n  "]))
            self.text += (
                f'"""{here} \n [x]\n{body.rstrip(chr(34))}\ny = {tail}{self.draw(quotes(chr(34)))}"""'
            )
        elif kind == "long literal":
            body = self.draw(NOISY).replace("'", "")
            self.text += f"'''{here} \n[[x]]\n{body}\n{self.draw(quotes(chr(39)))}'''"
        elif kind == "array":
            self.array(depth - 1, inline)
        else:
            self.inline_table(depth - 1)

    def array(self, depth: int, inline: bool) -> None:
        self.text += "["
        count = self.draw(st.integers(0, 3))
        for index in range(count):
            self.gap(inline)
            self.value(depth, inline)
            self.gap(inline)
            self.text += "," if index < count - 1 or self.draw(st.booleans()) else ""
        self.gap(inline)
        self.text += "]"

    def inline_table(self, depth: int) -> None:
        self.text += "{"
        count = self.draw(st.integers(0, 3))
        for index in range(count):
            self.text += f" {self.key()} ="
            self.value(depth, inline=True)
            self.text += " ," if index < count - 1 else " "
        self.text += "}"

    def gap(self, inline: bool = False) -> None:
        for _ in range(0 if inline else self.draw(st.integers(0, 2))):
            self.text += self.draw(st.sampled_from(["", " "]))
            self.end()

    def end(self) -> None:
        comment = f" #{self.draw(NOISY)}" if self.draw(st.booleans()) else ""
        self.text += f"{comment}\n"


def quotes(mark: str) -> st.SearchStrategy[str]:
    return st.sampled_from(["", mark, mark * 2])


@st.composite
def documents(draw: st.DrawFn) -> str:
    return Writer(draw).document()


def leaves(value: object, path: KeyPath) -> Iterator[tuple[KeyPath, int]]:
    if isinstance(value, dict):
        if "header" in value:
            yield path, value["header"]
        for key, inner in value.items():
            if key != "header":
                yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    else:
        yield path, int(str(value).split()[0])


@given(documents())
def test_every_value_of_any_document_is_on_the_line_found_for_it(text: str) -> None:
    lines = LineMap(text)
    for path, line in leaves(tomllib.loads(text), ()):
        assert lines.find(path) == line, path


BY_EYE = r'''# title = "not this one"
title = "x" # [air]
text = """
[nest]
late = 1
""\"
"""
[air]
"a.b" . c = 1

[[nest]]
name = "A"
led = { line = "GPIO7" }
[[nest]]
[nest.led]
line = "GPIO7"
list = [ 1, # ]
  2,
  [
    3 ] ]

[late.inner]
[late]
x = 1'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("text",), 3),
        (("air",), 8),
        (("air", "a.b"), 9),
        (("air", "a.b", "c"), 9),
        (("nest",), 11),
        (("nest", 0), 11),
        (("nest", 0, "led", "line"), 13),
        (("nest", 1), 14),
        (("nest", 1, "name"), 14),
        (("nest", 1, "led"), 15),
        (("nest", 1, "led", "line"), 16),
        (("nest", 1, "led", "list", 0), 17),
        (("nest", 1, "led", "list", 1), 18),
        (("nest", 1, "led", "list", 2), 19),
        (("nest", 1, "led", "list", 2, 0), 20),
        (("nest", 1, "led", "list", 7), 17),
        (("late", "inner"), 22),
        (("late",), 23),
        (("late", "x"), 24),
        (("late", "inner", "nothing of the sort"), 22),
        (("nothing of the sort",), None),
        ((), None),
    ],
)
def test_lines_of_a_document_counted_by_eye(path: KeyPath, line: int | None) -> None:
    assert LineMap(BY_EYE).find(path) == line
    assert LineMap(BY_EYE.replace("\n", "\r\n")).find(path) == line
