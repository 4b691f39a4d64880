"""The copper of one nest: from relay contacts to the unit's wires, and from those to the isolated inputs."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from hal.simulated.clock import NS
from hal.simulated.led import PickUp
from hal.simulated.pins import SimulatedPins
from hal.simulated.record import (
    ContactSeen,
    HandsInLiveNest,
    Place,
    RailsJoined,
    Record,
    SelectorMovedUnderLoad,
)
from hal.simulated.relay import Relay
from hal.simulated.supply import Coils, Sense, Supply
from hal.simulated.timeline import Timeline
from hal.simulated.unit import Drive, Socket, Unit
from wiring.electrical import TYPE_3_OFF_V, TYPE_3_ON_V
from wiring.profile import NestProfile, RelayLine
from wiring.terms import Rail

_DROP_V = 2.0  # across an output stage that is on; IEC 60947-5-2 allows 3.5 V (both from memory)
_UNIT_NEEDS_V = 10.0
_CONTACTS = ("teach_contact", "plus_contact", "minus_contact")


@dataclass(frozen=True, slots=True)
class Mains:
    """What all nests share."""

    timeline: Timeline
    pins: SimulatedPins
    supply: Supply
    coils: Coils
    record: Record


class NestCircuit(Socket):
    """The relays, wires and inputs of one nest, with or without a unit in it."""

    def __init__(self, profile: NestProfile, mains: Mains, draw: random.Random, light: PickUp) -> None:
        self.name = profile.name
        self.unit: Unit | None = None
        self.on_contact: list[Callable[[], None]] = []
        self.wrong_harness = False
        self.output_cut = False
        self.rattling = False
        self.leakage_a = 0.0
        self.output_shorted_to: Rail | None = None
        self.pick_up = light
        self._profile = profile
        self._timeline = mains.timeline
        self._fed_sense = Sense(mains.pins, profile.supply_sense)
        self._wire_at_plus = Sense(mains.pins, profile.teach_at_plus)
        self._wire_at_minus = Sense(mains.pins, profile.teach_at_minus)
        self._at_plus = Sense(mains.pins, profile.output_at_plus)
        self._at_minus = Sense(mains.pins, profile.output_at_minus)
        self._supply = mains.supply
        self._record = mains.record
        self._joined: RailsJoined | None = None
        self._touching = False
        self._load_a = 0.0
        self.relays = self._make_relays(mains, draw)
        mains.supply.on_change.append(self._refresh)
        mains.supply.loads.append(self._current_a)
        self._refresh()

    # Hands

    def fit(self, unit: Unit) -> None:
        """Put a unit into the nest."""
        self._note_hands()
        self.unit = unit
        unit.attach(self)
        self._refresh()

    def remove(self) -> Unit | None:
        """Take the unit out."""
        self._note_hands()
        unit, self.unit = self.unit, None
        if unit is not None:
            unit.detach()
        self._refresh()
        return unit

    def rewire(self) -> None:
        """Let a change of `wrong_harness`, `output_cut` or `output_shorted_to` take effect."""
        self._refresh()

    # What the unit tells

    def output_changed(self) -> None:
        """Follow the unit's output stage."""
        self._follow_output()
        self._supply.load_changed()

    def led_changed(self) -> None:
        """Follow the unit's LED."""
        self.pick_up.see(self.unit is not None and self.unit.led.lit)

    def contact_seen(self, rail: Rail, start_ns: int, end_ns: int) -> None:
        """Note what the unit saw of the teach wire."""
        self._record.contacts.append(ContactSeen(self.name, rail, start_ns, end_ns))

    # Relays

    def _make_relays(self, mains: Mains, draw: random.Random) -> dict[str, Relay]:
        moves = {
            "supply": self._supply_moved,
            "rail_selector": self._selector_moved,
            "teach_contact": self._teach_moved,
            "plus_contact": self._teach_moved,
            "minus_contact": self._teach_moved,
            "load": self._follow_output,
        }
        relays = {}
        for key, on_move in moves.items():
            line: RelayLine | None = getattr(self._profile, key)
            if line is not None:
                relays[key] = Relay(
                    f"{self.name}.{key}",
                    line,
                    mains.pins,
                    mains.timeline,
                    mains.coils,
                    mains.record,
                    draw,
                    on_move,
                    change_over=key in ("rail_selector", "load"),
                )
        return relays

    def _closed(self, key: str) -> bool:
        relay = self.relays.get(key)
        return relay is not None and relay.closed

    def _supply_moved(self) -> None:
        live = self._rails_live()
        fed = live and self._closed("supply")
        self._fed_sense.show(fed)
        if self.unit is not None:
            self.unit.feed(fed and not self.wrong_harness)
        self._supply.load_changed()
        self._follow_output()

    def _selector_moved(self) -> None:
        if self._closed("teach_contact") and self.relays["rail_selector"].place is Place.BETWEEN:
            self._record.incidents.append(SelectorMovedUnderLoad(self.name, self._timeline.now_ns))
        self._follow_teach_wire()

    def _teach_moved(self) -> None:
        self._watch_rails()
        self._follow_teach_wire()
        contacts = [relay for key, relay in self.relays.items() if key in _CONTACTS]
        if all(relay.place is Place.REST for relay in contacts):
            self._touching = False
        elif not self._touching and any(relay.closed for relay in contacts):
            self._touching = True  # and stays so while the contact bounces
            for tell in self.on_contact:
                tell()

    def _watch_rails(self) -> None:
        joined = self._closed("plus_contact") and self._closed("minus_contact")
        now_ns = self._timeline.now_ns
        if joined and self._joined is None:
            self._joined = RailsJoined(self.name, now_ns)
            self._record.incidents.append(self._joined)
        elif not joined and self._joined is not None:
            self._joined.end_ns = now_ns
            self._joined.energy_j = self._supply.join_power_w() * (now_ns - self._joined.start_ns) / NS
            self._joined = None
        else:
            return
        self._supply.rails_joined += 1 if joined else -1
        self._supply.load_changed()

    # Wires

    def _rails_live(self) -> bool:
        return self._supply.voltage_v >= _UNIT_NEEDS_V

    def _refresh(self) -> None:
        self._supply_moved()
        self._follow_teach_wire()
        self.led_changed()

    def _wire_rail(self) -> Rail | None:
        if not self._rails_live() or self._joined is not None:
            return None
        if self._closed("teach_contact"):
            place = self.relays["rail_selector"].place
            if place is Place.BETWEEN:
                return None
            return Rail.PLUS if place is Place.WORK else Rail.MINUS
        if self._closed("plus_contact"):
            return Rail.PLUS
        return Rail.MINUS if self._closed("minus_contact") else None

    def _follow_teach_wire(self) -> None:
        rail = self._wire_rail()
        self._wire_at_plus.show(rail is Rail.PLUS)
        self._wire_at_minus.show(rail is Rail.MINUS)
        if self.unit is not None:
            self.unit.wire(rail)

    def _follow_output(self) -> None:
        voltage_v = self._output_v()
        if voltage_v is None or not self._rails_live():
            voltage_v = (TYPE_3_ON_V + TYPE_3_OFF_V) / 2  # between the thresholds neither input is on
        self._at_plus.show(voltage_v > TYPE_3_ON_V)
        self._at_minus.show(voltage_v < TYPE_3_OFF_V)

    def _output_v(self) -> float | None:
        """Voltage of the output channel against L-, None where nothing drives it; notes the load current."""
        plus_v = self._supply.voltage_v
        load_v = self._load_v(plus_v)
        driven_v = self._driven_v(plus_v)
        self._load_a = 0.0
        if driven_v is None:
            return self._through_harness(load_v, plus_v)
        if load_v is not None:
            self._load_a = abs(load_v - driven_v) / self._profile.load_resistor_ohm
        return driven_v

    def _load_v(self, plus_v: float) -> float | None:
        place = self.relays["load"].place
        if place is Place.BETWEEN:
            return None
        return plus_v if place is Place.WORK else 0.0

    def _driven_v(self, plus_v: float) -> float | None:
        if self.output_shorted_to is Rail.MINUS:
            return 0.0
        if self.output_shorted_to is Rail.PLUS:
            return plus_v if self._closed("supply") else None
        if self.unit is None or self.output_cut:
            return None
        drive = self.unit.drive
        if drive is Drive.OPEN:
            return None
        return plus_v - _DROP_V if drive is Drive.HIGH else _DROP_V

    def _through_harness(self, load_v: float | None, plus_v: float) -> float | None:
        if not self.wrong_harness or self.unit is None or not load_v:
            return load_v
        # L+ and output are exchanged: the unit's supply pin hangs on the channel and pulls it down.
        unit_ohm = plus_v / self.unit.kind.current_a
        self._load_a = load_v / (self._profile.load_resistor_ohm + unit_ohm)
        return self._load_a * unit_ohm

    def _current_a(self) -> float:
        leaking_a = self.leakage_a if self._closed("supply") else 0.0
        return self._load_a + leaking_a + (0.0 if self.unit is None else self.unit.current_a)

    def _note_hands(self) -> None:
        if self._closed("supply") and self._rails_live():
            self._record.incidents.append(HandsInLiveNest(self.name, self._timeline.now_ns))
