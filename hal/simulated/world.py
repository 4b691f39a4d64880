"""The simulated bench as a whole: electrons, air, sound, units and hands."""

from __future__ import annotations

import asyncio
import random
from collections.abc import Callable, Iterable, Iterator

from hal.simulated.air import Air
from hal.simulated.benchfile import BenchFile
from hal.simulated.circuit import Mains, NestCircuit
from hal.simulated.clock import NS
from hal.simulated.faults import BenchFault, BenchFaultKind
from hal.simulated.gauge import Gauge
from hal.simulated.led import PickUp
from hal.simulated.mishaps import Mishap
from hal.simulated.pins import SimulatedPins
from hal.simulated.probe import SimulatedCodeReader
from hal.simulated.record import Place, Record
from hal.simulated.relay import Relay
from hal.simulated.seating import Seating
from hal.simulated.shelf import unit_at, units
from hal.simulated.supply import Coils, Sense, Supply
from hal.simulated.target import Target
from hal.simulated.timeline import Event, Timeline
from hal.simulated.unit import Surroundings, Unit
from wiring.problems import DataFileError, Problem
from wiring.profile import InputLine, NestProfile, RigProfile, TargetKind

_SLOT_WIDTH_MM = 0.5
_STAGE_FAULTS = (
    BenchFaultKind.STAGE_STALLED,
    BenchFaultKind.STAGE_LOSES_STEPS,
    BenchFaultKind.STAGE_LATE,
)
_GAUGE_FAULTS = (BenchFaultKind.GAUGE_SILENT, BenchFaultKind.GAUGE_STUCK)
_SELECTOR_KEYS = {BenchFaultKind.SELECTOR_STUCK: "rail_selector"}


class World:
    """Everything beyond the pins and the ports.

    `record` tells tests what really happened. Raises `DataFileError` for a bench file that names a nest or a
    relay that the rig profile does not have, or a unit without a kind.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop, profile: RigProfile, bench_file: BenchFile) -> None:
        _refuse_misfits(profile, bench_file)
        self.profile = profile
        self.timeline = Timeline(loop)
        self.pins = SimulatedPins(self.timeline)
        self.record = Record()
        self.person_silent = False
        self.misread_mm = 0.0
        self.target_left_in = False
        self.units_fitted = 0
        self.puts_in = ""
        self._draw = random.Random(f"{bench_file.seed}/bench")
        self._seating = Seating(bench_file.seating, bench_file.seed)
        self.code_reader = SimulatedCodeReader()
        self.air = Air(self.timeline, **bench_file.air.model_dump())
        self.supply = Supply(self.timeline, profile.supply)
        rated_v = profile.supply.voltage_v
        self.coils = Coils(self.timeline, self.pins, profile.coil_supply, self.supply, rated_v=rated_v)
        self.target = self._make_target(bench_file)
        self.gauge = None if profile.target.gauge is None else Gauge(self.timeline, self.target, bench_file)
        self.nests = {nest.name: self._make_nest(nest, bench_file) for nest in profile.nest}
        self._around = Surroundings(self.timeline, self.air, self.target)
        self._shelf = units(bench_file, self._around)
        self._boxed = bench_file if bench_file.boxed else None
        self._kept: dict[str, Unit] = {}
        self._foot_switch = Sense(self.pins, profile.foot_switch)
        with self.timeline:
            self._mishaps = [Mishap(fault, self) for fault in bench_file.fault]

    @property
    def now_ns(self) -> int:
        """Now, in nanoseconds on the loop's clock."""
        return self.timeline.now_ns

    def at(self, when_ns: int, happening: Callable[[], None]) -> Event:
        """Let something happen at a time; the event can be cancelled."""
        return self.timeline.at(when_ns, happening)

    # Hands

    def keep(self, serials: Iterable[str]) -> None:
        """Take a unit of the row for each serial; from now on it is put in again whenever that serial is asked for."""
        self._kept = dict(zip(serials, self._shelf, strict=False))

    def fit_next(self, nest: str | None = None, serial: str | None = None) -> Unit | None:
        """Put the unit kept for a serial into a nest, or that of its place in the box, else the next of the row.

        None when there are no more, or the box has no such place.
        """
        with self.timeline:
            circuit = self.nests[nest] if nest is not None else self._nest(occupied=False)
            if circuit.unit is not None:
                circuit.remove()
            unit = self._kept.get(serial or "") or self._taken(serial or "")
            if unit is not None:
                self.target.seat(self._seating.sits_mm(self.puts_in))
                circuit.fit(unit)
                self.units_fitted += 1
                for mishap in self._mishaps:
                    mishap.unit_fitted(self.units_fitted)
            return unit

    def remove(self, nest: str | None = None) -> Unit | None:
        """Take the unit out of a nest; None if there is none."""
        with self.timeline:
            circuit = self.nests[nest] if nest is not None else self._nest(occupied=True)
            return circuit.remove()

    def press_foot_switch(self, for_s: float = 0.2) -> None:
        """Step on the foot switch for a moment."""
        with self.timeline:
            self._foot_switch.show(True)
            self.timeline.after(round(for_s * NS), lambda: self._foot_switch.show(False))

    def _taken(self, serial: str) -> Unit | None:
        place = serial.rpartition("-")[2]
        if self._boxed is None or not place.isdecimal():
            return next(self._shelf, None)
        unit = unit_at(self._boxed, self._around, int(place))
        if unit is not None:
            self._kept[serial] = unit
        return unit

    # Making

    def _nest(self, *, occupied: bool) -> NestCircuit:
        nests = self.nests.values()
        fitting = (nest for nest in nests if (nest.unit is not None) is occupied)
        return next(fitting, next(iter(nests)))

    def _make_nest(self, profile: NestProfile, bench_file: BenchFile) -> NestCircuit:
        light, sense = bench_file.light, Sense(self.pins, profile.led)
        pick_up = PickUp(self.timeline, self._draw, sense.show, ambient=light.ambient, leaks=light.leaks)
        mains = Mains(self.timeline, self.pins, self.supply, self.coils, self.record)
        return NestCircuit(profile, mains, self._draw, pick_up)

    def _make_target(self, bench_file: BenchFile) -> Target:
        profile, truth = self.profile.target, bench_file.target
        target = Target(
            self.timeline,
            self._draw,
            start_mm=profile.farthest_mm,
            placement_mm=profile.placement_mm,
            side_mm=profile.side_mm,
            swing_s=profile.swing_s,
            in_beam=profile.kind is TargetKind.STAGE,
            zero_mm=truth.zero_mm,
            stretch=1 + truth.scale_percent / 100,
        )
        if profile.swing is not None:
            swing = Relay(
                "target.swing",
                profile.swing,
                self.pins,
                self.timeline,
                self.coils,
                self.record,
                self._draw,
                lambda: _swing(swing, target),
            )
        for slot in profile.slots:
            switch = InputLine(line=slot.line, active=slot.active)
            target.on_change.append(_slot_switch(Sense(self.pins, switch), target, slot.position_mm))
        return target


