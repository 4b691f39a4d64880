"""What can be wrong with a unit or with the bench, as the bench file says it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Annotated, NamedTuple

from pydantic import Field

from hal.simulated.kind import Name
from wiring.terms import Rail
from wiring.tomlfile import Contradiction, DataModel


class UnitFaultKind(StrEnum):
    """What a unit may suffer from."""

    DEAD = "dead"
    OVER_CURRENT = "over-current"
    WRONG_OUTPUT_TYPE = "wrong-output-type"
    LED_DARK = "led-dark"
    REFUSES_TEACH = "refuses-teach"
    STORES_WRONGLY = "stores-wrongly"
    DRIFTED = "drifted"
    WIDE_HYSTERESIS = "wide-hysteresis"
    NOISY_ECHO = "noisy-echo"
    WRONG_KIND = "wrong-kind"


class BenchFaultKind(StrEnum):
    """What the bench, its wiring or the person may suffer from."""

    TEACH_CONTACT_WELDED = "teach-contact-welded"
    TEACH_CONTACT_DEAD = "teach-contact-dead"
    SELECTOR_STUCK = "selector-stuck"
    RELAY_SLOW = "relay-slow"
    SUPPLY_RELAY_DEAD = "supply-relay-dead"
    PICKUP_FALLEN_OFF = "pickup-fallen-off"
    STOP_PRESSED = "stop-pressed"
    SUPPLY_SAG = "supply-sag"
    PROGRAM_KILLED = "program-killed"
    PERSON_SILENT = "person-silent"
    TARGET_MISPLACED = "target-misplaced"
    WRONG_HARNESS = "wrong-harness"
    OUTPUT_OPEN = "output-open"
    OUTPUT_SHORTED = "output-shorted"
    GAUGE_SILENT = "gauge-silent"
    GAUGE_STUCK = "gauge-stuck"
    SCALE_MISREAD = "scale-misread"
    TARGET_LEFT_IN = "target-left-in"
    STAGE_STALLED = "stage-stalled"
    STAGE_LOSES_STEPS = "stage-loses-steps"
    STAGE_LATE = "stage-late"
    OUTPUT_CHATTERS = "output-chatters"
    RELAY_WELDED = "relay-welded"
    RELAY_DEAD = "relay-dead"
    HEARTBEAT_BRIDGED = "heartbeat-bridged"
    STOP_BRIDGED = "stop-bridged"
    STOP_INPUT_DEAF = "stop-input-deaf"
    LEAKAGE = "leakage"


class RelayName(StrEnum):
    """Relays of a nest, as the rig profile names them."""

    SUPPLY = "supply"
    RAIL_SELECTOR = "rail_selector"
    TEACH_CONTACT = "teach_contact"
    PLUS_CONTACT = "plus_contact"
    MINUS_CONTACT = "minus_contact"
    LOAD = "load"


class _Keys(NamedTuple):
    needed: tuple[str, ...] = ()
    possible: tuple[str, ...] = ()


_UNIT_KEYS: dict[str, _Keys] = {
    UnitFaultKind.OVER_CURRENT: _Keys(possible=("current_a",)),
    UnitFaultKind.STORES_WRONGLY: _Keys(possible=("offset_mm", "inverse")),
    UnitFaultKind.DRIFTED: _Keys(needed=("offset_mm",), possible=("after_s",)),
    UnitFaultKind.WIDE_HYSTERESIS: _Keys(possible=("percent",)),
    UnitFaultKind.NOISY_ECHO: _Keys(possible=("factor",)),
    UnitFaultKind.WRONG_KIND: _Keys(needed=("actual",)),
}
_WHEN = ("from_unit", "after_contacts", "after_s", "for_s")
_NEST = ("nest", *_WHEN)
_BENCH_KEYS: dict[str, _Keys] = {
    BenchFaultKind.TEACH_CONTACT_WELDED: _Keys(possible=("rail", *_NEST)),
    BenchFaultKind.TEACH_CONTACT_DEAD: _Keys(possible=("rail", *_NEST)),
    BenchFaultKind.SELECTOR_STUCK: _Keys(possible=_NEST),
    BenchFaultKind.RELAY_SLOW: _Keys(needed=("relay",), possible=("factor", *_NEST)),
    BenchFaultKind.SUPPLY_RELAY_DEAD: _Keys(possible=_NEST),
    BenchFaultKind.PICKUP_FALLEN_OFF: _Keys(possible=_NEST),
    BenchFaultKind.STOP_PRESSED: _Keys(possible=_WHEN),
    BenchFaultKind.SUPPLY_SAG: _Keys(needed=("voltage_v",), possible=_WHEN),
    BenchFaultKind.PROGRAM_KILLED: _Keys(possible=_WHEN),
    BenchFaultKind.PERSON_SILENT: _Keys(possible=_WHEN),
    BenchFaultKind.TARGET_MISPLACED: _Keys(needed=("offset_mm",), possible=_WHEN),
    BenchFaultKind.WRONG_HARNESS: _Keys(possible=_NEST),
    BenchFaultKind.OUTPUT_OPEN: _Keys(possible=_NEST),
    BenchFaultKind.OUTPUT_SHORTED: _Keys(needed=("rail",), possible=_NEST),
    BenchFaultKind.GAUGE_SILENT: _Keys(possible=_WHEN),
    BenchFaultKind.GAUGE_STUCK: _Keys(possible=_WHEN),
    BenchFaultKind.SCALE_MISREAD: _Keys(needed=("offset_mm",), possible=_WHEN),
    BenchFaultKind.TARGET_LEFT_IN: _Keys(possible=_WHEN),
    BenchFaultKind.STAGE_STALLED: _Keys(possible=_WHEN),
    BenchFaultKind.STAGE_LOSES_STEPS: _Keys(needed=("offset_mm",), possible=_WHEN),
    BenchFaultKind.STAGE_LATE: _Keys(possible=_WHEN),
    BenchFaultKind.OUTPUT_CHATTERS: _Keys(possible=_NEST),
    BenchFaultKind.RELAY_WELDED: _Keys(needed=("relay",), possible=_NEST),
    BenchFaultKind.RELAY_DEAD: _Keys(needed=("relay",), possible=_NEST),
    BenchFaultKind.HEARTBEAT_BRIDGED: _Keys(possible=_WHEN),
    BenchFaultKind.STOP_BRIDGED: _Keys(possible=_WHEN),
    BenchFaultKind.STOP_INPUT_DEAF: _Keys(possible=_WHEN),
    BenchFaultKind.LEAKAGE: _Keys(needed=("current_a",), possible=_NEST),
}

Offset = Annotated[
    float, Field(ge=-5000, le=5000, description="error of the distance in mm, positive is further away")
]
Seconds = Annotated[float, Field(ge=0, le=1e6)]


class UnitFault(DataModel):
    """One thing wrong with a unit.

    `over-current` draws `current_a`. `stores-wrongly` stores every point `offset_mm` too far, or the inverse
    output function, or both. `drifted` reads `offset_mm` too far from `after_s` after it was taught.
    `wide-hysteresis` takes `percent` of the distance. `noisy-echo` has `factor` times the noise of its kind.
    `wrong-kind`: the unit in the nest is really an `actual`.
    """

    kind: UnitFaultKind = Field(description="what is wrong with the unit")
    current_a: Annotated[float, Field(gt=0, le=2)] | None = Field(
        None, description="what it draws, in A (over-current)"
    )
    offset_mm: Offset | None = None
    inverse: bool | None = Field(None, description="the other output function is stored (stores-wrongly)")
    after_s: Seconds | None = Field(None, description="from being taught to the drift, in seconds (drifted)")
    percent: Annotated[float, Field(gt=0, le=50)] | None = Field(
        None, description="differential travel, in % of the distance (wide-hysteresis)"
    )
    factor: Annotated[float, Field(gt=1, le=1000)] | None = Field(
        None, description="how many times noisier than its kind (noisy-echo)"
    )
    actual: Name | None = Field(None, description="the kind that it really is (wrong-kind)")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield keys that this fault needs or does not know."""
        yield from _keys_that_do_not_fit(self, self.kind, _UNIT_KEYS)
        if self.kind is UnitFaultKind.STORES_WRONGLY and not (self.offset_mm or self.inverse):
            yield Contradiction(
                ("offset_mm",), "nothing would be wrong", allowed="offset_mm other than 0, or inverse = true"
            )


