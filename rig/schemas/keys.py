"""Every key of every data file on one page: what it means, what may stand there, what holds where it is left out."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from rig.schemas import SCHEMAS, schema_text
from wiring.limits import in_words
from wiring.plainwords import shown

PAGE = "KEYS.md"

Schema = Mapping[str, Any]

_HEAD = """\
# Data files, key by key

All of them are TOML. A file of yours lies in the folder named below, in your user configuration folder (or under
`TEACHRIG_HOME`), and is called by its name without `.toml`; a path does as well. The shipped files are examples to
copy; `teachrig new` asks for an order, a sensor type or a rig profile and writes the file. `teachrig validate FILE`
says what is wrong in one, and where; it knows the rules between keys too, which are not told here.

Where the last column is empty, the key may be left out, and nothing stands in its place. This page is made from the
models that check the files (`python -m rig.schemas.generate`).
"""
_KINDS = {
    "order": ("Orders", "orders", "sequences/orders"),
    "type": ("Sensor types", "types", "sequences/types"),
    "rig": ("Rig profiles", "rigs", "wiring/profiles"),
    "bench": ("Simulated benches", "benches", "hal/simulated/benches"),
    "rates": ("Rates of faults", "rates", "rig/risk/rates"),
    "label": ("Label templates", "labels", "rig/papers/labels"),
    "receiving": ("Receiving plans", "receiving", "sequences/receiving"),
}


def page() -> str:
    """The page, from the schemas as they are shipped."""
    return "\n".join([_HEAD, *(_kind(name) for name in SCHEMAS)])


def _kind(name: str) -> str:
    title, folder, examples = _KINDS[name]
    root = json.loads(schema_text(name))
    head = f"## {title}\n\nIn `{folder}/`; examples in [`{examples}/`](../../{examples}).\n"
    return "\n".join([head, *_table(root, root, "", {})])


def _table(root: Schema, table: Schema, name: str, told: dict[str, str]) -> Iterator[str]:
    """One table of a file, then those within it; `told`: where tables of the same keys stand already."""
    keys = {key: _whole(root, schema) for key, schema in table.get("properties", {}).items()}
    inner = {key: list(_tables_in(root, schema)) for key, schema in keys.items()}
    needed = table.get("required", ())
    rows = [_row(key, schema, needed=key in needed) for key, schema in keys.items() if not inner[key]]
    same_as = told.setdefault("\n".join((*rows, *inner)), name)
    if same_as != name:
        yield f"Keys as those of `[{same_as}]`.\n"
        return
    if rows:
        yield "| key | what it means | what may stand there | left out |\n|---|---|---|---|"
        yield from rows
        yield ""
    for key, found in inner.items():
        for shape, below, tag in found:
            path = f"{name}.{key}" if name else key
            yield f"### `{shape.format(path)}`{tag}\n\n{_sentence(keys[key], needed=key in needed)}\n"
            yield from _table(root, below, shape.strip("[]").format(path), told)


def _sentence(schema: Schema, *, needed: bool) -> str:
    meaning = schema.get("description", "")
    return f"{meaning[:1].upper()}{meaning[1:]}{'' if needed else '; may be left out'}."


def _tables_in(root: Schema, schema: Schema) -> Iterator[tuple[str, Schema, str]]:
    """The tables that stand under a key: how each is written, what is in it, and by what several are told apart."""
    if "properties" in schema:
        yield "[{}]", schema, ""
    elif isinstance(named := schema.get("additionalProperties"), Mapping):
        yield "[{}.NAME]", _whole(root, named), ""
    elif schema.get("type") == "array":
        items = [_whole(root, one) for one in _branches(_whole(root, schema.get("items", {})))]
        for item in items:
            if "properties" in item:
                yield "[[{}]]", item, _tag(item)


def _tag(item: Schema) -> str:
    """What tells this kind of entry from the others of its array; empty where there is only one kind."""
    tags = [(key, one["const"]) for key, one in item["properties"].items() if "const" in one]
    return "".join(f', `{key} = "{word}"`' for key, word in tags)


def _row(key: str, schema: Schema, *, needed: bool) -> str:
    # What a text has to look like stands in its meaning.
    bare = [
        {word: one[word] for word in one if word not in ("description", "pattern")}
        for one in _branches(schema)
    ]
    allowed = " or ".join(dict.fromkeys(words for one in bare if (words := in_words(one))))
    default = schema.get("default")
    left_out = "must be given" if needed else "" if default in (None, "", [], {}) else shown(default)
    meaning = schema.get("description", "")
    return f"| `{key}` | {meaning} | {allowed} | {left_out} |"


def _branches(schema: Schema) -> list[Schema]:
    return list(schema.get("anyOf") or schema.get("oneOf") or [schema])


def _whole(root: Schema, schema: Schema) -> Schema:
    """A schema with what it refers to put in; its own words go before those."""
    if "$ref" in schema:
        target = root["$defs"][schema["$ref"].rpartition("/")[2]]
        return _whole(root, {**target, **{key: value for key, value in schema.items() if key != "$ref"}})
    for word in ("anyOf", "oneOf"):
        if word in schema:
            return {**schema, word: [_whole(root, one) for one in schema[word]]}
    return schema
