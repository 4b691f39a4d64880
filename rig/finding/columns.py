"""Every column that a list or an export has: one place, from which header, description and type come."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Holds(StrEnum):
    """What stands in a column."""

    TEXT = "text"
    TIME = "time"
    FIGURE = "figure"
    COUNT = "count"
    FLAG = "yes or no"


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        name: its key in JSON, and its header in CSV and Parquet.
        words: what it says, with its unit.
        shown: its header on a terminal; empty where it is left to programs.
        decimals: of a figure on a terminal.
        tells_apart: rows may look alike without it; where it differs, it goes before others that need the room.

    """

    name: str
    words: str
    shown: str = ""
    holds: Holds = Holds.TEXT
    decimals: int = 1
    tells_apart: bool = False


_SERIAL = Column("serial", "serial of the unit", "serial")
_ORDER = Column("order", "number of the order", "order")
_CUSTOMER = Column("customer", "whom the order is for", "customer")
_TYPE = Column("sensor_type", "sensor type, as its file is named", "type")
_PURPOSE = Column("purpose", "what was done: set, verify, survey, receive or study", "work", tells_apart=True)
_BENCH = Column("bench", "name of the bench that recorded it", "bench")
_SIMULATED = Column(
    "simulated", "whether the bench was simulated, so that no real unit was touched", "", Holds.FLAG
)

UNITS = (
    _SERIAL,
    Column("verdict", "the bench's verdict: good, bad or undecided; empty while it is in work", "verdict"),
    Column("reason", "the reason of that verdict, as a word", "found"),
    Column("began_utc", "when it was put into the nest, UTC", "when (UTC)", Holds.TIME),
    _ORDER,
    Column(
        "by_hand", "verdict that two persons gave an undecided unit by hand; empty without one", "by hand"
    ),
    _TYPE,
    Column("person", "who had signed in", "by"),
    Column("seconds", "from the nest to the verdict, in s", "time s", Holds.FIGURE),
    _PURPOSE,
    Column("setting", "what it was to be set to: mode, output function, set points in mm", "setting"),
    _CUSTOMER,
    _BENCH,
    Column("ended_utc", "when the verdict was given, UTC", "", Holds.TIME),
    Column("air_c", "air temperature by the probe at the verdict, in °C; empty: no probe", "", Holds.FIGURE),
    Column("air_humidity_percent", "its relative humidity, in %; empty: no probe", "", Holds.FIGURE),
    Column("rig", "rig profile that it was done on"),
    Column("software", "version of the program"),
    _SIMULATED,
    Column("done_again", "whether it was begun again later for the same order and purpose", "", Holds.FLAG),
    Column("account", "number of the bench in this store", "", Holds.COUNT),
    Column("entry", "number of its first entry in that bench's account", "", Holds.COUNT),
)
"""A unit that was put into a nest for an order."""

_GOOD = Column("good", "units whose last word is good, of the bench or by hand", "good", Holds.COUNT)
_BAD = Column("bad", "units whose last word is bad, of the bench or by hand", "bad", Holds.COUNT)
_UNDECIDED = Column("undecided", "units about which nobody has decided", "undecided", Holds.COUNT)
_YIELD = Column(
    "yield_percent", "good of all units with a last word or undecided, in %", "yield %", Holds.FIGURE
)
_FIRST_PASS = Column(
    "first_pass_percent",
    "units that were good at the first attempt, of the same, in %",
    "first pass %",
    Holds.FIGURE,
)
_BY_HAND = Column("by_hand", "units that were decided by hand, within good and bad", "by hand", Holds.COUNT)
_MEDIAN = Column(
    "median_s", "median time from the nest to the verdict, every attempt, in s", "median s", Holds.FIGURE
)
_SLOW = Column("slow_s", "time that nine of ten attempts kept to, in s", "90 % s", Holds.FIGURE)

ORDERS = (
    _ORDER,
    Column("state", "done, open (units are left), or in work (or cut off, until the next start)", "state"),
    Column("quantity", "how many units were ordered", "units", Holds.COUNT),
    _GOOD,
    _BAD,
    _UNDECIDED,
    Column("left", "units that are still to be begun", "left", Holds.COUNT),
    _YIELD,
    Column("began_utc", "when it was first worked on, UTC", "begun (UTC)", Holds.TIME),
    _TYPE,
    _PURPOSE,
    _CUSTOMER,
    _FIRST_PASS,
    _BY_HAND,
    _MEDIAN,
    Column("setting", "what its units were to be set to"),
    Column("last_utc", "when work on it was last begun, UTC", "", Holds.TIME),
    _SIMULATED,
)
"""An order, all that was done for it taken together."""

TALLY = (
    Column("group", "what is counted together", "group"),
    Column("units", "units with a last word or undecided", "units", Holds.COUNT),
    _GOOD,
    _BAD,
    _UNDECIDED,
    _YIELD,
    _FIRST_PASS,
    _MEDIAN,
    _SLOW,
    _BY_HAND,
    Column("attempts", "how often a unit was put into a nest and got a verdict", "attempts", Holds.COUNT),
)
"""Units counted together."""

REASONS = (
    Column("reason", "the bench's reason why a unit was not good", "found"),
    Column("verdict", "the verdict that it leads to", "verdict"),
    Column("units", "units with it at their last attempt", "units", Holds.COUNT),
    Column("share_percent", "of all units that were not good, in %", "share %", Holds.FIGURE),
    Column("running_percent", "the same with all reasons above it, in %", "with those above %", Holds.FIGURE),
)
"""Why units were not good, the most frequent reason first."""

READINGS = (
    _SERIAL,
    _ORDER,
    _CUSTOMER,
    _TYPE,
    _PURPOSE,
    _BENCH,
    _SIMULATED,
    Column(
        "account",
        "number of the bench in this store; with `attempt`, one time in the nest",
        "",
        Holds.COUNT,
    ),
    Column("attempt", "number of the attempt's first entry in that bench's account", "", Holds.COUNT),
    Column("attempt_verdict", "the bench's verdict on this attempt"),
    Column("entry", "number of the entry that it was read from", "", Holds.COUNT),
    Column("utc", "when it was recorded, UTC", "", Holds.TIME),
    Column("since_s", "seconds since the unit was put into the nest", "", Holds.FIGURE),
    Column("what", "kind of the entry, such as check-done or edge-measured"),
    Column("name", "which requirement, edge, figure or rail it is about"),
    Column(
        "position_mm",
        "where the target stood, in mm on the rig; empty: clear beam, or no target",
        "",
        Holds.FIGURE,
    ),
    Column("value", "the figure itself", "", Holds.FIGURE),
    Column("unit", "unit of `value`, `expanded`, `low` and `high`"),
    Column(
        "expanded", "expanded uncertainty of the value (95 %); empty: none was worked out", "", Holds.FIGURE
    ),
    Column("low", "lower limit that it was held against", "", Holds.FIGURE),
    Column("high", "upper limit that it was held against", "", Holds.FIGURE),
    Column("read_on", "what was read: output on, or a contact confirmed; empty: neither", "", Holds.FLAG),
    Column("expected_on", "what had to be read", "", Holds.FLAG),
    Column("steady", "whether the output kept still", "", Holds.FLAG),
    Column("words", "what cannot be said as a figure: a level, an answer, a verdict"),
)
"""One figure or state that was read of a unit."""
