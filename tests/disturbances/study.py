"""Orders on a bench whose serial cables are disturbed, and what became of units, relays and work."""

from __future__ import annotations

import asyncio
import random
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from hal.bench import Bench, open_bench
from hal.errors import InstrumentError, TripCause
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import UnitFault
from rig.chronicle import Chronicle, TimeBase
from rig.events import Stamped, UnitJudged, Verdict
from rig.jobs import job_of
from rig.sequencer.desk import Listed
from rig.sequencer.order_run import OrderRun
from rig.session import SIMULATED_START
from tests.disturbances.cables import SEEN_AT_ONCE, Harness, Kind, Trouble
from tests.rig.planned import STAGE, Job, job
from tests.rig.sequencer.floor import rig_like
from tests.rig.sequencer.lottery import Truth
from wiring.profile import find_profile, load_profile

OFF_WITHIN_S = 0.020
"""From the loss of a cable, or from the trip where only silence tells, to the last relay open."""
LONGEST_S = 900.0
"""Of simulated time for one order that is opened again and again: more is a hang."""

# A code has no check digit: what these make of it may be another code, or what another instrument says.
_MAKE_CODES = frozenset({Kind.GARBLED, Kind.NOISE, Kind.ECHO, Kind.EXCHANGED, Kind.REPLUGGED_WRONG})
_SCANS_S, _CODE = 0.7, "QOC18-0041"
_PERSON_S = 5.0  # a person looks at the cable before they open the bench again
_UNITS = 2
_CLEAR = (Verdict.GOOD, Verdict.BAD)

_PROBED = rig_like(
    STAGE,
    air=STAGE.air.model_dump(mode="json") | {"probe": {"port": "sim:probe"}},
    code_reader={"port": "sim:reader"},
)
_GAUGED = load_profile(find_profile("hand-gauge"))
_POINT = {"at_mm": 400.0, "tolerance_mm": 8.0}
JOBS = {
    "stage, supply, air probe, code reader": job(
        "barrel-18-rail", "single-point", "NO", rig=_PROBED, **_POINT
    ),
    "window": job("barrel-18-rail", "window", "NC", rig=_PROBED, near_mm=200, far_mm=500, tolerance_mm=8),
    "gauge by hand": job("barrel-18-rail", "single-point", "NO", rig=_GAUGED, **_POINT),
}
_WEIGHTS = (6, 3, 1)  # an order by hand takes ten times as long
_FAULTS = (
    {"kind": "stores-wrongly", "offset_mm": 24.0},
    {"kind": "over-current"},
    {"kind": "wrong-output-type"},
    {"kind": "refuses-teach"},
    {"kind": "wide-hysteresis", "percent": 15.0},
)


@dataclass
class Tally:
    """What became of all disturbances; everything in `broken` is an error of the program."""

    disturbances: int = 0
    seconds: float = 0.0
    by_kind: Counter[str] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    verdicts: Counter[str] = field(default_factory=Counter)
    openings: int = 0
    codes: int = 0
    slowest_off_s: float = 0.0
    broken: list[str] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        """For people."""
        yield f"{self.disturbances} serial disturbances in {self.seconds:.0f} s, {self.openings} openings of the bench"
        for kind, count in sorted(self.by_kind.items()):
            yield f"  {count:4} {kind}"
        yield "what it came to: " + ", ".join(f"{count} {how}" for how, count in self.ended.most_common())
        yield "units: " + ", ".join(f"{count} {what}" for what, count in sorted(self.verdicts.items()))
        yield f"codes read: {self.codes}"
        yield f"slowest relays off: {self.slowest_off_s * 1000:.1f} ms"
        yield f"hung, falsely good, falsely bad, late off, or not gone on: {len(self.broken)}"
        yield from self.broken


