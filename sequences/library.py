"""Finds and reads sensor types and orders: the shipped ones by name, a shop's own by path."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from pathlib import Path

from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.plainwords import near_miss, printable, shown
from wiring.tomlfile import DataFileError, Problem, load_toml_model
from wiring.tomllines import LineMap


def load_type(path: Path) -> SensorType:
    """Read one sensor type file. Raises `DataFileError`."""
    return load_toml_model(path, SensorType, what="sensor type")


def load_order(path: Path) -> Order:
    """Read one order file. Raises `DataFileError`."""
    return load_toml_model(path, Order, what="order")


def shipped_types() -> Mapping[str, Path]:
    """Return the path of each sensor type that comes with the program, by name."""
    return _shipped("types")


def shipped_orders() -> Mapping[str, Path]:
    """Return the path of each example order that comes with the program, by name."""
    return _shipped("orders")


def find_type(name_or_path: str, *, order: Path | None = None) -> SensorType:
    """Read the sensor type of that name or path: `barrel-18-rail`, or `own/type.toml`.

    `order` is the order file that asks for it, if one does: a relative path then starts in the order's
    directory, and a wrong name is shown as a mistake on the order's line.
    Raises `DataFileError`.
    """
    if name_or_path.endswith(".toml"):
        return load_type(order.parent / name_or_path if order else Path(name_or_path))
    shipped = shipped_types()
    if name_or_path in shipped:
        return load_type(shipped[name_or_path])
    raise DataFileError((_unknown_type(name_or_path, list(shipped), order),))


def _unknown_type(name: str, known: list[str], order: Path | None) -> Problem:
    return Problem(
        file=printable(str(order or name)),
        line=LineMap(order.read_text(encoding="utf-8-sig")).find(("sensor_type",)) if order else None,
        key="sensor_type" if order else "",
        message=f"no sensor type has this name{near_miss(name, known)}",
        given=shown(name),
        allowed=f"{', '.join(known)}, or the path of a .toml file",
    )


def _shipped(directory: str) -> dict[str, Path]:
    folder = Path(str(resources.files("sequences"))) / directory
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}
