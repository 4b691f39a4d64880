"""Finds and reads sensor types, orders and receiving plans: by name, the shop's own before shipped ones, or by path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from sequences.order import Order
from sequences.receiving import ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.plainwords import printable
from wiring.shipped import find_file, is_path, shipped_files
from wiring.tomlfile import DataFileError, load_toml_model
from wiring.tomllines import LineMap

_TYPE, _ORDER, _RECEIVING = "sensor type", "order", "receiving plan"
_NONE: Mapping[str, Path] = MappingProxyType({})


def load_type(path: Path) -> SensorType:
    """Read a sensor type; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, SensorType, what=_TYPE)


def load_order(path: Path) -> Order:
    """Read an order; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, Order, what=_ORDER)


def load_receiving(path: Path) -> ReceivingPlan:
    """Read a receiving plan; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, ReceivingPlan, what=_RECEIVING)


def shipped_types() -> Mapping[str, Path]:
    """Return the sensor types that come with the program, by name."""
    return shipped_files("sequences", "types")


def shipped_orders() -> Mapping[str, Path]:
    """Return the example orders that come with the program, by name."""
    return shipped_files("sequences", "orders")


def find_receiving(name_or_path: str, own: Mapping[str, Path] = _NONE) -> Path:
    """Return the path of a receiving plan by its name, or `name_or_path` itself where it is a path.

    Files in `own` go before shipped ones of the same name. Raises `DataFileError` for an unknown name.
    """
    shipped = shipped_files("sequences", "receiving")
    return find_file(name_or_path, {**shipped, **own}, what=_RECEIVING)


def find_order(name_or_path: str, own: Mapping[str, Path] = _NONE) -> Path:
    """Return the path of an order by its name, or `name_or_path` itself where it is a path.

    Files in `own` go before shipped ones of the same name. A path has a slash or ends in `.toml`. Raises
    `DataFileError` for an unknown name.
    """
    return find_file(name_or_path, {**shipped_orders(), **own}, what=_ORDER)


def find_type(name_or_path: str, own: Mapping[str, Path] = _NONE, *, order: Path | None = None) -> Path:
    """Return the path of a sensor type by its name, or `name_or_path` itself where it is a path.

    Files in `own` go before shipped ones of the same name. `order` is the order file that asks, if one does: a
    relative path then starts in the order's directory, and an unknown name is reported on the order's own line.
    Raises `DataFileError` for an unknown name.
    """
    try:
        path = find_file(name_or_path, {**shipped_types(), **own}, what=_TYPE)
    except DataFileError as error:
        raise (error if order is None else _on_line_of(order, error)) from None
    return order.parent / path if order is not None and is_path(name_or_path) else path


def _on_line_of(order: Path, error: DataFileError) -> DataFileError:
    key = "sensor_type"
    line = LineMap(order.read_text(encoding="utf-8-sig")).find((key,))
    file = printable(str(order))
    return DataFileError(tuple(replace(one, file=file, line=line, key=key) for one in error.problems))
