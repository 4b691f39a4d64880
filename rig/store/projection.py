"""What the entries tell of orders, units, people and papers, as rows in which something is found quickly.

Every function here yields statements for the transaction that adds the entry; they read nothing but the entry and
what earlier ones left, so the same rows come out when the entries are gone through again, or in the shop's database.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rig.events import (
    AirMeasured,
    CalibrationMade,
    Corrected,
    DecidedByHand,
    DocumentMade,
    LotChanged,
    LotClosed,
    LotOpened,
    LotReopened,
    OrderEnded,
    OrderInputs,
    OrderStarted,
    PersonSignedIn,
    UnitJudged,
    UnitNamed,
    UnitPutAside,
    UnitStarted,
    WorkCutOff,
)
from rig.store.database import Statement
from rig.store.hashing import content_of
from rig.store.settings import setting_words


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry; `bench` and `run` are the numbers that the database at hand has for them."""

    bench: int
    number: int
    run: int
    in_run: int
    at_ns: int
    utc: str
    order_number: str
    serial: str
    kind: str
    body: str

    def values(self) -> dict[str, Any]:
        """The same as values of a statement."""
        return {name: getattr(self, name) for name in ENTRY_COLUMNS}


ENTRY_COLUMNS = tuple(Entry.__dataclass_fields__)
INSERT_ENTRY = (
    f"INSERT INTO entry ({', '.join(ENTRY_COLUMNS)}) VALUES ({', '.join(f':{one}' for one in ENTRY_COLUMNS)})"
)

# What an index of either database takes; the entry has the whole of it.
_LONGEST_NAME = 200
# The end of an order that is worked on: to note it with every entry would write one more page each time.
_OPEN_END = 2**62
_ORDER_STARTED = """INSERT INTO shop_order (run, bench, first, last, number, customer, purpose, sensor_type, quantity,
    rig, simulated, software, person, setting, order_sha256, type_sha256, rig_sha256, begun_utc)
    VALUES (:run, :bench, :number, :open_end, :order, :customer, :purpose, :sensor_type, :quantity,
    :rig, :simulated, :software, '', '', '', '', '', :utc)
    ON CONFLICT DO NOTHING"""
_ORDER_INPUTS = """UPDATE shop_order SET setting = :setting, order_sha256 = :order, type_sha256 = :sensor_type,
    rig_sha256 = :rig WHERE run = :run"""
_CONTENT = "INSERT INTO content (sha256, kind, body) VALUES (:sha256, :kind, :body) ON CONFLICT DO NOTHING"
_ORDER_ENDED = "UPDATE shop_order SET last = :number, ended_utc = :utc, left_over = :left WHERE run = :run"
_SIGNED_IN = "UPDATE shop_order SET person = :person WHERE run = :run"
_PERSON = """INSERT INTO person (bench, name, first_utc, last_utc) VALUES (:bench, :person, :utc, :utc)
    ON CONFLICT (bench, name) DO UPDATE SET last_utc = excluded.last_utc"""
# Whichever of two benches is heard first, the same one is the later.
_SUPERSEDES = """UPDATE attempt SET superseded = 1 WHERE serial = :serial AND order_number = :order_number
    AND superseded = 0 AND (bench = :bench OR began_utc < :utc OR (began_utc = :utc AND bench < :bench))
    AND purpose = coalesce((SELECT purpose FROM shop_order WHERE run = :run), '')"""
# Within a bench the numbers tell what came later, since a simulated calendar begins anew with every run.
# An attempt is recorded even where the begin of its order is lost.
_UNIT_STARTED = """INSERT INTO attempt (bench, first, last, run, serial, order_number, customer, sensor_type, purpose,
    setting, rig, rig_sha256, software, simulated, person, began_utc, began_ns, verdict, reason, superseded)
    SELECT :bench, :number, :number, run.id, :serial, :order_number, coalesce(o.customer, ''),
    coalesce(o.sensor_type, ''), coalesce(o.purpose, ''), coalesce(o.setting, ''), coalesce(o.rig, ''),
    coalesce(o.rig_sha256, ''), coalesce(o.software, ''), coalesce(o.simulated, 0), coalesce(o.person, ''),
    :utc, :at_ns, '', '',
    CASE WHEN EXISTS (SELECT 1 FROM attempt l WHERE l.serial = :serial AND l.order_number = :order_number
        AND l.purpose = coalesce(o.purpose, '') AND l.bench <> :bench
        AND (l.began_utc > :utc OR (l.began_utc = :utc AND l.bench > :bench))) THEN 1 ELSE 0 END
    FROM run LEFT JOIN shop_order o ON o.run = run.id WHERE run.id = :run"""
_LATEST = "(SELECT max(first) FROM attempt WHERE run = :run AND serial = :serial)"
_UNIT_JUDGED = f"""UPDATE attempt SET verdict = :verdict, reason = :reason, ended_utc = :utc,
    seconds = (:at_ns - began_ns) / 1000000 / 1000.0
    WHERE bench = :bench AND first = {_LATEST}"""
_AIR = f"""UPDATE attempt SET air_c = :temperature_c, air_humidity_percent = :humidity_percent
    WHERE bench = :bench AND first = {_LATEST}"""
# A verdict that was recorded stands, whatever happened afterwards.
_CUT_OFF = f"""UPDATE attempt SET verdict = 'undecided', reason = 'interrupted', ended_utc = :utc
    WHERE bench = :bench AND first = {_LATEST} AND verdict = ''"""
