"""Random settings and random units, and what is really wrong with each: read from the physics, not from its fault."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Literal

from hal.bench import Bench
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.faults import UnitFault, UnitFaultKind
from hal.simulated.kind import shipped_kinds
from hal.simulated.led import Ambient
from hal.simulated.truths import AirTruth, Light
from hal.simulated.unit import Unit
from rig.events import CheckDone, Stamped, UnitJudged, Verdict
from rig.planning.compile import make_plan
from rig.planning.refusal import PlanRefused
from sequences.words import SetPoint
from tests.rig.planned import TYPES, Job, job
from tests.rig.sequencer.floor import work_through
from wiring.terms import DetectionMode, OutputType

# How far an end of the zone may be off before it is surely wrong, and before it is no longer surely right.
# In between no plan tells: air moves the ends of a type that does not compensate, and they are not sharp.
_SURELY_WRONG, _DOUBTFUL = 0.05, 0.005
_OTHER_TYPE = {
    OutputType.PNP: OutputType.NPN,
    OutputType.NPN: OutputType.PNP,
    OutputType.PUSH_PULL: OutputType.PNP,
}
# May as well be the nest, the pick-up or the teach wire.
_BLAMED_ON_OTHERS = frozenset({"draws nothing", "LED dark", "another kind"})
# Nothing of what a unit with these does is wrong, or right, at every single reading.
_GREY = frozenset({UnitFaultKind.NOISY_ECHO})


@dataclass(frozen=True)
class Truth:
    """What is wrong with a unit, and what is neither surely wrong nor surely right."""

    defects: frozenset[str]
    doubts: frozenset[str]

    @classmethod
    def about(cls, unit: Unit, made: Job) -> Truth:
        """As it is now, in the present air."""
        defects = frozenset(defects_of(unit, made))
        return cls(defects, frozenset(_ends_off(unit, made, _DOUBTFUL)) - defects)


@dataclass(frozen=True)
class Drawn:
    """A unit, the verdict on it, and the truth."""

    made: Job
    faults: tuple[UnitFault, ...]
    verdict: Verdict
    reason: str
    words: str
    truth: Truth
    before: Truth

    @property
    def defects(self) -> frozenset[str]:
        return self.truth.defects

    @property
    def moved(self) -> bool:
        """Whether it was another unit, so to speak, when its first check was read."""
        return self.truth != self.before

    @property
    def bad_called_good(self) -> bool:
        return bool(self.defects) and not self.moved and self.verdict is Verdict.GOOD

    @property
    def sound_called_bad(self) -> bool:
        grey = self.truth.doubts or any(fault.kind in _GREY for fault in self.faults)
        return not self.defects and not self.moved and not grey and self.verdict is Verdict.BAD

    @property
    def sound(self) -> bool:
        return not self.faults

    def __str__(self) -> str:
        setting = self.made.setting
        points = {str(point): at_mm for point, at_mm in setting.set_points_mm.items()}
        faults = [fault.model_dump(exclude_none=True, mode="json") for fault in self.faults]
        return (
            f"{self.made.order.sensor_type} {setting.mode} {setting.output_function} {points} "
            f"+-{setting.tolerance_mm} {faults}: {self.verdict} {self.reason}: {self.words}; "
            f"really {sorted(self.defects)}, perhaps {sorted(self.truth.doubts)}"
        )


def defects_of(unit: Unit, made: Job) -> Iterator[str]:
    """What keeps a unit from being what the order asks for, as it is now and in the present air."""
    supply, setting = made.sensor_type.supply, made.setting
    # A unit whose output wire was doubted is judged after its supply was taken away.
    if unit.fed and unit.current_a < supply.no_load_current_min_a:
        yield "draws nothing"
    if unit.fed and unit.current_a > supply.no_load_current_max_a:
        yield "draws too much"
    if _looks_different(unit, made):
        yield "another kind"
    if unit.refuses:
        yield "refuses teaching"
    wrong_type = UnitFaultKind.WRONG_OUTPUT_TYPE in unit.faults
    own = _OTHER_TYPE[unit.kind.output_type] if wrong_type else unit.kind.output_type
    if own is not setting.output_type:
        yield "output type"
    if UnitFaultKind.LED_DARK in unit.faults:
        yield "LED dark"
    if (unit.memory.mode, unit.memory.function) != (setting.mode, setting.output_function):
        yield "set to something else"
    else:
        yield from _misplaced(unit, made)


def _looks_different(unit: Unit, made: Job) -> bool:
    # Two kinds that only differ in how they compensate for the air behave alike in the air of one bench.
    wanted = shipped_kinds()[made.order.sensor_type]
    same = {"name": wanted.name, "residual": wanted.residual, "output_type": wanted.output_type}
    return unit.kind.model_copy(update=same) != wanted


def _misplaced(unit: Unit, made: Job) -> Iterator[str]:
    yield from _ends_off(unit, made, _SURELY_WRONG)
    sensing, tolerance_mm = made.sensor_type.sensing, made.setting.tolerance_mm or 0.0
    for edge, outwards, point_mm in _edges(made):
        if point_mm is not None:
            limit_mm = point_mm + outwards * tolerance_mm
            beyond_mm = (unit.true_release_mm(edge) - limit_mm) * outwards
            if abs(unit.true_operate_mm(edge) - point_mm) > tolerance_mm:
                yield f"{edge} operate point"
            if beyond_mm > sensing.hysteresis_largest_mm(limit_mm):
                yield f"{edge} release point"


def _ends_off(unit: Unit, made: Job, share: float) -> Iterator[str]:
    """The ends of the sensing range that fall short of the data sheet by more than `share`."""
    sensing = made.sensor_type.sensing
    for edge, outwards, point_mm in _edges(made):
        if point_mm is None:
            end_mm = sensing.blind_zone_mm if edge == "near" else sensing.range_mm
            if (unit.true_operate_mm(edge) - end_mm) * outwards < -share * end_mm:
                yield f"{edge} end of the range"


def _edges(made: Job) -> tuple[tuple[Literal["near", "far"], int, float | None], ...]:
    """Both ends of the zone, which way is outwards, and the set point there; None where the range ends."""
    points_mm = made.setting.set_points_mm
    far_mm = points_mm.get(SetPoint.FAR, points_mm.get(SetPoint.ONLY))
    return (("near", -1, points_mm.get(SetPoint.NEAR)), ("far", 1, far_mm))


# -- drawing ----------------------------------------------------------------------------------------------------


def draw_job(draw: random.Random) -> Job:
    """Any setting that a type offers and the bench can prove."""
    while True:
        sensor_type = draw.choice(list(TYPES.values()))
        mode, function = draw.choice(sensor_type.offered)
        output_type = draw.choice(sensor_type.output.types)
        try:
            made = job(
                sensor_type.name,
                mode,
                function,
                output_type=output_type,
                **_distances_mm(draw, sensor_type.name, mode),
            )
            make_plan(made.order, made.sensor_type, made.rig)
        except (PlanRefused, ValueError):
            continue
        return made


def _distances_mm(draw: random.Random, name: str, mode: DetectionMode) -> dict[str, float]:
    sensing = TYPES[name].sensing
    first_mm, last_mm = sensing.blind_zone_mm, sensing.range_mm
    if mode is DetectionMode.FULL_RANGE:
        return {}
    points = sorted(round(draw.uniform(first_mm, last_mm), 1) for _ in range(2))
    finest_mm = 2 * (0.2 + points[1] * sensing.repeat_accuracy_percent / 200)
    tolerance_mm = round(finest_mm * draw.uniform(1.1, 5.0), 1)
    if mode is DetectionMode.SINGLE_POINT:
        return {"at_mm": points[1], "tolerance_mm": tolerance_mm}
    return {"near_mm": points[0], "far_mm": points[1], "tolerance_mm": tolerance_mm}


def draw_faults(draw: random.Random, made: Job) -> tuple[UnitFault, ...]:
    """Half of all units are sound."""
    if draw.random() < 0.5:
        return ()
    kind = draw.choice(list(UnitFaultKind))
    scale_mm = made.setting.tolerance_mm or made.sensor_type.sensing.range_mm / 20
    keys: dict[str, Any] = {}
    if kind is UnitFaultKind.OVER_CURRENT:
        keys["current_a"] = draw.uniform(0.06, 0.4)
    elif kind is UnitFaultKind.STORES_WRONGLY:
        keys = {"offset_mm": draw.uniform(-3, 3) * scale_mm} if draw.random() < 0.7 else {"inverse": True}
    elif kind is UnitFaultKind.DRIFTED:
        keys = {
            "offset_mm": draw.uniform(-3, 3) * scale_mm,
            "after_s": draw.choice([0.0, 0.0, draw.uniform(0, 12)]),
        }
    elif kind is UnitFaultKind.WIDE_HYSTERESIS:
        keys["percent"] = draw.uniform(1.5, 20.0)
    elif kind is UnitFaultKind.NOISY_ECHO:
        keys["factor"] = draw.uniform(1.5, 60.0)
    elif kind is UnitFaultKind.WRONG_KIND:
        keys["actual"] = draw.choice([name for name in TYPES if name != made.order.sensor_type])
    return (UnitFault(kind=kind, **keys),)


def draw_bench(draw: random.Random, rows: tuple[UnitRow, ...]) -> BenchFile:
    """Any air and any light that does not blind the pick-up."""
    air = AirTruth(
        temperature_c=draw.uniform(10, 35),
        humidity_percent=draw.uniform(20, 90),
        pressure_kpa=draw.uniform(90, 104),
    )
    light = Light(ambient=draw.choice(list(Ambient)), leaks=draw.random() < 0.5)
    return BenchFile(title="lottery", seed=draw.randrange(10**6), air=air, light=light, unit=rows)


def draw_shift(seed: int, units: int) -> list[Drawn]:
    """One order of random units on a random bench."""
    draw = random.Random(f"lottery/{seed}")
    made = draw_job(draw)
    faults = [draw_faults(draw, made) for _ in range(units)]
    bench = draw_bench(draw, tuple(UnitRow(faults=one) for one in faults))
    truths: list[Truth] = []
    first: dict[str, Truth] = {}

    def look(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
        unit = simulated.world.nests["A"].unit
        if isinstance(stamped.event, CheckDone | UnitJudged) and unit is not None:
            truth = Truth.about(unit, made)
            first.setdefault(stamped.serial, truth)
            if isinstance(stamped.event, UnitJudged):
                truths.append(truth)

    shift = work_through(made, furnished=bench, units=units, look=look)
    shift.assert_safe()
    assert shift.order.trip is None, shift.order.ended_by
    return [
        Drawn(
            made,
            fault,
            finding.verdict,
            str(finding.reason),
            finding.words,
            truth,
            first[serial],
        )
        for serial, finding, fault, truth in zip(
            shift.order.verdicts, shift.findings, faults, truths, strict=True
        )
    ]


@dataclass
class Tally:
    """Many units, counted."""

    drawn: list[Drawn] = field(default_factory=list)

    @property
    def doubted_share(self) -> float:
        """Share of sound units that were called undecided."""
        sound = [one for one in self.drawn if one.sound]
        return sum(one.verdict is Verdict.UNDECIDED for one in sound) / len(sound)

    @property
    def condemned_share(self) -> float:
        """Share called bad of the units whose defect no bench, harness or LED could be blamed for."""
        plain = [
            one for one in self.drawn if one.defects and not one.moved and not one.defects & _BLAMED_ON_OTHERS
        ]
        return sum(one.verdict is Verdict.BAD for one in plain) / len(plain)

    def __str__(self) -> str:
        counts = Counter(
            (("sound" if one.sound else one.faults[0].kind.value), str(one.verdict)) for one in self.drawn
        )
        lines = [f"{kind:18} {verdict:10} {count}" for (kind, verdict), count in sorted(counts.items())]
        moved = [one for one in self.drawn if one.moved]
        praised = sum(one.verdict is Verdict.GOOD for one in moved)
        lines.append(f"moved while checked: {len(moved)}, of them good: {praised}")
        lines.append(
            f"sound units undecided: {self.doubted_share:.2%} of {sum(one.sound for one in self.drawn)}"
        )
        return "\n".join(lines)
