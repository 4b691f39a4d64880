"""Which version of the program this is, for `--version` and for the record."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def software_version() -> str:
    """The installed version; `unknown` when run from files that were never installed."""
    try:
        return version("teachrig")
    except PackageNotFoundError:
        return "unknown"