_ORDER_CUT_OFF = (
    "UPDATE shop_order SET last = :number, ended_utc = :utc WHERE run = :run AND ended_utc IS NULL"
)
_LASTS_TO = f"UPDATE attempt SET last = :number WHERE bench = :bench AND first = {_LATEST}"
_DOCUMENT = """INSERT INTO document (bench, number, kind, sha256, person, serial, order_number, utc)
    VALUES (:bench, :number, :document, :sha256, :person, :serial, :order_number, :utc)"""
_CORRECTION = """INSERT INTO correction (bench, number, corrects, person, why, utc)
    VALUES (:bench, :number, :corrects, :person, :why, :utc)"""

_OF_BENCH = "coalesce((SELECT id FROM bench WHERE uuid = :of_bench), 0)"
_DECIDED_BEFORE = f"UPDATE decision SET stands = 0 WHERE of_bench = {_OF_BENCH} AND attempt = :attempt"
_DECISION = f"""INSERT INTO decision (bench, number, of_bench, attempt, serial, order_number, verdict, person,
    released_by, why, utc, stands) SELECT :bench, :number, {_OF_BENCH}, :attempt, :serial, :order_number, :verdict,
    :person, :released_by, :why, :utc, 1"""

_LOT_ENTRY = """INSERT INTO lot_entry (bench, number, lot, kind, supplier, sensor_type, utc)
    VALUES (:bench, :number, :order_number, :kind, :supplier, :sensor_type, :utc)"""


def project(entries: Iterable[Entry]) -> Iterator[Statement]:
    """Yield what some new entries of a bench change, in their order."""
    touched: dict[tuple[int, str], Entry] = {}
    for entry in entries:
        if entry.kind == UnitStarted.kind and (before := touched.pop((entry.run, entry.serial), None)):
            yield _LASTS_TO, before.values()
        if entry.serial:
            touched[entry.run, entry.serial] = entry
        told = _TOLD.get(entry.kind)
        if told is not None:
            yield from told(entry, _keepable(json.loads(entry.body)))
    for entry in touched.values():
        yield _LASTS_TO, entry.values()


def _keepable(body: dict[str, Any]) -> dict[str, Any]:
    """The same with words that every database takes, without NUL and halves of characters; the entry has all."""
    return {
        name: value.encode("utf-8", "replace").decode().replace("\0", "\ufffd")
        if isinstance(value, str)
        else value
        for name, value in body.items()
    }


def _order_started(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    more = {"simulated": int(body["simulated"]), "open_end": _OPEN_END}
    yield _ORDER_STARTED, {**entry.values(), **body, **more}


def _order_inputs(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    hashes = {}
    for kind in ("order", "sensor_type", "rig"):
        hashes[kind], text = content_of(body[kind])
        yield _CONTENT, {"sha256": hashes[kind], "kind": kind, "body": text}
    setting = setting_words(body["order"].get("setting") or {})
    yield _ORDER_INPUTS, {"run": entry.run, "setting": setting, **hashes}


def _order_ended(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    yield _ORDER_ENDED, {**entry.values(), "left": body["left"]}


def _signed_in(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    values = {**entry.values(), "person": body["person"][:_LONGEST_NAME]}
    yield _SIGNED_IN, values
    if body["person"]:
        yield _PERSON, values


def _unit_started(entry: Entry, _: Mapping[str, Any]) -> Iterator[Statement]:
    yield _SUPERSEDES, entry.values()
    yield _UNIT_STARTED, entry.values()


def _air(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    yield _AIR, {**entry.values(), **body}


def _unit_judged(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    yield _UNIT_JUDGED, {**entry.values(), "verdict": body["verdict"], "reason": body["reason"]}


def _cut_off(entry: Entry, _: Mapping[str, Any]) -> Iterator[Statement]:
    yield _CUT_OFF if entry.serial else _ORDER_CUT_OFF, entry.values()


def _document(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    yield _DOCUMENT, {**entry.values(), **body}


def _correction(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    yield _CORRECTION, {**entry.values(), **body}


def _decision(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    values = {**entry.values(), **body, "bench": entry.bench, "of_bench": body["bench"]}
    yield _DECIDED_BEFORE, values
    yield _DECISION, values


def _calibrated(_: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    sha256, text = content_of(body["calibration"])
    yield _CONTENT, {"sha256": sha256, "kind": "calibration", "body": text}


def _lot_entry(entry: Entry, body: Mapping[str, Any]) -> Iterator[Statement]:
    opened = {key: str(body.get(key, ""))[:_LONGEST_NAME] for key in ("supplier", "sensor_type")}
    yield _LOT_ENTRY, {**entry.values(), **opened}


_TOLD: Mapping[str, Callable[[Entry, Mapping[str, Any]], Iterator[Statement]]] = {
    OrderStarted.kind: _order_started,
    OrderInputs.kind: _order_inputs,
    OrderEnded.kind: _order_ended,
    PersonSignedIn.kind: _signed_in,
    UnitStarted.kind: _unit_started,
    AirMeasured.kind: _air,
    UnitJudged.kind: _unit_judged,
    WorkCutOff.kind: _cut_off,
    DocumentMade.kind: _document,
    Corrected.kind: _correction,
    DecidedByHand.kind: _decision,
    CalibrationMade.kind: _calibrated,
    **dict.fromkeys(
        (one.kind for one in (LotOpened, LotChanged, LotClosed, LotReopened, UnitNamed, UnitPutAside)),
        _lot_entry,
    ),
}