def _swing(relay: Relay, target: Target) -> None:
    if relay.place is not Place.BETWEEN:
        target.swing(out=relay.closed)


def _slot_switch(sense: Sense, target: Target, position_mm: float) -> Callable[[], None]:
    def follow() -> None:
        near = abs(target.position_mm() - position_mm) < _SLOT_WIDTH_MM
        sense.show(target.in_beam and not target.moving and near)

    return follow


def _refuse_misfits(profile: RigProfile, bench_file: BenchFile) -> None:
    problems = tuple(_misfits(profile, bench_file))
    if problems:
        raise DataFileError(problems)


def _misfits(profile: RigProfile, bench_file: BenchFile) -> Iterator[Problem]:
    what = f"simulated bench for rig {profile.name}"
    for index, row in enumerate(bench_file.unit, start=1):
        if row.kind is None:
            allowed = ", ".join(bench_file.kinds())
            yield Problem(what, None, f"unit#{index}.kind", "nobody says what kind it is", "", allowed)
            break
    nests = {nest.name: nest for nest in profile.nest}
    for index, fault in enumerate(bench_file.fault, start=1):
        if fault.kind in _GAUGE_FAULTS and profile.target.gauge is None:
            words, allowed = "the rig has no gauge", "a rig whose target has a gauge"
            yield Problem(what, None, f"fault#{index}.kind", words, fault.kind, allowed)
        if fault.kind in _STAGE_FAULTS and profile.target.kind is not TargetKind.STAGE:
            words, allowed = "the rig has no stage", "a rig whose target is moved by a stage"
            yield Problem(what, None, f"fault#{index}.kind", words, fault.kind, allowed)
        nest = nests.get(fault.nest or profile.nest[0].name)
        if nest is None:
            words = "the rig has no such nest"
            yield Problem(what, None, f"fault#{index}.nest", words, str(fault.nest), ", ".join(nests))
        elif (relay := _relay_of(fault)) is not None and getattr(nest, relay) is None:
            words = f"nest {nest.name} has no {relay}"
            allowed = f"a relay of topology {nest.topology}"
            yield Problem(what, None, f"fault#{index}.kind", words, fault.kind, allowed)


def _relay_of(fault: BenchFault) -> str | None:
    return fault.relay or _SELECTOR_KEYS.get(fault.kind)
