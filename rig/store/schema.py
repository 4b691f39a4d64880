"""What the store holds: the one definition of its tables, for SQLite on a bench and PostgreSQL in the shop.

`entry` is the account itself: one row an event, numbered without a gap per bench, never changed. `seal` closes it
unit by unit. `bench` and `run` say who wrote them, `content` holds files once each. `attempt`, `shop_order`, `person`,
`document`, `correction`, `decision` and `lot_entry` are read out of the entries in the transaction that adds them, so
that something can be found quickly; they can be made anew from the entries at any time.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    SmallInteger,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()

bench = Table(
    "bench",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uuid", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("made_utc", Text, nullable=False),
    # Up to which entry the shop's database has this bench's account.
    Column("forwarded", BigInteger, nullable=False, server_default="0"),
)
"""A data folder: made with it, replaced by another when a backup was restored, so that no number comes twice."""

content = Table(
    "content",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""Files that work was done with, once each, by the SHA-256 of their canonical JSON: order, sensor type, rig profile."""

run = Table(
    "run",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bench", Integer, ForeignKey("bench.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("begun_utc", Text, nullable=False),
    # Its first entry; others of this bench may stand between its own.
    Column("first", BigInteger, nullable=False),
    UniqueConstraint("bench", "name"),
)
"""One work of the program on one order."""

entry = Table(
    "entry",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("run", Integer, ForeignKey("run.id"), nullable=False),
    # Number within the run, as stamped.
    Column("in_run", Integer, nullable=False),
    Column("at_ns", BigInteger, nullable=False),
    Column("utc", Text, nullable=False),
    Column("order_number", Text, nullable=False),
    Column("serial", Text, nullable=False),
    Column("kind", Text, nullable=False),
    # Text, not JSON: it is sealed to the last byte.
    Column("body", Text, nullable=False),
    PrimaryKeyConstraint("bench", "number"),
    sqlite_with_rowid=False,
)
"""The account, which is also what waits for the shop: clustered by number, so that an attempt lies in one piece."""

seal = Table(
    "seal",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("last", BigInteger, nullable=False),
    Column("first", BigInteger, nullable=False),
    Column("sha256", LargeBinary, nullable=False),
    Column("parts", LargeBinary, nullable=False),
    PrimaryKeyConstraint("bench", "last"),
    sqlite_with_rowid=False,
)
"""SHA-256 over the entries `first` to `last` of a bench and over its seal before.

`parts` has four bytes for each of them, which prove nothing, but tell which one it was that has been changed.
"""

