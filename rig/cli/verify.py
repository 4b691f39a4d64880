"""`teachrig verify`: check every unit of an order without teaching it; what has moved since its last record."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from hal.simulated.benchfile import BenchFile
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.measured import print_measured
from rig.cli.run import Done, result_as_dict, work_through
from rig.cli.table import closing_words, print_units, print_words
from rig.events import Purpose
from rig.journal import JournalError
from rig.planning.plan import Plan
from rig.records import Listed, Records, open_records
from rig.recount.drift import Drift, EdgeDrift, drift_words, drifts
from rig.summary import UnitSummary

_STATES = {True: "on", False: "off", None: "unsteady"}


@dataclass(frozen=True)
class Against:
    """A unit held against its own earlier record; `listed` None if there is none to hold it against."""

    listed: Listed | None
    drifts: tuple[Drift, ...]

    @property
    def words(self) -> str:
        """In a few words, for a table."""
        if self.listed is None:
            return "nothing earlier"
        return drift_words(self.drifts)


def command(options: Namespace) -> int:
    """Verify the order; the exit code says how it went, as that of `run`."""
    done = work_through(options, Purpose.VERIFY, _units_that_are_set)
    try:
        with open_records(done.journal) as records:
            against = {unit.serial: _against(records, unit.serial) for unit in done.summary.units.values()}
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    with reader_may_leave():
        if options.json:
            print_json(_as_dict(done, against))
        else:
            _print(done, against)
    narrate(f"record: {done.journal}")
    return done.code


def _units_that_are_set(bench_file: BenchFile, plan: Plan) -> BenchFile:
    from hal.simulated.already_set import already_set

    points_mm = [at_mm * plan.scale for _, at_mm in plan.set_points]
    return already_set(bench_file, plan.mode, plan.output_function, points_mm)


def _against(records: Records, serial: str) -> Against:
    """The latest earlier run of the unit that something can be compared with."""
    *_, last = runs = records.attempts(serial)
    now = records.attempt(last)
    for listed in reversed(runs):
        if listed.run != last.run:
            found = drifts(records.attempt(listed), now)
            if found:
                return Against(listed, found)
    return Against(None, ())


def _print(done: Done, against: Mapping[str, Against]) -> None:
    units: Sequence[UnitSummary] = list(done.summary.units.values())
    title = f"order {done.order.number} for {done.order.customer}: verified, not taught"
    print_units(units, title=title, more=("drift", lambda unit: against[unit.serial].words))
    page = Page()
    print_measured(units, page)
    rows = [row for unit in units for row in _rows(unit.serial, against[unit.serial])]
    if rows:
        page.heading(
            "what has moved since the unit's own earlier record (mm at the machine, U of the difference)"
        )
        page.table(("serial", "what", ">then", ">now", ">moved", ">U", "record of"), rows)
    print_words(closing_words(done.result))


def _rows(serial: str, against: Against) -> list[tuple[str, ...]]:
    if against.listed is None:
        return []
    record = f"{against.listed.began_utc[:16].replace('T', ' ')} {against.listed.order}"
    return [(serial, *_cells(one), record) for one in against.drifts if one.changed]


def _cells(one: Drift) -> tuple[str, ...]:
    if isinstance(one, EdgeDrift):
        figures = (
            f"{one.then_mm:.2f}",
            f"{one.now_mm:.2f}",
            f"{one.moved_mm:+.2f}",
            f"{one.expanded_mm:.2f}",
        )
        return (one.point, *figures)
    where = "clear beam" if one.position_mm is None else f"{one.position_mm:.1f} mm"
    return (f"{one.requirement}, {where}", _STATES[one.then_on], _STATES[one.now_on], "", "")


def _as_dict(done: Done, against: Mapping[str, Against]) -> dict[str, Any]:
    data = result_as_dict(done)
    units = [
        {**unit.as_dict(), "drift": _drift_as_dict(against[unit.serial])}
        for unit in done.summary.units.values()
    ]
    return {**data, "units": units}


def _drift_as_dict(against: Against) -> dict[str, Any] | None:
    if against.listed is None:
        return None
    return {
        "record": {"began_utc": against.listed.began_utc, "order": against.listed.order},
        "changed": any(one.changed for one in against.drifts),
        "points": [{**asdict(one), "changed": one.changed} for one in against.drifts],
    }
