"""What a model allows at each place of a file, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from wiring.plainwords import shown
from wiring.saying import say, together
from wiring.tomllines import KeyPath

Schema = Mapping[str, Any]

ABSENT = object()


def item_of(container: object, part: str | int) -> object:
    """Return what is in a table or array under `part`, or `ABSENT`."""
    if isinstance(container, dict):
        return container.get(part, ABSENT)
    if isinstance(container, list) and isinstance(part, int) and part < len(container):
        return container[part]
    return ABSENT


def value_at(path: KeyPath, data: object) -> object:
    """Return what `path` leads to, or `ABSENT`."""
    for part in path:
        data = item_of(data, part)
    return data


class Limits:
    """Reads the JSON schema of a model, followed along the data of one file."""

    def __init__(self, schema: Schema, data: object) -> None:
        self._root = schema
        self._data = data

    def allowed(self, path: KeyPath) -> str:
        """Return what may stand at `path`."""
        return _either(text for schema in self._at(path) if (text := in_words(schema)))

    def keys(self, path: KeyPath) -> list[str]:
        """Return the keys of the table at `path`."""
        tables = (schema.get("properties", {}) for schema in self._at(path))
        return list(dict.fromkeys(key for table in tables for key in table))

    def meaning(self, path: KeyPath) -> str:
        """Return what the key at `path` means, empty if the model does not say."""
        return next((schema["description"] for schema in self._at(path) if "description" in schema), "")

    def types(self, path: KeyPath) -> list[str]:
        """Return the JSON types that the value at `path` may have."""
        return [schema["type"] for schema in self._at(path) if "type" in schema]

    def words(self, path: KeyPath) -> list[str]:
        """Return the words allowed at `path`, where only certain words are."""
        return [word for schema in self._at(path) for word in _choices(schema) if isinstance(word, str)]

    def _at(self, path: KeyPath) -> list[Schema]:
        here: object = self._data
        found = list(self._branches(self._root, here))
        for part in path:
            here = item_of(here, part)
            found = [branch for schema in found for branch in self._step(schema, part, here)]
        return found

    def _step(self, schema: Schema, part: str | int, value: object) -> Iterator[Schema]:
        if isinstance(part, str):
            inner = schema.get("properties", {}).get(part, schema.get("additionalProperties"))
        else:
            listed = schema.get("prefixItems", ())
            inner = listed[part] if part < len(listed) else schema.get("items")
        if isinstance(inner, Mapping):
            yield from self._branches(inner, value)

    def _branches(self, schema: Schema, value: object) -> Iterator[Schema]:
        """Follow references and unions; a union with a tag is narrowed by the tag that the file gives."""
        if "$ref" in schema:
            target = self._root["$defs"][schema["$ref"].rpartition("/")[2]]
            notes = {key: note for key, note in schema.items() if key != "$ref"}
            yield from self._branches({**target, **notes}, value)
            return
        inner: Sequence[Schema] = schema.get("anyOf") or schema.get("oneOf") or ()
        tags = schema.get("discriminator", {})
        chosen = tags.get("mapping", {}).get(_word(item_of(value, tags.get("propertyName", ""))))
        for branch in [{"$ref": chosen}] if chosen else inner:
            notes = {key: schema[key] for key in ("description",) if key in schema}
            yield from self._branches({**notes, **branch}, value)
        if not inner:
            yield schema


def _word(value: object) -> str:
    return value if isinstance(value, str) else ""


def _either(texts: Iterator[str]) -> str:
    return together(" or ", dict.fromkeys(texts))


def _choices(schema: Schema) -> Sequence[object]:
    return [schema["const"]] if "const" in schema else schema.get("enum", ())


def in_words(schema: Schema) -> str:
    """Return what a value may be by its own schema, which neither refers to another nor joins several."""
    choices = _choices(schema)
    if choices:
        return " or ".join(shown(choice) for choice in choices)
    words = {
        "string": _text_words,
        "integer": lambda limits: say("a whole number{limits}", limits=_range_words(limits)),
        "number": lambda limits: say("a number{limits}", limits=_range_words(limits)),
        "boolean": lambda _: "true or false",
        "array": _array_words,
        "object": _table_words,
    }.get(schema.get("type", ""))
    return words(schema) if words else ""


def _array_words(schema: Schema) -> str:
    count = _count_words(schema, "Items", "entry", "entries")
    return say("an array of{count}", count=count) if count else "an array"


def _text_words(schema: Schema) -> str:
    description = schema.get("description")
    length = _count_words(schema, "Length", "character", "characters")
    if "pattern" in schema:
        form = description or f"text that matches {schema['pattern']}"
        return say("{form},{length}", form=form, length=length) if length else str(form)
    words = say("text of{length}", length=length) if length else "text"
    return say("{words} ({description})", words=words, description=description) if description else words


def _range_words(schema: Schema) -> str:
    low, above = schema.get("minimum"), schema.get("exclusiveMinimum")
    high, below = schema.get("maximum"), schema.get("exclusiveMaximum")
    parts = [
        say("from {low}", low=_number(low)) if low is not None else "",
        say("above {above}", above=_number(above)) if above is not None else "",
        say("{what} {high}", what="to" if low is not None else "up to", high=_number(high))
        if high is not None
        else "",
        say("below {below}", below=_number(below)) if below is not None else "",
    ]
    words = together("", (say(" {part}", part=part) for part in parts if part))
    return (
        say("{words} ({schema})", words=words, schema=schema["description"])
        if "description" in schema
        else words
    )


def _count_words(schema: Schema, unit: str, one: str, many: str) -> str:
    low, high = schema.get(f"min{unit}", 0), schema.get(f"max{unit}")
    if high is None:
        return say(" at least {low} {what}", low=low, what=one if low == 1 else many) if low else ""
    span = "at most " if low == 0 else "" if low == high else say("{low} to ", low=low)
    return say(" {span}{high} {what}", span=span, high=high, what=one if high == 1 else many)


def _table_words(schema: Schema) -> str:
    needed = schema.get("required", ())
    return say("a table with {needed}", needed=", ".join(needed)) if needed else "a table"


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(value)