attempt = Table(
    "attempt",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("first", BigInteger, nullable=False),
    Column("last", BigInteger, nullable=False),
    Column("run", Integer, ForeignKey("run.id"), nullable=False),
    Column("serial", Text, nullable=False),
    Column("order_number", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("sensor_type", Text, nullable=False),
    Column("purpose", Text, nullable=False),
    Column("setting", Text, nullable=False),
    Column("rig", Text, nullable=False),
    Column("rig_sha256", Text, nullable=False),
    Column("software", Text, nullable=False),
    Column("simulated", SmallInteger, nullable=False),
    Column("person", Text, nullable=False),
    Column("began_utc", Text, nullable=False),
    Column("began_ns", BigInteger, nullable=False),
    # Null, "" and null until there is a verdict.
    Column("ended_utc", Text),
    Column("seconds", Float),
    Column("verdict", Text, nullable=False),
    Column("reason", Text, nullable=False),
    # By the probe, as last measured before the verdict; null where there is none.
    Column("air_c", Float),
    Column("air_humidity_percent", Float),
    # 1 once the same unit was begun again for the same order and purpose.
    Column("superseded", SmallInteger, nullable=False),
    PrimaryKeyConstraint("bench", "first"),
    # Holds all that a search for part of a serial looks at.
    Index("attempt_by_serial", "serial", "began_utc", "superseded"),
    Index("attempt_by_order", "order_number", "began_utc"),
    Index("attempt_by_customer", "customer", "began_utc"),
    Index("attempt_by_reason", "reason", "began_utc"),
    Index("attempt_by_type", "sensor_type", "began_utc"),
    Index("attempt_by_verdict", "verdict", "began_utc"),
    Index("attempt_by_person", "person", "began_utc"),
    Index("attempt_by_bench", "bench", "began_utc"),
    Index("attempt_by_purpose", "purpose", "began_utc"),
    Index("attempt_by_time", "began_utc"),
    Index("attempt_by_run", "run", "serial", "first"),
    sqlite_with_rowid=False,
)
"""A unit that was put into the nest once: entries `first` to `last` of its run and serial, and what became of it."""

shop_order = Table(
    "shop_order",
    metadata,
    Column("run", Integer, ForeignKey("run.id"), primary_key=True),
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("first", BigInteger, nullable=False),
    Column("last", BigInteger, nullable=False),
    Column("number", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("purpose", Text, nullable=False),
    Column("sensor_type", Text, nullable=False),
    Column("quantity", Integer, nullable=False),
    Column("rig", Text, nullable=False),
    Column("simulated", SmallInteger, nullable=False),
    Column("software", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("setting", Text, nullable=False),
    Column("order_sha256", Text, nullable=False),
    Column("type_sha256", Text, nullable=False),
    Column("rig_sha256", Text, nullable=False),
    Column("begun_utc", Text, nullable=False),
    Column("ended_utc", Text),
    Column("left_over", Integer),
    Index("shop_order_by_number", "number"),
)
"""An order as one run found it, in its entries `first` to `last`.

`ended_utc` is null while it is worked on, and `last` has no end; `left_over` stays null if the program was cut off.
"""

person = Table(
    "person",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("first_utc", Text, nullable=False),
    Column("last_utc", Text, nullable=False),
    PrimaryKeyConstraint("bench", "name"),
)
"""Who has signed in at which bench, first and last."""

document = Table(
    "document",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("kind", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("serial", Text, nullable=False),
    Column("order_number", Text, nullable=False),
    Column("utc", Text, nullable=False),
    PrimaryKeyConstraint("bench", "number"),
    Index("document_by_serial", "serial"),
    Index("document_by_order", "order_number"),
)
"""A paper that was made: a row for each unit on it, or one for its order."""

correction = Table(
    "correction",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("corrects", BigInteger, nullable=False),
    Column("person", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("utc", Text, nullable=False),
    PrimaryKeyConstraint("bench", "number"),
    Index("correction_by_corrected", "bench", "corrects"),
)
"""A later entry that says of an earlier one of its bench what is wrong with it, by whom and why."""

decision = Table(
    "decision",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("number", BigInteger, nullable=False),
    # The attempt: its bench, and its first entry in the account of that one.
    Column("of_bench", SmallInteger, nullable=False),
    Column("attempt", BigInteger, nullable=False),
    Column("serial", Text, nullable=False),
    Column("order_number", Text, nullable=False),
    Column("verdict", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("released_by", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("utc", Text, nullable=False),
    # 0 once the same attempt was decided once more.
    Column("stands", SmallInteger, nullable=False),
    PrimaryKeyConstraint("bench", "number"),
    Index("decision_by_attempt", "of_bench", "attempt"),
    Index("decision_by_serial", "serial"),
)
"""What two persons have decided by hand of an attempt that the bench was undecided about."""

lot_entry = Table(
    "lot_entry",
    metadata,
    Column("bench", SmallInteger, ForeignKey("bench.id"), nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("lot", Text, nullable=False),
    Column("kind", Text, nullable=False),
    # Of the entry that opened it; empty for the others.
    Column("supplier", Text, nullable=False),
    Column("sensor_type", Text, nullable=False),
    Column("utc", Text, nullable=False),
    PrimaryKeyConstraint("bench", "number"),
    Index("lot_entry_by_lot", "lot", "utc"),
    Index("lot_entry_by_supplier", "supplier", "sensor_type", "utc"),
)
"""Where the entries of a lot stand that was delivered: opened, changed, closed, and units named and put aside."""
