"""Rows with known columns as a Parquet file, which tells its columns and their types itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from rig.finding.columns import Column, Holds

_AT_ONCE = 50_000


class NoParquet(Exception):
    """The library for it is not installed."""


def write_parquet(path: Path, columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> int:
    """Write the rows, some thousand at a time, and return how many there were; what was there is replaced.

    Raises:
        NoParquet: without pyarrow.
        OSError: when the file cannot be written.

    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ModuleNotFoundError:
        raise NoParquet from None
    types = {
        Holds.TEXT: pyarrow.string(),
        Holds.TIME: pyarrow.timestamp("ms", tz="UTC"),
        Holds.FIGURE: pyarrow.float64(),
        Holds.COUNT: pyarrow.int64(),
        Holds.FLAG: pyarrow.bool_(),
    }
    schema = pyarrow.schema(
        [pyarrow.field(one.name, types[one.holds], metadata={"description": one.words}) for one in columns]
    )
    count = 0
    with parquet.ParquetWriter(path, schema, compression="zstd") as writer:
        for some in _in_parts(rows):
            data = {one.name: [_value(one, row[one.name]) for row in some] for one in columns}
            writer.write_table(pyarrow.table(data, schema=schema))
            count += len(some)
    return count


def _value(column: Column, value: Any) -> Any:
    match column.holds:
        case Holds.TIME:
            return None if value is None else datetime.fromisoformat(value)
        case Holds.TEXT:
            return None if value is None else str(value)
        case _:
            return value


def _in_parts(rows: Iterable[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    every = iter(rows)
    while some := list(islice(every, _AT_ONCE)):
        yield some
