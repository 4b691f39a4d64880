"""Lets the faults of the bench file befall the bench, each at its moment."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from hal.simulated.circuit import NestCircuit
from hal.simulated.clock import NS
from hal.simulated.faults import BenchFault, BenchFaultKind
from hal.simulated.gauge import Gauge
from hal.simulated.relay import Relay
from hal.simulated.supply import Coils, Supply
from hal.simulated.target import Target
from hal.simulated.timeline import Timeline
from wiring.terms import Rail

# A stage that stalls makes this share of its way; one that is late answers after its time-outs.
_STALLED_AT, _LATE_S = 0.4, 10.0
# A loose plug opens and closes as the bench shakes.
_RATTLE_NS = 17_000_000


class Bench(Protocol):
    """What can go wrong."""

    timeline: Timeline
    supply: Supply
    coils: Coils
    target: Target
    nests: dict[str, NestCircuit]
    gauge: Gauge | None
    person_silent: bool
    misread_mm: float
    target_left_in: bool


class Mishap:
    """One fault on its way: waits for its unit, then for contacts, then for its time."""

    def __init__(self, fault: BenchFault, bench: Bench) -> None:
        self._fault = fault
        self._bench = bench
        self._contacts_left: int | None = None
        for nest in bench.nests.values():
            nest.on_contact.append(self._contact_made)
        if fault.from_unit is None:
            self._await_contacts()

    def unit_fitted(self, number: int) -> None:
        """Take notice of the unit that is in now."""
        if number == self._fault.from_unit:
            self._await_contacts()

    def _await_contacts(self) -> None:
        self._contacts_left = self._fault.after_contacts
        if self._contacts_left is None:
            self._await_time()

    def _contact_made(self) -> None:
        if self._contacts_left:
            self._contacts_left -= 1
            if self._contacts_left == 0:
                self._await_time()

    def _await_time(self) -> None:
        timeline, delay_s = self._bench.timeline, self._fault.after_s
        if delay_s:
            timeline.after(round(delay_s * NS), self._begin)
        else:
            self._begin()

    def _begin(self) -> None:
        _EFFECTS[self._fault.kind](self._bench, self._fault, True)
        if self._fault.for_s is not None:
            self._bench.timeline.after(round(self._fault.for_s * NS), self._end)

    def _end(self) -> None:
        _EFFECTS[self._fault.kind](self._bench, self._fault, False)


def nest_of(bench: Bench, fault: BenchFault) -> NestCircuit:
    """The nest that a fault befalls."""
    return bench.nests[fault.nest or next(iter(bench.nests))]


def teach_contact_of(nest: NestCircuit, rail: Rail | None) -> Relay:
    """The relay that closes the teach wire to a rail."""
    if "teach_contact" in nest.relays:
        return nest.relays["teach_contact"]
    return nest.relays["plus_contact" if rail is Rail.PLUS else "minus_contact"]


def _weld(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = teach_contact_of(nest_of(bench, fault), fault.rail)
    relay.welded = on
    relay.review()


def _kill_contact(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = teach_contact_of(nest_of(bench, fault), fault.rail)
    relay.dead = on
    relay.review()


def _kill_supply_relay(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = nest_of(bench, fault).relays["supply"]
    relay.dead = on
    relay.review()


def _stick(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = nest_of(bench, fault).relays["rail_selector"]
    relay.stuck = on
    relay.review()


def _slow_down(bench: Bench, fault: BenchFault, on: bool) -> None:
    assert fault.relay is not None
    nest_of(bench, fault).relays[fault.relay].slowness = (fault.factor or 3.0) if on else 1.0


def _drop_pick_up(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest_of(bench, fault).pick_up.attach(not on)


def _press_stop(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.coils.press_stop(on)


def _sag(bench: Bench, fault: BenchFault, on: bool) -> None:
    bench.supply.sag(fault.voltage_v if on else None)


def _kill_program(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.coils.hears_program = not on


def _silence(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.person_silent = on


def _misplace(bench: Bench, fault: BenchFault, on: bool) -> None:
    bench.target.misplaced_mm = (fault.offset_mm or 0.0) if on else 0.0


def _exchange_wires(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest = nest_of(bench, fault)
    nest.wrong_harness = on
    nest.rewire()


def _cut_output(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest = nest_of(bench, fault)
    nest.output_cut = on
    nest.rewire()


def _short_output(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest = nest_of(bench, fault)
    nest.output_shorted_to = fault.rail if on else None
    nest.rewire()


def _silence_gauge(bench: Bench, _: BenchFault, on: bool) -> None:
    assert bench.gauge is not None, "the world refuses the fault on a rig without a gauge"
    bench.gauge.silent = on


def _stick_gauge(bench: Bench, _: BenchFault, on: bool) -> None:
    assert bench.gauge is not None, "the world refuses the fault on a rig without a gauge"
    bench.gauge.stick(on)


def _misread(bench: Bench, fault: BenchFault, on: bool) -> None:
    bench.misread_mm = (fault.offset_mm or 0.0) if on else 0.0


def _leave_target_in(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.target_left_in = bench.target.stays_in = on


def _stall(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.target.reaches = _STALLED_AT if on else 1.0


def _lose_steps(bench: Bench, fault: BenchFault, on: bool) -> None:
    bench.target.lost_mm = (fault.offset_mm or 0.0) if on else 0.0


def _answer_late(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.target.late_s = _LATE_S if on else 0.0


def _rattle(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest = nest_of(bench, fault)
    nest.rattling = on

    def shake() -> None:
        nest.output_cut = nest.rattling and not nest.output_cut
        nest.rewire()
        if nest.rattling:
            bench.timeline.after(_RATTLE_NS, shake)

    shake()


def _weld_relay(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = _relay_of(bench, fault)
    relay.welded = on
    relay.review()


def _kill_relay(bench: Bench, fault: BenchFault, on: bool) -> None:
    relay = _relay_of(bench, fault)
    relay.dead = on
    relay.review()


def _relay_of(bench: Bench, fault: BenchFault) -> Relay:
    assert fault.relay is not None, "the model demands a relay"
    return nest_of(bench, fault).relays[fault.relay]


def _bridge_heartbeat(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.coils.bridge(heartbeat=on)


def _bridge_stop(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.coils.bridge(stop=on)


def _deafen_stop(bench: Bench, _: BenchFault, on: bool) -> None:
    bench.coils.stop_is_heard = not on


def _leak(bench: Bench, fault: BenchFault, on: bool) -> None:
    nest = nest_of(bench, fault)
    nest.leakage_a = (fault.current_a or 0.0) if on else 0.0
    nest.rewire()


_EFFECTS: dict[BenchFaultKind, Callable[[Bench, BenchFault, bool], None]] = {
    BenchFaultKind.TEACH_CONTACT_WELDED: _weld,
    BenchFaultKind.TEACH_CONTACT_DEAD: _kill_contact,
    BenchFaultKind.SELECTOR_STUCK: _stick,
    BenchFaultKind.RELAY_SLOW: _slow_down,
    BenchFaultKind.SUPPLY_RELAY_DEAD: _kill_supply_relay,
    BenchFaultKind.PICKUP_FALLEN_OFF: _drop_pick_up,
    BenchFaultKind.STOP_PRESSED: _press_stop,
    BenchFaultKind.SUPPLY_SAG: _sag,
    BenchFaultKind.PROGRAM_KILLED: _kill_program,
    BenchFaultKind.PERSON_SILENT: _silence,
    BenchFaultKind.TARGET_MISPLACED: _misplace,
    BenchFaultKind.WRONG_HARNESS: _exchange_wires,
    BenchFaultKind.OUTPUT_OPEN: _cut_output,
    BenchFaultKind.OUTPUT_SHORTED: _short_output,
    BenchFaultKind.GAUGE_SILENT: _silence_gauge,
    BenchFaultKind.GAUGE_STUCK: _stick_gauge,
    BenchFaultKind.SCALE_MISREAD: _misread,
    BenchFaultKind.TARGET_LEFT_IN: _leave_target_in,
    BenchFaultKind.STAGE_STALLED: _stall,
    BenchFaultKind.STAGE_LOSES_STEPS: _lose_steps,
    BenchFaultKind.STAGE_LATE: _answer_late,
    BenchFaultKind.OUTPUT_CHATTERS: _rattle,
    BenchFaultKind.RELAY_WELDED: _weld_relay,
    BenchFaultKind.RELAY_DEAD: _kill_relay,
    BenchFaultKind.HEARTBEAT_BRIDGED: _bridge_heartbeat,
    BenchFaultKind.STOP_BRIDGED: _bridge_stop,
    BenchFaultKind.STOP_INPUT_DEAF: _deafen_stop,
    BenchFaultKind.LEAKAGE: _leak,
}
