"""The JSON Schemas of the data files: current, complete in words, and of one mind with the models."""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError as Mismatch
from pydantic import ValidationError

from rig.cli.main import main
from rig.library import Section
from rig.schemas import SCHEMAS, schema_text
from rig.schemas.generate import _MODELS, generated
from rig.schemas.keys import PAGE, page
from wiring.shipped import shipped_files

SCHEMA = {name: json.loads(schema_text(name)) for name in SCHEMAS}
SECTIONS = {
    "order": Section.ORDERS,
    "type": Section.TYPES,
    "rig": Section.RIGS,
    "bench": Section.BENCHES,
    "label": Section.LABELS,
    "rates": Section.RATES,
    "receiving": Section.RECEIVING,
}
FILES = [(name, path) for name, section in SECTIONS.items() for path in section.shipped().values()]
DATA = [(name, tomllib.loads(path.read_text(encoding="utf-8"))) for name, path in FILES]

UNITS = {
    "_mm_s": "mm per second",
    "_m_s": "m/s",
    "_mm": "mm",
    "_m": "in m",
    "_s": "second",
    "_hz": "per second",
    "_khz": "kHz",
    "_c": "degrees C",
    "_percent_per_k": "% of distance per kelvin",
    "_k": "in K",
    "_c_per_hour": "degrees C per hour",
    "_percent": "%",
    "_deg": "degrees",
    "_v": "in V",
    "_a": "in A",
    "_ohm": "ohms",
    "_kpa": "kPa",
}


