"""Reading TOML into models: strictness, plain words for every fault, full paths, all faults at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal, Self

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import AfterValidator, Field, ValidationError, model_validator

from tests.badfiles import only_problem, problems_of
from wiring.tomlfile import Contradiction, DataFileError, DataModel, load_toml_model, parse_toml_model


class Colour(StrEnum):
    RED = "red"
    GREEN = "green"


class Turn(DataModel):
    do: Literal["turn"]
    angle_deg: Annotated[float, Field(ge=-90, lt=90)]


class Wait(DataModel):
    do: Literal["wait"]
    time_s: Annotated[float, Field(gt=0, description="seconds of rest")]
    angle_deg: Literal["none"] = "none"


class Span(DataModel):
    low: float
    high: float

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low > self.high:
            raise Contradiction(("low",), "lies above high", allowed=f"up to {self.high:g}")
        return self


def _no_spaces(text: str) -> str:
    if " " in text:
        raise ValueError("a space has no place here")
    return text


class Machine(DataModel):
    name: Annotated[str, Field(pattern="^[a-z]+$", max_length=8)] = "a"
    count: Annotated[int, Field(ge=1)] = 1
    weight_kg: float | None = None
    size: Annotated[float, Field(gt=0)] | Literal["auto"] = "auto"
    colour: Colour = Colour.RED
    fast: bool = False
    label: Annotated[str, AfterValidator(_no_spaces)] = ""
    span: Span | None = None
    spans: Mapping[str, Span] = {}
    reach: tuple[float, float] = (0.0, 1.0)
    tags: Annotated[tuple[str, ...], Field(min_length=1)] = ("x",)
    steps: tuple[Annotated[Turn | Wait, Field(discriminator="do")], ...] = ()

    def contradictions(self) -> Iterator[Contradiction]:
        if self.fast and self.count > 3:
            yield Contradiction(("count",), "too many to be fast", allowed="up to 3 with fast = true")
        if self.fast and self.colour is Colour.GREEN:
            yield Contradiction(("colour",), "green is slow", given="gr\x1b[2Jeen", allowed="red")
        if self.fast and len(self.steps) > 1:
            yield Contradiction(("steps", 1, "do"), "one step is enough", allowed="one step")


def parse(text: str) -> Machine:
    return parse_toml_model(text, "m.toml", Machine, what="machine")


FAULTS = (Path(__file__).parent / "faults.txt").read_text(encoding="utf-8").strip().split("\n\n")[1:]


@pytest.mark.parametrize("block", FAULTS, ids=lambda block: block.partition("\n")[0])
def test_a_fault_is_told_in_one_plain_line(block: str) -> None:
    text, _, message = block.rpartition("\n")
    assert str(only_problem(lambda: parse(text))) == message


def test_what_is_written_rightly_is_read_as_written() -> None:
    machine = parse(
        'name = "a"\nweight_kg = 3\nsize = 2\ncolour = "green"\nreach = [1, 2.5]\n'
        'spans = { x = { low = 1, high = 2 } }\nsteps = [{ do = "turn", angle_deg = 1 }]\n'
    )
    assert machine == Machine(
        name="a",
        weight_kg=3.0,
        size=2.0,
        colour=Colour.GREEN,
        reach=(1.0, 2.5),
        spans={"x": Span(low=1.0, high=2.0)},
        steps=(Turn(do="turn", angle_deg=1.0),),
    )
    assert isinstance(machine.weight_kg, float)
    assert machine.colour is Colour.GREEN


def test_all_faults_are_told_at_once_in_the_order_of_the_file() -> None:
    text = (
        'name = "A"\ncount = 0\nunheard = 1\nfast = 2020-01-01\nreach = [1]\n'
        '[span]\nlow = 2\nhigh = 1\n[[steps]]\ndo = "turn"\nangle_deg = nan\n'
    )
    problems = problems_of(lambda: parse(text))
    assert [(problem.line, problem.key) for problem in problems] == [
        (1, "name"),
        (2, "count"),
        (3, "unheard"),
        (4, "fast"),
        (5, "reach#2"),
        (7, "span.low"),
        (11, "steps#1.angle_deg"),
    ]


def test_all_contradictions_of_one_table_are_told_at_once() -> None:
    text = 'name = "a"\nfast = true\ncount = 9\ncolour = "green"\n'
    assert [problem.key for problem in problems_of(lambda: parse(text))] == ["count", "colour"]


def test_an_entry_that_is_wrong_itself_is_not_also_counted_as_lacking() -> None:
    problem = only_problem(lambda: parse('name = "a"\ntags = [1]\n'))
    assert problem.key == "tags#1"


def test_a_value_is_shown_short() -> None:
    text = f'name = "{"a" * 5000}"\n'
    problem = only_problem(lambda: parse(text))
    assert problem.message == "too long"
    assert len(problem.given) <= 62
    assert len(str(only_problem(lambda: parse(f'name = "a"\n{"b" * 5000} = 1\n')))) < 300


def test_hundreds_of_faults_do_not_flood_the_terminal() -> None:
    text = 'name = "a"\n' + "".join(f"unheard_{number} = 1\n" for number in range(300))
    with pytest.raises(DataFileError) as caught:
        parse(text)
    lines = str(caught.value).splitlines()
    assert len(caught.value.problems) == 300
    assert len(lines) == 51
    assert lines[-1] == "... and 250 more"


def test_a_model_made_in_code_obeys_the_same_rules() -> None:
    with pytest.raises(ValidationError, match="too many to be fast"):
        Machine(name="a", fast=True, count=4)
    machine = Machine(name="a")
    with pytest.raises(ValidationError):
        machine.count = 2
    with pytest.raises(ValidationError):
        Machine.model_validate({"name": "a", "weight_kg": float("inf")})


def test_a_relative_path_is_named_as_it_was_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("m.toml").write_text("name = 1\n", encoding="utf-8")
    problem = only_problem(lambda: load_toml_model(Path("m.toml"), Machine, what="machine"))
    assert str(problem).startswith("m.toml:1: name: ")


def test_a_file_of_a_million_bytes_is_read_and_one_byte_more_is_not(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_bytes(b"count = 2\n".ljust(1_000_000, b"\n"))
    assert load_toml_model(path, Machine, what="machine").count == 2
    path.write_bytes(b"count = 2\n".ljust(1_000_001, b"\n"))
    assert only_problem(lambda: load_toml_model(path, Machine, what="machine")).given == "1000001 bytes"


def check_outcome(text: str) -> None:
    """Assert that the text is read, or refused with problems that have lines and that a terminal can show."""
    try:
        parse(text)
    except DataFileError as error:
        refusal = error
    else:
        return
    assert refusal.problems
    assert all(line.isprintable() for line in str(refusal).split("\n"))
    last_line = text.count("\n") + 1
    assert all(problem.line is None or 1 <= problem.line <= last_line for problem in refusal.problems)


VALUES = st.recursive(
    st.sampled_from(
        ["1", "-2.5", "nan", "true", '"a"', "'turn'", '"""x\ny"""', "2020-01-01", "0x1F", "1e400"]
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(st.sampled_from(["do", "low", "high", "x"]), inner, max_size=3).map(
            lambda table: "{" + ", ".join(f"{key} = {value}" for key, value in table.items()) + "}"
        ),
    ),
    max_leaves=6,
)


@given(st.dictionaries(st.sampled_from([*Machine.model_fields, "unheard"]), VALUES))
def test_any_value_under_any_key_is_read_or_refused(table: dict[str, str]) -> None:
    check_outcome("\n".join(f"{key} = {value}" for key, value in table.items()))


@given(st.text(max_size=60), st.integers(0, 200), st.integers(0, 30))
def test_any_damage_to_a_good_file_is_read_or_refused(junk: str, at: int, cut: int) -> None:
    good = 'name = "a"\nreach = [1, 2]\n[span]\nlow = 1\nhigh = 2\n[[steps]]\ndo = "turn"\nangle_deg = 5\n'
    check_outcome(good[:at] + junk + good[at + cut :])


@given(st.text(), st.sampled_from(list(Machine.model_fields)))
def test_any_text_as_key_or_value_is_harmless_on_a_terminal(text: str, key: str) -> None:
    quoted = "".join(f"\\U{ord(letter):08X}" for letter in text if not "\ud800" <= letter <= "\udfff")
    check_outcome(f'{key} = "{quoted}"\n["{quoted}"]\n"{quoted}" = 1\n')