class BenchFault(DataModel):
    """One thing wrong with the bench, from a moment on, for good or for `for_s` seconds.

    The moment: when unit number `from_unit` is put in (else from the start), then after `after_contacts`
    closings of a teach contact, then `after_s` seconds later. `nest` is the first nest if not given.
    `teach-contact-*` with two contacts means the one to `rail` (L- if not given). `relay-slow` makes `relay`
    `factor` times as slow. `supply-sag` pulls the supply down to `voltage_v`. `target-misplaced` puts the
    target `offset_mm` too far. `output-shorted` joins the unit's output to `rail`. `gauge-silent` and `gauge-stuck`
    befall the distance gauge. With `scale-misread` the person reads `offset_mm` too much, with `target-left-in`
    says 'done' without taking the target out of the beam, or the swing of a stage is stuck. A stage that is
    `stage-stalled` halts on its way, with `stage-loses-steps` ends `offset_mm` short of every place, with `stage-late`
    answers too late. With `output-chatters` the output wire opens and closes. `relay-welded` and `relay-dead` are for
    any `relay`. With `heartbeat-bridged` the coils are supplied without pulses, with `stop-bridged` the stop button
    does not cut them, with `stop-input-deaf` its input is deaf. `leakage` draws `current_a` from the unit's supply.
    """

    kind: BenchFaultKind = Field(description="what is wrong with the bench")
    nest: Annotated[str, Field(min_length=1, max_length=12)] | None = Field(
        None, description="name of the nest, the first if absent"
    )
    rail: Rail | None = Field(None, description="which rail the fault concerns")
    relay: RelayName | None = Field(
        None, description="which relay it is (relay-slow, relay-welded, relay-dead)"
    )
    factor: Annotated[float, Field(gt=1, le=1000)] | None = Field(
        None, description="how many times as slow (relay-slow)"
    )
    current_a: Annotated[float, Field(gt=0, le=2)] | None = Field(
        None, description="what leaks, in A (leakage)"
    )
    voltage_v: Annotated[float, Field(ge=0, le=30)] | None = Field(
        None, description="what the supply sags to, in V (supply-sag)"
    )
    offset_mm: Offset | None = None
    from_unit: Annotated[int, Field(ge=1, le=1_000_000)] | None = Field(
        None, description="the fault begins when this unit is put in, counted from 1"
    )
    after_contacts: Annotated[int, Field(ge=1, le=1_000_000)] | None = Field(
        None, description="and after so many closings of a teach contact"
    )
    after_s: Seconds | None = Field(None, description="and so many seconds later")
    for_s: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        None, description="how long it lasts, in seconds; for good if absent"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield keys that this fault needs or does not know."""
        yield from _keys_that_do_not_fit(self, self.kind, _BENCH_KEYS)


def _keys_that_do_not_fit(fault: DataModel, kind: str, table: Mapping[str, _Keys]) -> Iterator[Contradiction]:
    keys = table.get(kind, _Keys())
    own = ("kind", *keys.needed, *keys.possible)
    for key in keys.needed:
        if getattr(fault, key) is None:
            yield Contradiction((key,), f"fault {kind} needs {key}", allowed=", ".join(own))
    for key in type(fault).model_fields:
        if key not in own and getattr(fault, key) is not None:
            yield Contradiction((key,), f"fault {kind} knows no {key}", allowed=", ".join(own))
