"""Finds data files by name among those shipped with the program, or by path."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from wiring.plainwords import near_miss, shown
from wiring.problems import DataFileError, Problem


def shipped_files(package: str, folder: str) -> dict[str, Path]:
    """Return the TOML files that `package` ships in `folder`, by name, in the order of their names."""
    from importlib.resources import files  # 25 ms that only a look-up has to pay

    entries = files(package).joinpath(folder).iterdir()
    paths = (Path(str(entry)) for entry in entries if entry.name.endswith(".toml"))
    return {path.stem: path for path in sorted(paths)}


def find_file(name_or_path: str, shipped: Mapping[str, Path], *, what: str) -> Path:
    """Return the path of a data file; `what` names its kind in messages ("rig profile").

    A text with a slash or the ending `.toml` is a path and taken as it is; anything else is the name of a
    shipped file. Raises `DataFileError` for a name that no shipped file has.
    """
    if "/" in name_or_path or name_or_path.endswith(".toml"):
        return Path(name_or_path)
    try:
        return shipped[name_or_path]
    except KeyError:
        pass
    message = f"no {what} of this name is shipped{near_miss(name_or_path, list(shipped))}"
    allowed = f"{', '.join(shipped)}, or a path that ends in .toml"
    raise DataFileError((Problem(what, None, "", message, shown(name_or_path), allowed),))
