"""Finds data files: by path, by name in a folder of the user's, or by name among those shipped with the program."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from wiring.plainwords import near_miss, printable, shown
from wiring.problems import DataFileError, Problem, refused

_ENDING = ".toml"


def shipped_files(package: str, folder: str) -> dict[str, Path]:
    """Return the TOML files that `package` ships in `folder`, by name, in the order of their names."""
    from importlib.resources import files  # 25 ms that only a look-up has to pay

    entries = files(package).joinpath(folder).iterdir()
    paths = (Path(str(entry)) for entry in entries if entry.name.endswith(_ENDING))
    return {path.stem: path for path in sorted(paths)}


def files_in(folder: Path) -> dict[str, Path]:
    """Return the TOML files in `folder` by name, in the order of their names; none if it does not exist.

    Hidden files are left out: editors keep theirs beside the file that is being edited. Raises `DataFileError`
    for a folder that cannot be looked into, since what it holds might have been meant.
    """
    try:
        paths = sorted(folder.iterdir())
    except FileNotFoundError:
        return {}
    except OSError as error:
        file = printable(str(folder))
        raise refused(file, f"cannot be looked into: {error.strerror}", allowed="a readable folder") from None
    return {path.stem: path for path in paths if path.suffix == _ENDING and not path.name.startswith(".")}


def is_path(name_or_path: str) -> bool:
    """Whether a text is a path, with a slash or the ending `.toml`, and not the name of a file known here."""
    return "/" in name_or_path or name_or_path.endswith(_ENDING)


def find_file(name_or_path: str, known: Mapping[str, Path], *, what: str) -> Path:
    """Return the path of a data file; `what` names its kind in messages ("rig profile").

    A path is taken as it is; anything else is the name of a file in `known`. Raises `DataFileError` for a name
    that is not there.
    """
    if is_path(name_or_path):
        return Path(name_or_path)
    try:
        return known[name_or_path]
    except KeyError:
        pass
    message = f"there is no {what} of this name{near_miss(name_or_path, list(known))}"
    allowed = f"{', '.join(map(printable, known))}, or a path that ends in {_ENDING}"
    raise DataFileError((Problem(what, None, "", message, shown(name_or_path), allowed),))
