"""The library: sensor types, orders, receiving plans, rig profiles and bench files by their names.

A path is taken as it is. A name is looked up in the user's folder first (`types/`, `orders/`, `receiving/`, `rigs/`,
`benches/`, `rates/`, `labels/` in $TEACHRIG_HOME, else in the user's configuration folder), then among the files that
are shipped with the program.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from wiring.plainwords import printable, shown
from wiring.problems import DataFileError, Problem, refused
from wiring.shipped import files_in, find_file, is_path, shipped_files
from wiring.tomllines import LineMap

if TYPE_CHECKING:
    from hal.simulated.benchfile import BenchFile
    from rig.papers.label_template import LabelTemplate
    from rig.risk.rates import Rates
    from sequences.order import Order
    from sequences.receiving import ReceivingPlan
    from sequences.sensor_type import SensorType
    from wiring.profile import RigProfile

HOME_VARIABLE = "TEACHRIG_HOME"

_T = TypeVar("_T", "SensorType", "RigProfile", "LabelTemplate", "ReceivingPlan")


class Section(Enum):
    """A kind of file, with its folder at the user's and where the shipped ones are."""

    TYPES = ("types", "sensor type", "sequences", "types")
    ORDERS = ("orders", "order", "sequences", "orders")
    RECEIVING = ("receiving", "receiving plan", "sequences", "receiving")
    RATES = ("rates", "table of rates", "rig.risk", "rates")
    RIGS = ("rigs", "rig profile", "wiring", "profiles")
    BENCHES = ("benches", "simulated bench", "hal.simulated", "benches")
    LABELS = ("labels", "label template", "rig.papers", "labels")

    def __init__(self, folder: str, what: str, package: str, shipped_in: str) -> None:
        self.folder = folder
        self.what = what
        self._shipped_in = (package, shipped_in)

    def shipped(self) -> dict[str, Path]:
        """Return the shipped files of this kind, by name."""
        return shipped_files(*self._shipped_in)


@dataclass(frozen=True, slots=True)
class Entry:
    """A file that can be named: `own` if it is the user's, `hides` if a shipped one has the same name."""

    name: str
    path: Path
    own: bool
    hides: bool


def user_folder() -> Path:
    """Return the folder of the user's own files, which need not exist yet.

    Raises `DataFileError` if $TEACHRIG_HOME names no folder: what lies in the right one might have been meant.
    """
    given = os.environ.get(HOME_VARIABLE)
    if given and not Path(given).is_dir():
        raise refused(
            HOME_VARIABLE,
            "there is no such folder",
            given=printable(given),
            allowed="an existing folder, or unset",
        )
    if given:
        return Path(given).absolute()
    from platformdirs import user_config_path

    return user_config_path("teachrig", appauthor=False)


class Library:
    """Looks files up by name or path and reads them; all methods raise `DataFileError`.

    `home` is the user's folder, None for shipped files only. `tell` hears of every shipped file that was
    passed over for a user's of the same name.
    """

    def __init__(self, home: Path | None, tell: Callable[[str], None] = lambda _: None) -> None:
        self.home = home
        self._tell = tell

    def own_folder(self, section: Section) -> Path:
        """Return the folder of the user's own files of a kind, which need not exist yet."""
        return (self.home or user_folder()) / section.folder

    def entries(self, section: Section) -> dict[str, Entry]:
        """Return every file of a kind that can be named, the user's own before shipped ones, by name."""
        shipped = section.shipped()
        known = {**shipped, **self._own(section)}
        return {
            name: Entry(name, path, path != shipped.get(name), name in shipped and path != shipped[name])
            for name, path in sorted(known.items())
        }

    def read_order(self, name_or_path: str) -> tuple[Order, SensorType]:
        """Read an order and the sensor type that it names."""
        from sequences.library import find_order, load_order

        path = find_order(name_or_path, self._own(Section.ORDERS))
        self._tell_of_hidden(Section.ORDERS, name_or_path)
        order = load_order(path)
        return order, self.read_type(order.sensor_type, order=path)

    def read_type(self, name_or_path: str, *, order: Path | None = None) -> SensorType:
        """Read a sensor type, for an order file if one asks."""
        from sequences.library import find_type, load_type

        path = find_type(name_or_path, self._own(Section.TYPES), order=order)
        self._tell_of_hidden(Section.TYPES, name_or_path)
        return _under_its_name(name_or_path, path, load_type(path))

    def read_receiving(self, name_or_path: str) -> tuple[ReceivingPlan, SensorType]:
        """Read a receiving plan and the sensor type that it names."""
        from sequences.library import find_receiving, load_receiving

        path = find_receiving(name_or_path, self._own(Section.RECEIVING))
        self._tell_of_hidden(Section.RECEIVING, name_or_path)
        plan = _under_its_name(name_or_path, path, load_receiving(path))
        return plan, self.read_type(plan.sensor_type, order=path)

    def good_types(self) -> dict[str, SensorType]:
        """Read every sensor type that can be named, leaving out those that are not right."""
        types = {}
        for name in self.entries(Section.TYPES):
            with suppress(DataFileError):
                types[name] = self.read_type(name)
        return types

    def read_rig(self, name_or_path: str) -> RigProfile:
        """Read a rig profile."""
        from wiring.profile import find_profile, load_profile

        path = find_profile(name_or_path, self._own(Section.RIGS))
        self._tell_of_hidden(Section.RIGS, name_or_path)
        return _under_its_name(name_or_path, path, load_profile(path))

    def read_bench(self, name_or_path: str) -> BenchFile:
        """Read a bench file."""
        from hal.simulated.benchfile import find_bench_file, load_bench_file

        path = find_bench_file(name_or_path, self._own(Section.BENCHES))
        self._tell_of_hidden(Section.BENCHES, name_or_path)
        return load_bench_file(path)

    def read_label(self, name_or_path: str) -> LabelTemplate:
        """Read a label template."""
        from rig.papers.label_template import load_label

        known = {**Section.LABELS.shipped(), **self._own(Section.LABELS)}
        path = find_file(name_or_path, known, what=Section.LABELS.what)
        self._tell_of_hidden(Section.LABELS, name_or_path)
        return _under_its_name(name_or_path, path, load_label(path))

    def read_rates(self, name_or_path: str) -> Rates:
        """Read a table of rates."""
        from rig.risk.rates import find_rates, load_rates

        path = find_rates(name_or_path, self._own(Section.RATES))
        self._tell_of_hidden(Section.RATES, name_or_path)
        return load_rates(path)

    def _own(self, section: Section) -> Mapping[str, Path]:
        return {} if self.home is None else files_in(self.home / section.folder)

    def _tell_of_hidden(self, section: Section, name_or_path: str) -> None:
        entry = None if is_path(name_or_path) else self.entries(section).get(name_or_path)
        if entry is not None and entry.hides:
            self._tell(
                f"{section.what} {entry.name} is your own file {printable(str(entry.path))}, not the shipped one"
            )


def _under_its_name(name_or_path: str, path: Path, read: _T) -> _T:
    """Refuse a file that says another name inside than the one it is found under: records would say that one."""
    if is_path(name_or_path) or read.name == name_or_path:
        return read
    line = LineMap(path.read_text(encoding="utf-8-sig")).find(("name",))
    raise DataFileError(
        (
            Problem(
                printable(str(path)),
                line,
                "name",
                "is not the name of the file",
                shown(read.name),
                f"{shown(name_or_path)}, or a file named {read.name}.toml",
            ),
        )
    )
