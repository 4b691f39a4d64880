"""Makes the JSON Schemas from the models, and the page of all keys: `python -m rig.schemas.generate`."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from hal.simulated.benchfile import BenchFile
from rig.papers.label_template import LabelTemplate
from rig.risk.rates import Rates
from rig.schemas import SCHEMAS, file_name
from rig.schemas.keys import PAGE, page
from sequences.order import Order
from sequences.receiving import ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.tomlfile import DataModel

_MODELS: Mapping[str, type[DataModel]] = {
    "order": Order,
    "type": SensorType,
    "rig": RigProfile,
    "bench": BenchFile,
    "label": LabelTemplate,
    "rates": Rates,
    "receiving": ReceivingPlan,
}

_COMMENT = (
    "For editors that know JSON Schema for TOML: save this beside your files (teachrig schema {name} > {file}) and "
    "name it in the editor's settings or, where the editor takes it, in the first line of a file, #:schema ./{file}. "
    "Rules between keys are not in here; teachrig validate checks those too."
)


def generated(name: str) -> str:
    """Return the JSON Schema (2020-12) of one kind of data file, made from its model."""
    schema = _for_toml(_MODELS[name].model_json_schema())
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:teachrig:schema:{name}:1",
        "$comment": _COMMENT.format(name=name, file=file_name(name)),
    }
    return json.dumps({**head, **schema}, indent=2, ensure_ascii=False) + "\n"


def _for_toml(schema: Mapping[str, Any]) -> dict[str, Any]:
    """Return a schema without what TOML does not know (null) and what no editor needs (names of classes)."""
    kept = {key: _inner(key, value) for key, value in schema.items() if key not in ("title", "discriminator")}
    if kept.get("default", ...) in (None, {}):
        del kept["default"]
    branches = [branch for branch in kept.get("anyOf", ()) if branch.get("type") != "null"]
    if len(branches) != 1:
        return kept
    notes = {key: value for key, value in kept.items() if key != "anyOf"}
    return {**branches[0], **notes, **_both_described(notes, branches[0])}


def _inner(key: str, value: Any) -> Any:
    if key == "default" and isinstance(value, dict):
        return {name: inner for name, inner in value.items() if inner is not None}
    if key in ("properties", "$defs"):
        return {name: _for_toml(inner) for name, inner in value.items()}
    if isinstance(value, dict):
        return _for_toml(value)
    if isinstance(value, list):
        return [_for_toml(item) if isinstance(item, dict) else item for item in value]
    return value


def _both_described(outer: Mapping[str, Any], inner: Mapping[str, Any]) -> dict[str, str]:
    """What a key means, and where its value has a form of its own, that form too."""
    told = [one["description"] for one in (outer, inner) if "description" in one]
    if "pattern" not in inner:
        told = told[:1]
    return {"description": "; ".join(told)} if told else {}


def main() -> None:
    """Write all schemas, and the page of their keys, to where they are shipped from."""
    for name in SCHEMAS:
        Path(__file__).with_name(file_name(name)).write_text(generated(name), encoding="utf-8")
    Path(__file__).with_name(PAGE).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
