"""Writes the data of a form as TOML in which every key is explained by its model's own description."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, InlineTable, Item, Table

from wiring.limits import Limits
from wiring.tomllines import KeyPath

_WIDTH = 100


def as_toml(data: Mapping[str, Any], schema: Mapping[str, Any], heading: Sequence[str]) -> str:
    """Return the file as text: the heading as comments, then single keys, then tables, in the model's order."""
    limits = Limits(schema, data)
    document = tomlkit.document()
    for line in heading:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    keys = _in_order(data, limits, ())
    for key in keys:
        if not _is_table(data[key]):
            _add(document, (key,), data[key], limits)
    for key in keys:
        if _is_table(data[key]):
            document.add(key, _table(data[key], (key,), limits))
    return document.as_string()


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _in_order(table: Mapping[str, Any], limits: Limits, path: KeyPath) -> list[str]:
    known = limits.keys(path)
    return sorted(table, key=lambda key: known.index(key) if key in known else len(known))


def _table(value: Any, path: KeyPath, limits: Limits) -> Table | AoT:
    if isinstance(value, dict):
        return _filled(value, path, limits, explained=True)
    tables = tomlkit.aot()
    for index, inner in enumerate(value):
        tables.append(_filled(inner, (*path, index), limits, explained=index == 0))
    return tables


def _filled(table: Mapping[str, Any], path: KeyPath, limits: Limits, *, explained: bool) -> Table:
    filled = tomlkit.table()
    if explained:
        filled.comment(limits.meaning(path[:1]))
    for key in _in_order(table, limits, path):
        if explained:
            _add(filled, (*path, key), table[key], limits)
        else:
            filled.add(key, _item(table[key]))
    return filled


def _add(container: tomlkit.TOMLDocument | Table, path: KeyPath, value: Any, limits: Limits) -> None:
    _explain(container, path, limits)
    container.add(str(path[-1]), _item(value))


def _explain(container: tomlkit.TOMLDocument | Table, path: KeyPath, limits: Limits) -> None:
    if path[-1] not in limits.keys(path[:-1]):
        return  # the name of a sign is the file's own
    meaning, words = limits.meaning(path), limits.words(path)
    choices = f" ({', '.join(words)})" if any(word not in meaning for word in words) else ""
    for line in textwrap.wrap(meaning + choices, _WIDTH):
        container.add(tomlkit.comment(line))


def _item(value: Any) -> Item:
    if isinstance(value, dict):
        return _inline(value)
    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = tomlkit.array()
        rows.extend(map(_inline, value))
        rows.multiline(True)
        return rows
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value, multiline=True)
    plain: Item = tomlkit.item(value)
    return plain


def _inline(table: Mapping[str, Any]) -> InlineTable:
    inline = tomlkit.inline_table()
    inline.update({key: _item(value) for key, value in table.items()})
    return inline
