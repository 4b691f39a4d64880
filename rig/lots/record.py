"""Lots in the store: found by their number or their supplier, and what was found of their units."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rig.events import (
    CharacteristicJudged,
    LotChanged,
    LotClosed,
    LotOpened,
    LotReopened,
    OrderStarted,
    RequirementJudged,
    SettingLeft,
    Stamped,
    UnitJudged,
    UnitStarted,
    Verdict,
    WorkCutOff,
)
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.lots.decision import Standing, standing
from rig.lots.history import History, history_of
from rig.lots.lot import Lot, NoLot, lot_of
from rig.lots.units import Try, UnitFound, tries_of, units_found
from rig.store.database import Database, SqliteDatabase
from rig.store.events import event_rows

_UTC = STAMPED_COLUMNS.split(", ").index("utc")
_COLUMNS = ", ".join(f"e.{one}" for one in STAMPED_COLUMNS.split(", "))
_OF_LOT = (
    f"SELECT {_COLUMNS} FROM lot_entry l JOIN entry e ON e.bench = l.bench AND e.number = l.number "
    "WHERE l.lot = :lot ORDER BY e.bench, e.number"
)
_KINDS = ", ".join(repr(one.kind) for one in (LotOpened, LotChanged, LotClosed, LotReopened))
_OF_SUPPLIER = (
    f"SELECT {_COLUMNS}, e.bench FROM lot_entry o JOIN lot_entry l ON l.lot = o.lot JOIN entry e ON e.bench = l.bench "
    f"AND e.number = l.number WHERE o.kind = '{LotOpened.kind}' AND o.supplier = :supplier "
    f"AND o.sensor_type = :sensor_type AND l.kind IN ({_KINDS}) ORDER BY e.bench, e.number"
)
_PAIRS = (
    f"SELECT DISTINCT supplier, sensor_type FROM lot_entry WHERE kind = '{LotOpened.kind}' "
    "ORDER BY supplier, sensor_type"
)
_NUMBERS = f"SELECT lot FROM lot_entry WHERE kind = '{LotOpened.kind}' ORDER BY bench DESC, number DESC"
_ORDER = "SELECT 1 FROM shop_order WHERE number = :number LIMIT 1"
_BY_HAND = "SELECT serial, verdict FROM decision WHERE order_number = :lot AND stands = 1"
_OF_UNITS = (UnitStarted, UnitJudged, CharacteristicJudged, RequirementJudged, SettingLeft, WorkCutOff)


@dataclass(frozen=True, slots=True)
class LotRecord:
    """A lot with all that was found of its units.

    Attributes:
        tries: every time that a unit was in the nest, in the order of work.
        found: what is held of each unit by now.
        by_hand: what two persons have decided of units.
        simulated: whether any of it was made up.

    """

    lot: Lot
    tries: tuple[Try, ...]
    by_hand: dict[str, Verdict]
    found: dict[str, UnitFound]
    simulated: bool

    @property
    def standing(self) -> Standing:
        """How the lot stands; raises NoSuchPlan."""
        return standing(self.lot.receiving, self.lot.sampling, self.lot.serials(), self.found)


class Lots:
    """An open store; every method raises JournalError for a damaged one."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def knows(self, number: str) -> bool:
        """Whether there is a lot of this number."""
        return any(True for _ in self._database.rows(_OF_LOT, {"lot": number}))

    def is_order(self, number: str) -> bool:
        """Whether an order has this number."""
        return any(True for _ in self._database.rows(_ORDER, {"number": number}))

    def lot(self, number: str) -> Lot:
        """A lot; raises NoLot."""
        try:
            return lot_of(stamped_from(*row) for row in self._database.rows(_OF_LOT, {"lot": number}))
        except NoLot as why:
            raise NoLot(f"lot {number}: {why}") from None

    def record(self, number: str) -> LotRecord:
        """A lot with its units; raises NoLot."""
        lot = self.lot(number)
        tries = tuple(tries_of(self._unit_events(number)))
        by_hand = {
            serial: Verdict(verdict) for serial, verdict in self._database.rows(_BY_HAND, {"lot": number})
        }
        started = event_rows(self._database, [OrderStarted.kind], order=number)
        simulated = any(
            isinstance(event := stamped_from(*row).event, OrderStarted) and event.simulated for row in started
        )
        return LotRecord(lot, tries, by_hand, units_found(tries, lot.receiving, by_hand), simulated)

    def history(self, supplier: str, sensor_type: str) -> History:
        """All lots of a supplier and type."""
        values = {"supplier": supplier, "sensor_type": sensor_type}
        rows = list(self._database.rows(_OF_SUPPLIER, values))
        # The numbers of one bench tell what came first; of several only the time does.
        if len({row[-1] for row in rows}) > 1:
            rows.sort(key=lambda row: str(row[_UTC]))
        return history_of(stamped_from(*row[:-1]) for row in rows)

    def suppliers(self) -> list[tuple[str, str]]:
        """Every supplier with each type that came from it."""
        return [(supplier, sensor_type) for supplier, sensor_type in self._database.rows(_PAIRS)]

    def numbers(self) -> list[str]:
        """The numbers of all lots, the newest first."""
        return [number for (number,) in self._database.rows(_NUMBERS)]

    def _unit_events(self, number: str) -> Iterator[Stamped]:
        kinds = [one.kind for one in _OF_UNITS]
        return (stamped_from(*row) for row in event_rows(self._database, kinds, order=number))


@contextmanager
def open_lots(path: Path) -> Iterator[Lots]:
    """Open a store for reading; raises JournalError when it is missing, damaged or of another version."""
    with reading(path) as database:
        yield Lots(SqliteDatabase(database))