def all_keys(name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    for table in (SCHEMA[name], *SCHEMA[name]["$defs"].values()):
        yield from table.get("properties", {}).items()


@pytest.mark.parametrize("name", SCHEMAS)
def test_is_current(name: str) -> None:
    assert SCHEMA[name] == json.loads(generated(name)), "run: python -m rig.schemas.generate"


def test_the_page_of_keys_is_that_of_the_schemas() -> None:
    written = files("rig.schemas").joinpath(PAGE).read_text(encoding="utf-8")
    assert written == page(), "run: python -m rig.schemas.generate"


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_page_tells_of_every_key(name: str) -> None:
    told = set(re.findall(r"`(\w+)` \||[.\[`](\w+)(?=[.\]])", page()))
    keys = {key for table in _tables(SCHEMA[name]) for key in table.get("properties", {})}
    assert len(keys) > 5
    assert keys - {word for pair in told for word in pair} == set()


def _tables(schema: object) -> Iterator[dict[str, Any]]:
    if isinstance(schema, dict):
        yield schema
        for inner in schema.values():
            yield from _tables(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from _tables(inner)


@pytest.mark.parametrize("name", SCHEMAS)
def test_is_a_schema_that_leads_to_no_network_host(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMA[name])
    assert SCHEMA[name]["$id"] == f"urn:teachrig:schema:{name}:1"
    hosts = set(re.findall(r"\w+://[^/\"]+", schema_text(name)))
    assert hosts == {"https://json-schema.org"}  # the standard's own name for itself


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_key_is_described_with_its_unit(name: str) -> None:
    for key, about in all_keys(name):
        unit = next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")
        assert len(about.get("description", "")) > 5, key
        assert unit in about["description"], key


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_figure_has_its_limits(name: str) -> None:
    for key, about in all_keys(name):
        if about.get("type") in ("number", "integer"):
            assert {"minimum", "exclusiveMinimum"} & about.keys(), key
            assert {"maximum", "exclusiveMaximum"} & about.keys(), key


def test_patterns_are_there_for_editors() -> None:
    assert SCHEMA["rig"]["$defs"]["InputLine"]["properties"]["line"]["pattern"].startswith("^GPIO")
    assert "pattern" in SCHEMA["order"]["properties"]["number"]
    assert "pattern" in SCHEMA["order"]["$defs"]["Setting"]["properties"]["reference_designation"]
    assert "pattern" in SCHEMA["type"]["properties"]["name"]


@pytest.mark.parametrize("name", SCHEMAS)
def test_toml_has_no_null(name: str) -> None:
    assert "null" not in re.findall(r'"?(\w+)"?', schema_text(name))


@pytest.mark.parametrize(("name", "path"), FILES, ids=[f"{name}-{path.stem}" for name, path in FILES])
def test_every_shipped_file_fits(name: str, path: Path) -> None:
    Draft202012Validator(SCHEMA[name]).validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("path", shipped_files("hal.simulated", "kinds").values(), ids=lambda path: path.stem)
def test_every_shipped_kind_fits_what_a_bench_file_may_hold(path: Path) -> None:
    kinds = {"$ref": "#/$defs/UnitKind", "$defs": SCHEMA["bench"]["$defs"]}
    Draft202012Validator(kinds).validate(tomllib.loads(path.read_text(encoding="utf-8")))


WRONG = [
    ("order", {"quantity": 0}),
    ("order", {"quantitty": 3}),
    ("order", {"number": "a b"}),
    ("order", {"setting": {"output_type": "PNPN"}}),
    ("type", {"teach_method": "by-ear"}),
    ("type", {"led": {"accepted": {"kind": "unclear"}}}),
    ("type", {"sequence": [{"mode": "window", "steps": [{"do": "dance"}]}]}),
    ("rig", {"nest": []}),
    ("rig", {"foot_switch": {"line": "GPIO99"}}),
    ("bench", {"unit": [{"count": 0}]}),
    ("bench", {"fault": [{"kind": "earthquake"}]}),
    ("label", {"use": "perhaps"}),
    ("label", {"code": {"kind": "stripes"}}),
    ("label", {"field": []}),
]


@pytest.mark.parametrize(("name", "edit"), WRONG, ids=lambda value: str(value)[:40])
def test_a_wrong_edit_is_caught_in_the_editor(name: str, edit: dict[str, Any]) -> None:
    good = next(data for kind, data in DATA if kind == name)
    with pytest.raises(Mismatch):
        Draft202012Validator(SCHEMA[name]).validate({**good, **edit})


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield (*path, key)
        yield from places(item, (*path, key))


VALUES = st.one_of(
    st.integers(-10, 20000), st.floats(-1, 1e4), st.booleans(), st.text(max_size=5), st.just([]), st.just({})
)


@given(st.data())
def test_an_editor_never_complains_of_what_the_program_takes(data: st.DataObject) -> None:
    name, good = data.draw(st.sampled_from(DATA))
    edited = copy.deepcopy(good)
    for path in data.draw(st.lists(st.sampled_from(list(places(good))), min_size=1, max_size=2)):
        change(edited, path, data.draw(st.sampled_from(["drop", "double", "halve"]) | VALUES))
    try:
        _MODELS[name].model_validate_json(json.dumps(edited), strict=True)
    except ValidationError:
        return
    Draft202012Validator(SCHEMA[name]).validate(edited)


def change(data: Any, path: tuple[Any, ...], how: Any) -> None:
    *way, last = path
    for part in way:
        if not isinstance(data, dict | list) or (isinstance(data, list) and part not in range(len(data))):
            return
        data = data[part] if isinstance(data, list) else data.get(part)
    if not (last in data if isinstance(data, dict) else isinstance(data, list) and last in range(len(data))):
        return
    if how == "drop":
        del data[last]
    elif how in ("double", "halve"):
        if isinstance(data[last], int | float) and not isinstance(data[last], bool):
            data[last] *= 2 if how == "double" else 0.5
    else:
        data[last] = how


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_command_prints_it_alone(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", name]) == 0
    told = capsys.readouterr()
    assert told.out == schema_text(name)
    assert told.err == ""


def test_an_unknown_kind_is_told_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["schema", "poster"])
    assert end.value.code == 2
    assert (
        "given 'poster'; allowed: order, type, rig, bench, rates, label, receiving" in capsys.readouterr().err
    )