@dataclass
class Order:
    """One order of the study, opened again until it is done."""

    seed: int
    tally: Tally
    left: list[str] = field(default_factory=lambda: [f"QOC-{number}" for number in range(1, _UNITS + 1)])

    def __post_init__(self) -> None:
        draw = self._draw = random.Random(f"disturbance {self.seed}")
        self.name = draw.choices(list(JOBS), _WEIGHTS)[0]
        self.made: Job = JOBS[self.name]
        ports = [port.name for port in self.made.rig.ports()]
        kind = draw.choice(list(Kind))
        port, other = draw.sample(ports, 2)
        begin_s = draw.uniform(0.0, 200.0 if self.made.rig is _GAUGED else 60.0)
        length_s = 0.05 * 600 ** draw.random()
        self.trouble = Trouble(kind, port, other, begin_s, begin_s + length_s, 10 ** draw.uniform(-2, 0.7))
        self.faults = {
            serial: (UnitFault.model_validate(draw.choice(_FAULTS)),) if draw.random() < 0.4 else ()
            for serial in self.left
        }
        self._tripped = ""

    def __str__(self) -> str:
        trouble = self.trouble
        return (
            f"seed {self.seed}: {self.name}, {trouble.port} {trouble.kind} (with {trouble.other}) "
            f"{trouble.begin_s:.3f} to {trouble.end_s:.3f} s"
        )

    async def run(self) -> None:
        """Open the bench again and again until every unit is judged."""
        self.tally.by_kind[str(self.trouble.kind)] += 1
        begun_s = asyncio.get_running_loop().time()
        try:
            async with asyncio.timeout(LONGEST_S):
                while self.left:
                    await self._open()
                    await asyncio.sleep(_PERSON_S)
        except TimeoutError:
            self._broken(f"not done after {LONGEST_S:g} s, {self.left} left, last: {self._tripped}")
        troubled = asyncio.get_running_loop().time() - begun_s >= self.trouble.begin_s
        how = "bench tripped or would not open" if self._tripped else "borne" if troubled else "came too late"
        self.tally.ended[how] += 1

    async def _open(self) -> None:
        loop, rig = asyncio.get_running_loop(), self.made.rig
        rows = tuple(UnitRow(faults=self.faults[serial]) for serial in self.left)
        furnished = BenchFile(title="test", seed=self.seed, unit=rows)
        setting = self.made.setting
        simulated = simulate(
            rig, furnished.as_ordered(self.made.order.sensor_type, setting.output_type), loop
        )
        self.tally.openings += 1
        harness: Harness | None = None
        try:
            harness = Harness(simulated.wires, self.trouble, self.seed)
            async with await open_bench(rig, simulated.pin_factory, harness.near) as bench:
                await self._work(simulated, bench)
        except InstrumentError as failure:
            self._tripped = str(failure)
        finally:
            if harness is not None:
                harness.end()

    async def _work(self, simulated: SimulatedBench, bench: Bench) -> None:
        simulated.person.attach(bench.operator)
        chronicle = Chronicle(asyncio.get_running_loop(), None, TimeBase(SIMULATED_START))
        chronicle.watch(lambda stamped: self._look(stamped, simulated))
        self._watch_relays(simulated, bench)
        scans = self._scan(simulated, bench)
        made = self.made
        run = OrderRun(
            bench,
            chronicle,
            job_of(made.order, made.sensor_type, made.rig, made.plan),
            Listed(tuple(self.left)),
            "test",
        )
        try:
            result = await run.run()
        finally:
            scans.cancel()
        if result.trip is not None:
            self._tripped = f"{result.trip.kind}: {result.trip}"
            await asyncio.sleep(OFF_WITHIN_S)
            self._all_off(simulated, "after the order")
        for serial, verdict in result.verdicts.items():
            if verdict in _CLEAR:
                self.left.remove(serial)

    def _scan(self, simulated: SimulatedBench, bench: Bench) -> asyncio.Future[None]:
        """Let a person scan the same code again and again: it comes whole, or not at all."""
        if bench.code_reader is not None:
            bench.code_reader.on_code.append(self._read)

        async def scan() -> None:
            while True:
                await asyncio.sleep(_SCANS_S)
                simulated.world.code_reader.scan(_CODE)

        return asyncio.ensure_future(scan())

    def _read(self, code: str) -> None:
        self.tally.codes += 1
        if code != _CODE and self.trouble.kind not in _MAKE_CODES:
            self._broken(f"the reader made {code!r} of {_CODE}")

    def _watch_relays(self, simulated: SimulatedBench, bench: Bench) -> None:
        loop, trouble = asyncio.get_running_loop(), self.trouble

        def tripped(_: TripCause) -> None:
            loop.call_later(OFF_WITHIN_S, self._all_off, simulated, "after the trip")
            self._time_off(simulated)

        bench.interlock.on_trip.append(tripped)
        must_stay = {port.name for port in bench.profile.ports() if port.must_stay}
        if trouble.kind in SEEN_AT_ONCE and trouble.port in must_stay and loop.time() < trouble.begin_s:
            loop.call_at(
                trouble.begin_s + OFF_WITHIN_S, self._all_off, simulated, "after the plug was pulled"
            )

    def _time_off(self, simulated: SimulatedBench, waited_s: float = 0.0) -> None:
        if not _closed(simulated):
            self.tally.slowest_off_s = max(self.tally.slowest_off_s, waited_s)
        elif waited_s < 1.0:
            asyncio.get_running_loop().call_later(
                0.0005, self._time_off, simulated, round(waited_s + 0.0005, 4)
            )

    def _all_off(self, simulated: SimulatedBench, when: str) -> None:
        if closed := _closed(simulated):
            self._broken(f"{', '.join(closed)} closed {OFF_WITHIN_S * 1000:g} ms {when}")

    def _look(self, stamped: Stamped, simulated: SimulatedBench) -> None:
        if not isinstance(stamped.event, UnitJudged):
            return
        verdict = stamped.event.verdict
        unit = simulated.world.nests["A"].unit
        assert unit is not None
        truth = Truth.about(unit, self.made)
        self.tally.verdicts[f"{'bad' if truth.defects else 'sound'} called {verdict}"] += 1
        if truth.defects and verdict is Verdict.GOOD:
            self._broken(f"called good, but {sorted(truth.defects)}")
        if not self.faults[stamped.serial] and verdict is Verdict.BAD:
            self._broken(f"a sound unit called bad: {stamped.event.words}")

    def _broken(self, what: str) -> None:
        self.tally.broken.append(f"{self}: {what}")


def _closed(simulated: SimulatedBench) -> list[str]:
    nests = simulated.world.nests.values()
    return [relay.name for nest in nests for relay in nest.relays.values() if relay.closed]


def study(disturbances: int, first_seed: int = 0) -> Tally:
    """One order a disturbance."""
    tally = Tally(disturbances)
    begin_s = time.monotonic()
    for seed in range(first_seed, first_seed + disturbances):
        order = Order(seed, tally)
        try:
            with asyncio.Runner(loop_factory=JumpingLoop) as runner:
                runner.run(order.run())
        except Exception as fault:
            tally.broken.append(f"{order}: {type(fault).__name__}: {fault}")
    tally.seconds = time.monotonic() - begin_s
    return tally
